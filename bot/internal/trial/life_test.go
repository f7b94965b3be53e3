package trial

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"tarebell/bot/internal/household"
	"tarebell/bot/internal/notice"
	"tarebell/bot/internal/replay"
	"tarebell/forecast"
	"tarebell/forecast/unit/record"
)

func home(t *testing.T, law string, s Spec) *Home {
	t.Helper()
	l, err := LawNamed(law)
	if err != nil {
		t.Fatal(err)
	}
	s.Law, s.Series = l, [][]float64{{0.2, 1.7, 0.5, 1.6}}
	return NewHome(s)
}

// recorder takes down what a household tells the engine, and what it answers.
type recorder struct {
	*household.Engine
	told []record.Event
	said []notice.Notice
}

func (r *recorder) Apply(e record.Event) []notice.Notice {
	r.told = append(r.told, e)
	return r.hear(r.Engine.Apply(e))
}

func (r *recorder) Advance(now time.Time) []notice.Notice { return r.hear(r.Engine.Advance(now)) }

func (r *recorder) hear(said []notice.Notice) []notice.Notice {
	r.said = append(r.said, said...)
	return said
}

// recorded lets a household live; what it tells must be in order of time, events first.
func recorded(t *testing.T, h *Home) (*recorder, Life) {
	t.Helper()
	o, err := h.Options()
	if err != nil {
		t.Fatal(err)
	}
	r := &recorder{Engine: household.New(o)}
	l := newDweller(h, Engine, 0, r, nil).live()
	var last time.Time
	for _, e := range r.told {
		now := e.At
		if e.Kind == record.Weighed {
			now = now.Add(1) // an event of the same time comes before
		}
		if now.Before(last) {
			t.Fatalf("%v is told after %v", now, last)
		}
		last = now
	}
	return r, l
}

// The engine that people live with says what the program says that replays what they weighed and told.
func TestSameAsReplay(t *testing.T) {
	if testing.Short() {
		t.Skip("lives half a year twice")
	}
	for family, days := range map[Family]int{Auto: 45, Typed: 120} {
		h := home(t, "plain", Spec{Seed: 7, Family: family, Days: days, Losses: true, Again: true})
		r, _ := recorded(t, h)
		o, _ := h.Options()
		var out bytes.Buffer
		told := func(yield func(record.Event, error) bool) {
			for _, e := range r.told {
				if !yield(e, nil) {
					return
				}
			}
		}
		if err := replay.Run(t.Context(), o, told, &out); err != nil {
			t.Fatal(err)
		}
		var want, got []string
		end := start
		if last := r.told[len(r.told)-1]; last.Kind == record.Weighed {
			end = last.At
		}
		for line := range strings.Lines(out.String()) {
			var n struct{ Record, At, Kind, Text string }
			if err := json.Unmarshal([]byte(line), &n); err != nil {
				t.Fatal(err)
			}
			if at, _ := time.Parse(time.RFC3339, n.At); n.Record != "forecast" && !at.After(end) {
				want = append(want, n.Kind+" "+n.Text)
			}
		}
		for _, n := range r.said {
			if !n.At.After(end) {
				got = append(got, string(n.Kind)+" "+n.Text())
			}
		}
		if len(want) < days/7 {
			t.Fatalf("%s: %d notices in %d days", family, len(want), days)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s: replay, and people:\n%s", family, diff)
		}
	}
}

func TestSameSeedSameLife(t *testing.T) {
	spec := Spec{Seed: 5, Family: Careless, Days: 100, Losses: true}
	live := func(s Spec) Life {
		l, err := Live(home(t, "students", s), Engine, 0, nil)
		if err != nil {
			t.Fatal(err)
		}
		l.Home = nil
		return l
	}
	all := cmp.AllowUnexported(Life{}, Loss{}, leak{})
	if diff := cmp.Diff(live(spec), live(spec), all); diff != "" {
		t.Errorf("two lives of one seed:\n%s", diff)
	}
	other := spec
	other.Seed++
	if cmp.Equal(live(spec), live(other), all) {
		t.Error("another seed lived the same life")
	}
}

