package trial

import (
	"slices"
	"time"

	"tarebell/forecast"
	"tarebell/forecast/unit/record"
)

// never is the minute of what does not happen.
const never = -1

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
	polls    int // readings beyond the regular ones
}

func newState(h *Home) *state {
	return &state{gas: h.first, filled: h.first, fillAt: never, drySince: never, firstDry: never}
}

func (s *state) clone() *state {
	c := *s
	c.open, c.extra, c.over = slices.Clone(s.open), slices.Clone(s.extra), nil
	return &c
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
func (s *state) reading(h *Home, t int) (record.Event, bool) {
	due := false
	for ; s.nextRead < len(h.scale.times) && h.scale.times[s.nextRead] <= t; s.nextRead++ {
		due = true
	}
	for len(s.extra) > 0 && s.extra[0] <= t {
		s.extra, due = s.extra[1:], true
	}
	if !due || h.typed && s.away(t) {
		return record.Event{}, false
	}
	return s.read(h, t, 0)
}

func (s *state) read(h *Home, t, again int) (record.Event, bool) {
	w, ok := h.scale.read(h, t, s.gas, s.away(t), t-s.lastFill, again)
	w.At = w.At.Add(time.Duration(again) * 12 * time.Second)
	return w, ok
}

// weigh is all that is read at t, passed on to hear: once if it is time, and more often if the engine asks for it, pace being how soon.
func (s *state) weigh(h *Home, t int, pace func() forecast.Pace, hear func(record.Event)) {
	w, ok := s.reading(h, t)
	if !ok && h.Again && !h.typed && pace() != forecast.Usual {
		if w, ok = s.read(h, t, 0); ok {
			s.polls++
		}
	}
	if !ok {
		return
	}
	hear(w)
	for again := 1; again <= 4 && h.Again && !h.typed && pace() == forecast.AtOnce; again++ {
		w, _ = s.read(h, t, again)
		s.polls++
		hear(w)
	}
}
