package trial

import (
	"math"
	"slices"
	"testing"

	"tarebell/bot/internal/notice"
	"tarebell/forecast/unit/record"
)

// someone is a dweller with nothing to do, at noon of a day.
func someone(t *testing.T, family Family) *dweller {
	d := newDweller(home(t, "plain", Spec{Seed: 2, Family: family, Days: 400}), Engine, 0, deaf{}, nil)
	d.events = nil
	d.s.minute = 20*day + 360
	return d
}

// expects fails if the mean of values is off by more than four of its standard errors, or they do not fill the bounds, but for 6 %.
func expects(t *testing.T, what string, values []float64, want, sd, lo, hi float64) {
	t.Helper()
	if a, b := slices.Min(values), slices.Max(values); a < lo || b > hi || math.Max(a-lo, hi-b) > 0.06*(hi-lo) {
		t.Errorf("%s: from %.4g to %.4g, want %g to %g", what, a, b, lo, hi)
	}
	near(t, what, values, want, sd)
}

func near(t *testing.T, what string, values []float64, want, sd float64) {
	t.Helper()
	if m := mean(values); math.Abs(m-want) > 4*sd/math.Sqrt(float64(len(values))) {
		t.Errorf("%s: mean %.4g, want %.4g", what, m, want)
	}
}

// delays are how many minutes after act people tell of something, 2,000 times.
func delays(t *testing.T, family Family, kind record.Kind, act func(d *dweller)) (out []float64) {
	d := someone(t, family)
	for range 2000 {
		d.events, d.s.fillAt, d.s.extra = nil, never, nil
		act(d)
		for _, e := range d.events {
			if e.Kind == kind {
				out = append(out, minuteOf(e.At)-float64(d.s.minute))
			}
		}
	}
	return out
}

// Delays follow their laws: exponential with a mean of a day and cut at four, so that the mean is 1-exp(-4); the others uniform.
func TestDelays(t *testing.T) {
	cut := 1 - math.Exp(-4)
	booked := delays(t, Auto, record.Booked, func(d *dweller) {
		d.notice(notice.Notice{Kind: notice.RefillDue}, float64(d.s.minute))
	})
	expects(t, "days from a reminder to a booking", scaled(booked, 1./day), cut, 1, 0, 4)
	again := delays(t, Auto, record.Booked, func(d *dweller) {
		d.notice(notice.Notice{Kind: notice.RefillDue, Follows: "x"}, float64(d.s.minute))
	})
	expects(t, "days from the question whether it came to a booking", scaled(again, 1./day), cut, 1, 0, 4)
	dry := delays(t, Auto, record.Booked, func(d *dweller) { d.book(float64(d.s.minute), true) })
	expects(t, "minutes from dry to a booking", dry, 305, 170, 9, 600)
	used := delays(t, Auto, record.Answer, func(d *dweller) {
		d.notice(notice.Notice{Kind: notice.PossibleLeak}, float64(d.s.minute))
	})
	expects(t, "minutes to an answer", used, 152.5, 85, 4, 300)
	if n := float64(len(used)) / 2000; math.Abs(n-0.7) > 0.04 {
		t.Errorf("%.3f of false alarms answered, want 0.7", n)
	}
}

func scaled(xs []float64, by float64) []float64 {
	for i := range xs {
		xs[i] *= by
	}
	return xs
}

// A refill comes at eleven, on the supplier's day or up to two later, one earlier.
func TestRefillComes(t *testing.T) {
	d := someone(t, Auto)
	days := map[int]int{}
	for range 1000 {
		d.s.fillAt, d.events = never, nil
		d.book(float64(d.s.minute), false)
		booked := minuteOf(d.events[0].At)
		if d.s.fillAt%day != 300 || float64(d.s.fillAt) < booked+120 {
			t.Fatalf("booked at %g, comes at %d", booked, d.s.fillAt)
		}
		days[d.s.fillAt/day-int(booked)/day-d.lead]++
	}
	if days[0] < 650 || days[1] < 80 || days[2] < 80 || len(days) > 4 {
		t.Errorf("days beyond the lead of %d: %v", d.lead, days)
	}
}

// Who is told of a loss stops it within two hours if it is a danger, else within a day.
func TestMends(t *testing.T) {
	for _, c := range []struct {
		how      notice.Severity
		lo, hi   float64
		mean, sd float64
	}{{notice.Danger, 10, 125, 67.5, 32}, {notice.Warning, 60, day + 5, 752.5, 400}} {
		var waits []float64
		for d := someone(t, Auto); len(waits) < 300; {
			d.mendAt, d.s.open = never, []Loss{{leak: leak{kind: "slow", rate: 1, start: 1}, told: never, fill: never}}
			d.notice(notice.Notice{Kind: notice.PossibleLeak, Severity: c.how}, float64(d.s.minute))
			waits = append(waits, float64(d.mendAt-d.s.minute))
			if d.False != 0 || d.s.open[0].told != d.s.minute {
				t.Fatal("a loss that goes on was taken for none")
			}
		}
		expects(t, "minutes to stop a loss", waits, c.mean, c.sd, c.lo, c.hi)
	}
}

// Typed: most weigh when asked, within two days.
func TestWeighsWhenAsked(t *testing.T) {
	for kind, want := range map[notice.Kind]float64{"weigh-due": 0.85, notice.OddReading: 0.7} {
		d, n := someone(t, Typed), 0
		for range 2000 {
			d.s.extra = nil
			d.notice(notice.Notice{Kind: kind}, float64(d.s.minute))
			for _, m := range d.s.extra {
				n++
				if m < d.s.minute+30 || m > d.s.minute+2880 {
					t.Fatalf("%s: weighs %d minutes later", kind, m-d.s.minute)
				}
			}
		}
		if share := float64(n) / 2000; math.Abs(share-want) > 0.04 {
			t.Errorf("%s: %.3f weigh, want %.2f", kind, share, want)
		}
	}
}