// Every law gives about the use it says, and no gas comes from nowhere: what was filled was drawn, escaped, went back or is there.
func TestMassBalance(t *testing.T) {
	for _, law := range Laws {
		var drawn, lost, asked float64
		for seed := range uint64(4) {
			h := home(t, law.Name, Spec{Seed: seed, Family: Auto, Days: 400, Losses: true})
			d := newDweller(h, Maker, 5, nil, nil)
			for d.s.minute < h.end {
				d.step()
				if s := d.s; s.gas < 0 || math.Abs(s.filled-s.drawn-s.lost-s.returned-s.gas) > 1e-6*s.filled {
					t.Fatalf("%s, seed %d, minute %d: filled %g, drawn %g, lost %g, returned %g, left %g", law.Name, seed, s.minute, s.filled, s.drawn, s.lost, s.returned, s.gas)
				}
			}
			lost += d.s.lost
			for _, w := range h.draws {
				drawn += w.grams
			}
			asked += h.rate * float64(h.Days)
		}
		// Wandering, parties, absences and lasting changes move six households by tens of percent.
		if k := drawn / asked; k < 0.55 || k > 1.8 || lost == 0 {
			t.Errorf("%s: use is %.2f of what the law says, %.0f g lost", law.Name, k, lost)
		}
	}
}

// Who knows the day runs dry less often than who divides, at the same margin. When the refill comes, the margin is left but for the
// wait of 1-exp(-4) days; suppliers' days and coming at eleven cancel within a tenth of a day.
func TestTruthBeatsMaker(t *testing.T) {
	const margin = 5
	var truth, maker []Life
	var left []float64
	for seed := range uint64(12) {
		h := home(t, "plain", Spec{Seed: seed, Family: Auto, Days: 730})
		maker = append(maker, newDweller(h, Maker, margin, nil, nil).live())
		d := newDweller(h, Truth, margin, nil, nil)
		for d.s.minute < h.end {
			before := d.s.fillAt
			d.step()
			if before != never || d.s.fillAt == never {
				continue
			}
			ahead := d.s.clone()
			for ahead.fillAt = never; ahead.minute < h.end && ahead.drySince == never; {
				ahead.tick(h)
			}
			if ahead.drySince != never {
				left = append(left, float64(ahead.drySince-d.s.fillAt)/day)
			}
		}
		truth = append(truth, d.live())
	}
	a, b := value(t, Years(truth), "dry_spells"), value(t, Years(maker), "dry_spells")
	if a >= b/2 || a > 0.05 {
		t.Errorf("dry spells a refill: truth %.3f, maker %.3f", a, b)
	}
	near(t, "days left when the refill comes", left, margin-(1-math.Exp(-4)), 1.7)
}

func value(t *testing.T, all []Figure, name string) float64 {
	t.Helper()
	for _, f := range all {
		if f.Name == name {
			return f.Value
		}
	}
	t.Fatalf("no figure %s in %v", name, all)
	return 0
}

// A scale is read again when the engine asks for it, never when nobody does.
func TestReadAgain(t *testing.T) {
	spec := Spec{Seed: 3, Family: Trouble, Days: 60}
	for _, again := range []bool{false, true} {
		spec.Again = again
		h := home(t, "plain", spec)
		r, l := recorded(t, h)
		readings, regular := 0, 0
		for _, in := range r.told {
			if in.Kind == record.Weighed {
				readings++
			}
		}
		for _, m := range h.scale.times {
			if gap, _ := at(h.scale.gaps, m); gap.to == 0 {
				regular++
			}
		}
		if again != (l.Polls > 0) || math.Abs(float64(readings-l.Polls-regular)) > 0.02*float64(regular) {
			t.Errorf("again %v: %d readings, %d beyond %d regular ones", again, readings, l.Polls, regular)
		}
	}
}

// deaf is an engine that says nothing.
type deaf struct{}

func (deaf) Apply(record.Event) []notice.Notice { return nil }
func (deaf) Advance(time.Time) []notice.Notice  { return nil }
func (deaf) Pace(string) forecast.Pace          { return forecast.Usual }
