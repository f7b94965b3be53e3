package trial

import (
	"bytes"
	"math"
	"testing"
)

// The quantile loss of an ideal forecast is the least: for a standard normal its expectation at seven levels, by its definition
// 2/7 times the sum of the normal density at the quantiles (the pinball loss of quantile q at level p has expectation φ(q)).
func TestQuantileLoss(t *testing.T) {
	q := [7]float64{-1.6449, -1.2816, -0.6745, 0, 0.6745, 1.2816, 1.6449} // tables of the normal law
	want := 0.0
	for _, x := range q {
		want += 2. / 7 * math.Exp(-x*x/2) / math.Sqrt(2*math.Pi)
	}
	r := newRNG(1, 1)
	wide := q
	for i := range wide {
		wide[i] *= 2
	}
	var losses, worse []float64
	for range 200_000 {
		y := r.NormFloat64()
		losses, worse = append(losses, quantileLoss(q, y)), append(worse, quantileLoss(wide, y))
	}
	if got := mean(losses); math.Abs(got-want) > 0.005 || mean(worse) < 1.1*got {
		t.Errorf("loss %.4f, want %.4f; of a forecast twice as wide %.4f", got, want, mean(worse))
	}
}

// figuresAre compares figures with what was worked out by hand.
func figuresAre(t *testing.T, got []Figure, want map[string]float64) {
	t.Helper()
	for name, v := range want {
		if g := value(t, got, name); math.Abs(g-v) > 1e-9 {
			t.Errorf("%s: %g, want %g", name, g, v)
		}
	}
}

func TestYears(t *testing.T) {
	h := &Home{Spec: Spec{Days: 1461}} // four years
	figuresAre(t, Years([]Life{
		{Home: h, Refills: 8, Spells: 2, Dry: 3, Missed: 0.01, Left: []float64{0.1, 0.2, 0.6}, LeftDays: []float64{1, 2, 9}, False: 4, Typed: 96, Posts: map[string]int{"weekly-status": 192, "follow-up": 96},
			Losses: []Loss{{leak: leak{kind: "slow"}, lost: 600, fate: Told, told: 5}, {leak: leak{kind: "slow"}, lost: 200, fate: Refill, told: never}, {leak: leak{kind: "valve"}, lost: 800, fate: Chance, told: 7}}},
		{Home: h, Refills: 2, Missed: 0.03},
	}), map[string]float64{"households": 2, "years": 8, "refills": 10, "dry_spells": 0.2, "dry_days": 3. / 8, "ever_dry": 0.5, "missed": 0.02, "leftover_share": 0.2,
		"leftover_d": 2, "leftover_d_mean": 4, "slow": 2, "slow_told": 0.5, "slow_told_late": 0.5, "slow_g": 600, "valve_told": 0, "valve_told_late": 1, "lost_kg": 0.2,
		"false_alarms": 0.5, "none": 0.5, "worst": 1, "typed": 1, "posts": 3, "weekly-status": 2, "follow-up": 1})
}

func TestScores(t *testing.T) {
	year := int(365.25 * day)
	good := told{known: true, days: 10, maker: 20, q: [7]float64{10, 10, 10, 10, 10, 10, 10}}
	late := told{known: true, days: 10, maker: 20, q: [7]float64{11, 12, 20, 20, 20, 20, 20}}
	quiet := Score{Home: &Home{lead: 2}, RunOut: year, Checks: []told{good, late, {}}, First: []told{good, late}, Guessed: []told{good, good}, Booked: year - 5*day,
		Alarms: []alarm{{float64(year / 2), true}}}
	dry := Score{Home: &Home{lead: 2}, RunOut: year, Booked: year - day}
	rezeroed := Score{Home: &Home{lead: 2, scale: scale{shifts: []span{{year / 4, 0, -500}}}}, RunOut: year, Booked: never, Alarms: []alarm{{float64(year/4 + day), false}, {float64(year/4 + 3*day), false}}}
	l := leak{kind: "valve", start: year / 2, rate: 100, hours: 6}
	leaky := Score{Home: &Home{leaks: []leak{l}, scale: scale{every: 60}}, RunOut: year, Alarms: []alarm{{float64(l.start + 8*60), true}}}
	// late: pinball 0.95, 1.8 and 7.5, 5, 2.5, 1, 0.5 below 20; twice the mean, over ten days.
	pinball := 2 * (0.95*1 + 0.9*2 + 0.75*10 + 0.5*10 + 0.25*10 + 0.1*10 + 0.05*10) / 7 / 10
	figuresAre(t, Scores([]Score{quiet, dry, rezeroed, leaky, {RunOut: never}}), map[string]float64{
		"cylinders": 4, "endless": 1, "years": 3.5, "forecasts": 2, "absent": 1, "qloss": pinball / 2, "vs_maker": pinball / 2 / (2 * 3.5 * 10 / 7 / 10), "ape50": 1, "ape_maker": 1,
		"cover80": 0.5, "cover90": 0.5, "first80": 0.5, "guess80": 1, "stockout": 2. / 3, "leftover_d": 3, "false_leaks": 2 / 3.5, "false_danger": 1 / 3.5, "asked": 1,
		"none": 0.5, "worst": 1, "valve_found": 1, "valve_h": 8, "valve_g": 600})
}

func TestWriteTable(t *testing.T) {
	var out bytes.Buffer
	WriteTable(&out, []string{"a", "b"}, []Row{{"one", []Figure{{"b", 0.25}, {"a", 1234.4}}}, {"two", []Figure{{"a", 12.34}}}})
	want := "| | a | b |\n| --- | --- | --- |\n| one | 1234 | 0.250 |\n| two | 12.3 | - |\n"
	if out.String() != want {
		t.Errorf("got\n%s\nwant\n%s", out.String(), want)
	}
}
