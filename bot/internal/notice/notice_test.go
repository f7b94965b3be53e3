package notice

import (
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"tarebell/forecast"
	"tarebell/forecast/refill"
	"tarebell/forecast/room"
	"tarebell/forecast/runout"
	"tarebell/forecast/unit"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// spreadOf makes a distribution with the given middle and a spread of a quarter of it on either side.
func spreadOf(mid float64) runout.Distribution {
	draws := make([]unit.Days, 99)
	for i := range draws {
		draws[i] = unit.Days(mid * (0.75 + 0.5*float64(i)/98))
	}
	return runout.FromDraws(draws)
}

func zone(t *testing.T, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

// situation is a rowing club's cylinder in the middle of its life, on a Sunday evening.
func situation(now time.Time, gas, days float64) Situation {
	return Situation{
		Place: Place{Cylinder: "boathouse", Now: now},
		Content: Content{Outlook: forecast.Outlook{At: now, Known: true, Learned: true, LastSeen: now.Add(-4 * time.Minute),
			Gas: forecast.Normal{Mean: gas, SD: 60}, Use: forecast.Normal{Mean: 52, SD: 6}, Heel: 124, DryMass: 2590,
			RunOut: spreadOf(days), LiquidDry: spreadOf(days - 45)}, GramsPerLitre: 7.1, GrossFull: 24_300, GrossEmpty: 14_300},
		Refill: Refill{Plan: refill.Plan{BookBy: now.AddDate(0, 0, int(0.7*days))}, LeadDays: 3},
		Lately: Lately{Week: unit.Grams(math.NaN()), WeekPrev: unit.Grams(math.NaN())},
	}
}

// first is a household whose only weight so far is not believed.
func first(now time.Time, gross unit.Grams) Situation {
	return Situation{Place: Place{Cylinder: "main", Now: now},
		Content: Content{House: 15_400, GrossEmpty: 14_300, GrossFull: 24_300, Doubted: Reading{At: now.Add(-5 * time.Minute), Gross: gross}}}
}

func TestGolden(t *testing.T) {
	now := time.Date(2027, 5, 16, 16, 0, 0, 0, time.UTC)
	kitchen, err := room.New(38_000, 0.5)
	if err != nil {
		t.Fatal(err)
	}
	abrupt := forecast.Finding{Kind: forecast.AbruptLoss, At: now, Since: now.Add(-100 * time.Minute), Mass: 252, MassSD: 14, Rate: 151, RateSD: 12}
	slow := forecast.Finding{Kind: forecast.SlowLoss, At: now, Since: now.AddDate(0, 0, -6), Mass: 346, MassSD: 60, Rate: 2.4, RateSD: 0.4}
	with := func(s Situation, f func(*Situation)) Situation { f(&s); return s }
	cases := map[string]func(v Voice) Notice{
		"status": func(v Voice) Notice { return v.Status(situation(now, 3520, 65)) },
		"status-early": func(v Voice) Notice {
			return v.Status(with(situation(now, 9800, 65), func(s *Situation) { s.Outlook.Learned = false }))
		},
		"status-guess": func(v Voice) Notice {
			return v.Status(with(situation(now, 9800, 220), func(s *Situation) {
				s.Outlook.Learned, s.Guess = false, true
				s.Outlook.LastSeen = now
			}))
		},
		"status-losing": func(v Voice) Notice {
			return v.Status(with(situation(now, 3520, 65), func(s *Situation) {
				s.Losses = []Lost{{From: now.AddDate(0, 0, -40), To: now.AddDate(0, 0, -39), Mass: 90}, {From: now.AddDate(0, 0, -6), To: now, Mass: 350}}
			}))
		},
		"status-record-week": func(v Voice) Notice {
			return v.Status(with(situation(now, 3520, 65), func(s *Situation) { s.Week, s.WeekPrev, s.WeekMost = 710, 350, 400 }))
		},
		"status-guess-weighed": func(v Voice) Notice {
			return v.Status(with(situation(now, 9800, 220), func(s *Situation) {
				s.Outlook.Learned, s.Guess = false, true
				s.Outlook.Watched, s.Outlook.LastSeen = 3, now
			}))
		},
		"status-span": func(v Voice) Notice {
			return v.Status(with(situation(now, 1900, 140), func(s *Situation) { s.Outlook.Learned, s.Outlook.Watched = false, 200 }))
		},
		"status-dry": func(v Voice) Notice { // the last weight still showed some gas
			return v.Status(with(situation(now, 300, 6), func(s *Situation) { s.Dry, s.Booked = now.Add(-26*time.Hour), now.AddDate(0, 0, 2) }))
		},
		"status-residue":        func(v Voice) Notice { return v.Status(situation(now, 127, 0.1)) },
		"status-unknown":        func(v Voice) Notice { return v.Status(Situation{Place: Place{Cylinder: "boathouse", Now: now}}) },
		"status-empty-platform": func(v Voice) Notice { return v.Status(first(now, 40)) },
		"status-light":          func(v Voice) Notice { return v.Status(first(now, 9_000)) },
		"status-pounds":         func(v Voice) Notice { return v.Status(first(now, 54_200)) },
		"status-kilograms":      func(v Voice) Notice { return v.Status(first(now, 11_160)) },
		"status-heavy":          func(v Voice) Notice { return v.Status(first(now, 71_000)) },
		"status-changed": func(v Voice) Notice {
			return v.Status(with(situation(now, 3520, 65), func(s *Situation) { s.Week, s.WeekPrev = 610, 350 }))
		},
		"status-low":   func(v Voice) Notice { return v.Status(situation(now, 900, 14)) },
		"status-years": func(v Voice) Notice { return v.Status(situation(now, 22_000, 2900)) },
		"status-silent": func(v Voice) Notice {
			return v.Status(with(situation(now, 3520, 65), func(s *Situation) { s.Silent = now.AddDate(0, 0, -3) }))
		},
		"refill": func(v Voice) Notice {
			return v.Refill(with(situation(now, 640, 11), func(s *Situation) { s.BookBy = now }), 0)
		},
		"refill-closed": func(v Voice) Notice {
			return v.Refill(with(situation(now, 640, 11), func(s *Situation) { s.BookBy = now.AddDate(0, 0, 1) }), 0)
		},
		"refill-again": func(v Voice) Notice {
			return v.Refill(with(situation(now, 420, 7), func(s *Situation) { s.Carrier = "Ines" }), 2)
		},
		"refill-empty": func(v Voice) Notice { return v.Refill(situation(now, 100, 0.1), 3) },
		"leak-abrupt": func(v Voice) Notice {
			return v.Leak(situation(now, 3520, 65).Place, Loss{Finding: abrupt, Danger: true, Room: kitchen, RunOut: now.Add(23 * time.Hour), Money: "1.06 EUR"})
		},
		"leak-violent": func(v Voice) Notice {
			f := abrupt
			f.Rate, f.RateSD = 1163, 293
			return v.Leak(situation(now, 900, 20).Place, Loss{Finding: f, Danger: true, RunOut: now.Add(44 * time.Minute)})
		},
		"leak-dry": func(v Voice) Notice {
			f := abrupt
			f.Mass, f.Rate, f.RateSD = 4100, 0, 0
			return v.Leak(situation(now, 0, 65).Place, Loss{Finding: f, Room: kitchen, Money: "21.00 EUR"})
		},
		"leak-dry-perhaps": func(v Voice) Notice {
			f := abrupt
			f.Since, f.Mass, f.MassSD, f.Rate, f.RateSD = now.AddDate(0, 0, -8), 1150, 420, 0, 0
			return v.Leak(situation(now, 0, 65).Place, Loss{Finding: f, Room: kitchen})
		},
		"leak-slow": func(v Voice) Notice {
			return v.Leak(situation(now, 3520, 65).Place, Loss{Finding: slow, Room: kitchen})
		},
		"leak-again": func(v Voice) Notice {
			return v.Leak(situation(now, 3520, 65).Place, Loss{Finding: abrupt, Danger: true, Again: 2})
		},
		"leak-stopped": func(v Voice) Notice {
			return v.Stopped(situation(now, 3520, 65).Place, abrupt, false)
		},
		"leak-stopped-empty": func(v Voice) Notice {
			return v.Stopped(situation(now, 0, 65).Place, abrupt, true)
		},
		"silent": func(v Voice) Notice {
			return v.Silent(situation(now, 3520, 65).Place, now.Add(-7*time.Hour), "no answer within 10s")
		},
		"filled": func(v Voice) Notice {
			return v.Filled(situation(now, 9900, 190).Place, Fill{Seen: 9900, SeenSD: 60, Receipt: 10_000})
		},
		"filled-short": func(v Voice) Notice {
			return v.Filled(situation(now, 9300, 190).Place, Fill{Seen: 9300, SeenSD: 60, Receipt: 10_000})
		},
		"filled-seen": func(v Voice) Notice {
			return v.Filled(situation(now, 9900, 190).Place, Fill{Seen: 9900, SeenSD: 60})
		},
		"retest":      func(v Voice) Notice { return v.Retest(situation(now, 3520, 65).Place, now.AddDate(0, 2, 0)) },
		"retest-over": func(v Voice) Notice { return v.Retest(situation(now, 3520, 65).Place, now.AddDate(0, -1, 0)) },
	}
	cases["leak-warning"] = func(v Voice) Notice {
		f := abrupt
		f.Mass, f.Rate, f.RateSD = 580, 8.2, 1.1
		return v.Leak(situation(now, 3520, 65).Place, Loss{Finding: f, Room: kitchen, Assumed: true})
	}
	for name, rate := range map[string]unit.GramsPerHour{"leak-room": 300, "leak-room-high": 1200, "leak-room-deadly": 2400} {
		cases[name] = func(v Voice) Notice {
			f := abrupt
			f.Rate, f.RateSD = rate, rate/8
			return v.Leak(situation(now, 3520, 65).Place, Loss{Finding: f, Danger: true, Room: kitchen})
		}
	}
	cases["air-high"] = func(v Voice) Notice { return v.AirAlarm(situation(now, 3520, 65).Place, 31_000, false) }
	tomorrow := func(s *Situation) { s.Booked = now.AddDate(0, 0, 1) }
	cases["refill-tomorrow"] = func(v Voice) Notice { return v.Tomorrow(with(situation(now, 900, 14), tomorrow)) }
	for name, weighed := range map[string]int{"refill-came": 0, "refill-came-unweighed": -6} {
		cases[name] = func(v Voice) Notice {
			return v.DidItCome(with(situation(now, 900, 14), func(s *Situation) {
				s.Booked, s.Outlook.LastSeen, s.Named = now.AddDate(0, 0, -2), now.AddDate(0, 0, weighed), true
			}))
		}
	}
	cases["weigh"] = func(v Voice) Notice { return v.Weigh(situation(now, 3520, 65)) }
	cases["status-weigh"] = func(v Voice) Notice {
		return v.Status(with(situation(now, 3520, 65), func(s *Situation) { s.Decision = Decision{Say: WeighDue, Why: WeightDecides} }))
	}
	late := func(s *Situation) {
		s.BookBy, s.Earliest, s.RiskNow, s.RiskLater, s.Overdue = now, now.AddDate(0, 0, 3), 0.98, 0.99, true
	}
	cases["refill-ends"] = func(v Voice) Notice { return v.Refill(with(situation(now, 120, 2), late), 0) }
	cases["refill-late"] = func(v Voice) Notice {
		return v.Refill(with(situation(now, 320, 5), func(s *Situation) { late(s); s.RiskNow = 0.2 }), 1)
	}
	cases["refill-missed"] = func(v Voice) Notice {
		return v.Refill(with(situation(now, 320, 5), func(s *Situation) { late(s); s.Missed = now.AddDate(0, 0, -2) }), 1)
	}
	cases["refill-unseen"] = func(v Voice) Notice {
		return v.Refill(with(situation(now, 320, 5), func(s *Situation) {
			late(s)
			s.Missed, s.Outlook.LastSeen = now.AddDate(0, 0, -2), now.Add(-22*time.Hour)
		}), 1)
	}
	unlearned := func(days int) func(v Voice) Notice {
		return func(v Voice) Notice {
			return v.Refill(with(situation(now, 3520, 65), func(s *Situation) {
				s.Outlook.Learned, s.Outlook.LastSeen, s.Outlook.Gas.SD, s.LastGross = false, now.AddDate(0, 0, -days), 1200, s.House+4000
			}), 0)
		}
	}
	cases["refill-unlearned"], cases["refill-adrift"] = unlearned(2), unlearned(12)
	cases["status-drift"] = func(v Voice) Notice {
		return v.Status(with(situation(now, 3520, 65), func(s *Situation) { s.Changed = []string{v.Drift(s.Place, forecast.Finding{Mass: -42})} }))
	}
	cases["heard"] = func(v Voice) Notice {
		return v.Heard(situation(now, 3520, 65).Place, now.Add(-30*time.Hour))
	}
	cases["air"] = func(v Voice) Notice { return v.AirAlarm(situation(now, 3520, 65).Place, 5230, false) }
	cases["air-loss"] = func(v Voice) Notice { return v.AirAlarm(situation(now, 3520, 65).Place, 41_000, true) }
	cases["air-risen"] = func(v Voice) Notice {
		return v.AirRisen(situation(now, 3520, 65).Place, Loss{Finding: slow, Room: kitchen}, 1730, 452)
	}
	cases["air-back"] = func(v Voice) Notice {
		return v.AirBack(situation(now, 3520, 65).Place, 900, Peak{PPM: 12_300, At: now.Add(-50 * time.Minute), Since: now.Add(-80 * time.Minute)})
	}
	for _, f := range []forecast.FindingKind{forecast.Lifted, forecast.ObjectOn, forecast.ZeroStep, forecast.Fell, forecast.Stuck, forecast.WrongUnit, forecast.Implausible, forecast.FillGone, forecast.Rebased} {
		cases[fmt.Sprintf("odd-%d", f)] = func(v Voice) Notice {
			n, ok := v.Odd(situation(now, 3520, 65).Place, forecast.Finding{Kind: f, At: now, Since: now.Add(-3 * time.Hour), Before: now.Add(-5 * time.Hour), Mass: -420, Gross: 54_120})
			if !ok {
				t.Errorf("finding %d is told to nobody", f)
			}
			return n
		}
	}
	cases["odd-unseen"] = func(v Voice) Notice {
		n, _ := v.Odd(situation(now, 3520, 65).Place, forecast.Finding{
			Kind: forecast.ZeroStep, At: now, Since: now.Add(-time.Hour), Before: now.Add(-30 * time.Hour), Mass: -1320, Gross: 18_100,
		})
		return n
	}
	cases["odd-fell-unseen"] = func(v Voice) Notice {
		n, _ := v.Odd(situation(now, 3520, 65).Place, forecast.Finding{Kind: forecast.Fell, At: now, Since: now.Add(-time.Hour), Before: now.Add(-30 * time.Hour), Mass: -420, Gross: 18_100})
		return n
	}
	for name, off := range map[string]unit.Grams{"odd-impossible": 0, "odd-unfit-more": 900} {
		cases[name] = func(v Voice) Notice {
			n, _ := v.Odd(situation(now, 3520, 65).Place, forecast.Finding{Kind: forecast.Implausible, At: now, Gross: 16_100, Mass: off})
			return n
		}
	}
	voices := map[string]Voice{"metric": {Zone: zone(t, "Europe/Vienna")}, "us": {Zone: zone(t, "America/Chicago"), System: unit.US}}
	for name, make := range cases {
		for system, v := range voices {
			t.Run(name+"/"+system, func(t *testing.T) { golden(t, name+"."+system+".golden", show(make(v))) })
		}
	}
}

// show is a notice as it is read.
func show(n Notice) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s, %s\n%s\n", n.Kind, n.Severity, n.Text())
	for _, a := range n.Actions {
		fmt.Fprintf(&b, "[%s]", a.Label)
	}
	return strings.TrimRight(b.String(), "\n") + "\n"
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatalf("%v; run with -update and review", err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("%s (-want +got):\n%s", name, diff)
	}
}

// TestNeverSafe: weighing cannot see the air, so no notice may call a room safe.
func TestNeverSafe(t *testing.T) {
	files, err := filepath.Glob("testdata/*.golden")
	if err != nil || len(files) < 40 {
		t.Fatalf("%d golden files, %v", len(files), err)
	}
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for _, word := range []string{" safe ", " safe.", "harmless", "NaN", "Inf", "!", "0001"} {
			if strings.Contains(string(text), word) {
				t.Errorf("%s says %q", f, word)
			}
		}
	}
}

// TestStatusLength: a weekly status is at most a headline and six lines.
func TestStatusLength(t *testing.T) {
	s := situation(time.Date(2027, 5, 16, 16, 0, 0, 0, time.UTC), 900, 14)
	s.Silent = s.Now.AddDate(0, 0, -1)
	s.Changed = []string{"One.", "Two.", "Three.", "Four."}
	if n := (Voice{Zone: time.UTC}).Status(s); len(n.Body) > 6 {
		t.Errorf("%d lines under the headline, want at most 6", len(n.Body))
	}
}

func TestAround(t *testing.T) {
	v := Voice{Zone: time.UTC}
	now := time.Date(2027, 5, 16, 12, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		days unit.Days
		want string
	}{
		{3, "Wed 19 May"}, {59, "Wed 14 Jul"}, {61, "mid July"}, {239, "early January 2028"}, {300, "March 2028"},
		{1000, "2030 (in about 3 years)"}, {8000, "more than 20 years from now"}, {unit.Days(math.Inf(1)), "more than 20 years from now"},
	} {
		if got := v.around(now, c.days); got != c.want {
			t.Errorf("around(%v days) = %q, want %q", c.days, got, c.want)
		}
	}
}
