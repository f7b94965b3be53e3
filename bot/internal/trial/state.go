package trial

import (
	"slices"

	"tarebell/forecast"
)

// never is the minute of what does not happen.
const never = -1

// Fate is how a loss ended.
type Fate string

// The fates.
const (
	Told   Fate = "told"   // somebody was told and stopped it
	Chance Fate = "chance" // the next who drew shut the valve
	Refill Fate = "refill" // found when the cylinder was changed
	Open   Fate = "open"   // it went on to the end
)

// Loss is gas that escaped.
type Loss struct {
	leak
	lost float64 // g
	end  int
	fate Fate
	told int // when the household was first told; never
	fill int // how many refills it has seen begin
}

// state is all that the future depends on but for what people will do. A copy of it can be walked ahead.
type state struct {
	minute   int
	gas      float64 // g
	drawn    float64 // g, all of them
	lost     float64
	returned float64 // left over at refills
	filled   float64
	nextDraw int
	nextLeak int
	nextRead int
	open     []Loss
	extra    []int // further moments at which somebody will type a weight
	fills    int   // refills so far
	fillAt   int   // the next one; never: none is on its way
	fillNet  float64
	lastFill int
	drySince int
	dry      int // minutes
	spells   int
	missed   int
	over     []Loss
	firstDry int // when the gas first reached the heel
}

func newState(h *Home) state {
	return state{gas: h.first, filled: h.first, fillAt: never, drySince: never, firstDry: never}
}

func (s *state) clone() state {
	c := *s
	c.open, c.extra, c.over = slices.Clone(s.open), slices.Clone(s.extra), nil
	return c
}

// away is whether the cylinder is being changed, which takes two hours.
func (s *state) away(t int) bool { return s.fillAt != never && s.fillAt-120 <= t && t < s.fillAt }

// tick lives through one step.
func (s *state) tick(h *Home) {
	t := s.minute
	s.draw(h, t)
	for s.nextLeak < len(h.leaks) && h.leaks[s.nextLeak].start <= t {
		if s.gas > h.heel+0.02*h.net {
			s.open = append(s.open, Loss{leak: h.leaks[s.nextLeak], told: never, fill: never})
		}
		s.nextLeak++
	}
	for i := range s.open {
		l := &s.open[i]
		if h.Single && l.hours > 0 && float64(t-l.start) >= l.hours*60 {
			continue
		}
		g := min(l.rate*step/60, s.gas)
		s.gas -= g
		s.lost += g
		l.lost += g
	}
	if s.gas <= h.heel+h.serving && s.drySince == never {
		s.drySince = t
		s.spells++
	}
	if s.drySince != never {
		s.dry += step
	}
	if s.firstDry == never && s.gas <= h.heel {
		s.firstDry = t
	}
	if s.fillAt == t {
		s.refill(t)
	}
	s.minute += step
}

// draw lets people draw what they want, if it is there. One cylinder's life goes on to the last gram above the heel.
func (s *state) draw(h *Home, t int) {
	for ; s.nextDraw < len(h.draws) && h.draws[s.nextDraw].minute <= t; s.nextDraw++ {
		g := h.draws[s.nextDraw].grams
		if h.Single {
			g = min(g, max(0, s.gas-h.heel))
		}
		if s.away(t) || s.gas-g < h.heel-1e-9 {
			s.missed++
		} else {
			s.gas -= g
			s.drawn += g
		}
		s.end(t, Chance, func(l Loss) bool { return !h.Single && l.kind == "valve" && float64(t-l.start) > l.hours*60 })
	}
}

// end ends the losses that are meant.
func (s *state) end(t int, how Fate, meant func(Loss) bool) {
	s.open = slices.DeleteFunc(s.open, func(l Loss) bool {
		if !meant(l) {
			return false
		}
		l.end, l.fate = t, how
		s.over = append(s.over, l)
		return true
	})
}

// refill puts a full cylinder there. Who carries it finds what is big at once, what is small at the second time.
func (s *state) refill(t int) {
	s.returned += s.gas
	s.filled += s.fillNet
	s.gas, s.drySince, s.fillAt, s.lastFill = s.fillNet, never, never, t
	s.fills++
	s.end(t, Refill, func(l Loss) bool {
		return l.fill != never && s.fills > l.fill || l.kind == "violent" || l.kind == "medium"
	})
	for i := range s.open {
		if s.open[i].fill == never {
			s.open[i].fill = s.fills
		}
	}
}

// reading is what is weighed at the minute before which all has happened; several due at once are one.
func (s *state) reading(h *Home, t int) (forecast.Weighing, bool) {
	due := false
	for ; s.nextRead < len(h.scale.times) && h.scale.times[s.nextRead] <= t; s.nextRead++ {
		due = true
	}
	for len(s.extra) > 0 && s.extra[0] <= t {
		s.extra, due = s.extra[1:], true
	}
	if !due || h.typed && s.away(t) {
		return forecast.Weighing{}, false
	}
	return h.scale.read(h, t, s.gas, s.away(t), t-s.lastFill, 0)
}
