package trial

import (
	"math"
	"time"

	"tarebell/bot/internal/household"
	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// told is a forecast of the days to the run-out, and what came.
type told struct {
	minute int
	q      [7]float64 // days
	maker  float64    // days by the maker's arithmetic; NaN unknown
	known  bool
	days   float64 // that it took
}

// longest is where quantiles are cut, days.
const longest = 1500

// Score is what was said about the life of one cylinder, and what came. Nobody acts on what is said.
type Score struct {
	Home    *Home
	RunOut  int     // minute; never: the gas did not end in the days given
	Checks  []told  // when 0.8, 0.6, 0.4, 0.25, 0.15 and 0.08 of the gas were left
	First   []told  // on days 1 to 21
	Guessed []told  // the same for a household that told its own guess of its use
	Booked  int     // first reminder to book; never
	Alarms  []alarm // possible leaks told
	Posts   map[string]int
	Polls   int // readings beyond the regular ones
}

// alarm is a possible leak that was told.
type alarm struct {
	minute float64
	danger bool
}

// scorer follows one cylinder.
type scorer struct {
	Score
	s       *state
	engine  *household.Engine
	guesser *household.Engine // nil after three weeks
	fracs   []float64
	first   float64 // g, first weight; NaN none yet
	firstAt int
	last    float64
	lastAt  int
}

// firstWeeks is how long the forecasts of a new household are judged by themselves, days.
const firstWeeks = 21

// Follow lets the gas of one cylinder come to its end and takes down what the engine says. guessSD is how far off the household's
// own guess of its use is, sd of the logarithm.
func Follow(h *Home, guessSD float64) (Score, error) {
	o, err := h.Options()
	if err != nil {
		return Score{}, err
	}
	c := &scorer{Score: Score{Home: h, RunOut: never, Booked: never, Posts: map[string]int{}}, s: newState(h),
		engine: household.New(o), fracs: []float64{0.8, 0.6, 0.4, 0.25, 0.15, 0.08}, first: math.NaN()}
	end := newState(h)
	for end.minute < h.end && end.firstDry == never {
		end.tick(h)
	}
	c.RunOut = end.firstDry
	if c.RunOut == never {
		return c.Score, nil
	}
	r := newRNG(h.Seed, guessStream)
	use := (h.first - h.heel) / float64(c.RunOut) * day
	o.Cylinders[0].Forecast.UsePrior = unit.GramsPerDay(use * math.Exp(guessSD*r.NormFloat64()))
	c.guesser = household.New(o)
	filled := record.Event{At: start, Cylinder: "main", Kind: record.Filled, Net: unit.Grams(h.net)}
	c.hear(c.engine.Apply(filled))
	c.guesser.Apply(filled)
	for c.s.minute < c.RunOut {
		c.step()
	}
	c.Polls = c.s.polls
	return c.Score, nil
}

func (c *scorer) step() {
	t := c.s.minute
	c.s.tick(c.Home)
	if t%day == 0 && t > 0 {
		c.judge(t)
	}
	c.s.weigh(c.Home, t, func() forecast.Pace { return c.engine.Pace("main") }, func(w record.Event) {
		c.last, c.lastAt = float64(w.Gross), t
		if math.IsNaN(c.first) {
			c.first, c.firstAt = c.last, t
		}
		c.hear(c.engine.Apply(w))
		if c.guesser != nil {
			c.guesser.Apply(w)
		}
	})
	next := when(float64(t + step)).Add(-time.Nanosecond)
	c.hear(c.engine.Advance(next))
	if c.guesser != nil {
		c.guesser.Advance(next)
	}
}

// judge takes down the forecasts of the start of a day.
func (c *scorer) judge(t int) {
	var now told
	for len(c.fracs) > 0 && c.s.gas-c.Home.heel <= c.fracs[0]*(c.Home.first-c.Home.heel) {
		c.fracs = c.fracs[1:]
		if now.minute == 0 {
			now = c.forecast(c.engine, t)
		}
		c.Checks = append(c.Checks, now)
	}
	if t > firstWeeks*day {
		c.guesser = nil
		return
	}
	c.First = append(c.First, c.forecast(c.engine, t))
	c.Guessed = append(c.Guessed, c.forecast(c.guesser, t))
}

func (c *scorer) forecast(e *household.Engine, t int) told {
	f := told{minute: t, days: float64(c.RunOut-t) / day, maker: c.byMaker()}
	s, _ := e.Situation("main", when(float64(t)))
	if f.known = s.Outlook.RunOut.Known(); f.known {
		for i, p := range probabilities {
			f.q[i] = min(float64(s.Outlook.RunOut.Quantile(p)), longest)
		}
	}
	return f
}

// byMaker is gas left over mean use since the fill, days.
func (c *scorer) byMaker() float64 {
	house := c.Home.tare + c.Home.fit
	days := float64(c.lastAt-c.firstAt) / day
	if !(days >= 0.5 && c.first > c.last) {
		return math.NaN()
	}
	return min(longest, max(c.last-house, 0)*days/(c.first-c.last))
}

func (c *scorer) hear(said []notice.Notice) {
	for _, n := range said {
		if n.Follows != "" {
			continue
		}
		c.Posts[string(n.Kind)]++
		switch m := minuteOf(n.At); {
		case n.Kind == notice.RefillDue && c.Booked == never:
			c.Booked = int(m)
		case n.Kind == notice.PossibleLeak:
			c.Alarms = append(c.Alarms, alarm{m, n.Severity == notice.Danger})
		}
	}
}
