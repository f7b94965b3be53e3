package backtest

import (
	"slices"
	"time"

	"tarebell/bot/internal/household"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// between is how long at least lies between two looks at a cylinder on a scale.
const between = 20 * time.Hour

// point is what was believed to be in the cylinder.
type point struct {
	seen time.Time  // the weighing that told
	told time.Time  // when it had been taken in
	gas  unit.Grams // net
}

// span is a fill as it went.
type span struct {
	cylinder string
	netFill  unit.Grams
	filled   time.Time
	points   []point
	dry      time.Time // when the household said so
	heel     unit.Grams
}

// watcher is the first pass.
type watcher struct {
	engine *household.Engine
	items  []*watched
}

// watched is a cylinder under way.
type watched struct {
	name    string
	netFill unit.Grams
	spans   []span
	next    time.Time // of the next look
}

func newWatcher(o household.Options) *watcher {
	w := &watcher{engine: household.New(o)}
	for _, c := range o.Cylinders {
		w.items = append(w.items, &watched{name: c.Name, netFill: c.Forecast.NetFill})
	}
	return w
}

func (w *watcher) feed(e record.Event) {
	w.engine.Apply(e)
	fromScale := e.Kind == record.Weighed && e.Origin == record.Scale
	for _, it := range w.items {
		if !fromScale || !e.At.Before(it.next) {
			it.sample(w.engine, e.At)
		}
		if e.Kind == record.RanDry && (e.Cylinder == it.name || e.Cylinder == "" && it == w.items[0]) {
			it.ranDry(e.At)
		}
	}
}

// sample records what the cylinder holds, if it was weighed since the last sample.
func (it *watched) sample(e *household.Engine, now time.Time) {
	l, ok := e.Level(it.name, now)
	if !ok || l.Seen.Before(l.Filled) {
		return
	}
	if n := len(it.spans); n == 0 || !it.spans[n-1].filled.Equal(l.Filled) {
		it.spans = append(it.spans, span{cylinder: it.name, netFill: it.netFill, filled: l.Filled})
	}
	s := &it.spans[len(it.spans)-1]
	s.heel = l.Heel
	if n := len(s.points); s.dry.IsZero() && (n == 0 || l.Seen.After(s.points[n-1].seen)) {
		s.points = append(s.points, point{l.Seen, now, unit.Grams(l.Gas.Mean)})
		it.next = now.Add(between)
	}
}

func (it *watched) ranDry(at time.Time) {
	if n := len(it.spans); n > 0 && it.spans[n-1].dry.IsZero() {
		s := &it.spans[n-1]
		s.dry = at
		s.points = slices.DeleteFunc(s.points, func(p point) bool { return !p.told.Before(at) }) // they know it already
	}
}

// result is the fills that can be judged, by time, and what to ask of them.
func (w *watcher) result() (r Result, asks []ask) {
	var spans []span
	for _, it := range w.items {
		spans = append(spans, it.spans...)
	}
	slices.SortStableFunc(spans, func(a, b span) int { return a.filled.Compare(b.filled) })
	for i := range spans {
		f, ok := spans[i].fill()
		if !ok {
			r.Short++
			continue
		}
		asks = append(asks, spans[i].asks(len(r.Fills), f)...)
		r.Fills = append(r.Fills, f)
	}
	slices.SortStableFunc(asks, func(a, b ask) int { return a.at.Compare(b.at) })
	return r, asks
}

// fill says how far the gas fell and when. ok is false for one of which too little is gone.
func (s *span) fill() (f Fill, ok bool) {
	if len(s.points) < 2 {
		return f, false
	}
	first, last := s.points[0], s.points[len(s.points)-1]
	f = Fill{Cylinder: s.cylinder, From: first.seen, Start: first.gas, RanDry: !s.dry.IsZero()}
	if f.RanDry {
		f.Level, f.Until = s.heel, s.dry
	} else {
		// a little above the last, so that a scale that wanders about a level at which nobody draws does not decide
		f.Level = last.gas + max(0.02*(first.gas-last.gas), 30)
		f.Until = s.crossing(f.Level)
	}
	return f, f.Used() >= leastUsed*s.netFill && unit.Between(f.From, f.Until) >= leastDays
}

// crossing is when the gas first fell to level, straight between two looks.
func (s *span) crossing(level unit.Grams) time.Time {
	for i, p := range s.points {
		if p.gas > level {
			continue
		}
		if i == 0 {
			return p.seen
		}
		before := s.points[i-1]
		part := float64((before.gas - level) / (before.gas - p.gas))
		return before.seen.Add(time.Duration(part * float64(p.seen.Sub(before.seen))))
	}
	return time.Time{}
}

// asks are the moments at which so much of the way was still to go.
func (s *span) asks(fill int, f Fill) (out []ask) {
	for _, stage := range Stages {
		gas := f.Level + unit.Grams(stage)*f.Used()
		i := slices.IndexFunc(s.points, func(p point) bool { return p.gas <= gas })
		if i < 0 || len(out) > 0 && out[len(out)-1].at.Equal(s.points[i].told) {
			continue // weighed too seldom for this one
		}
		out = append(out, ask{fill, stage, s.points[i].told})
	}
	return out
}
