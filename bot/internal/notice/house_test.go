package notice

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"tarebell/forecast/calibration"
	"tarebell/forecast/cost"
	"tarebell/forecast/refill"
	"tarebell/forecast/runout"
	"tarebell/forecast/serving"
	"tarebell/forecast/unit"
)

var may = time.Date(2027, 5, 16, 16, 0, 0, 0, time.UTC)

// The longest names that a config may give, with what people put into names.
var (
	longCylinder = "Größe-50 **behind** the boathouse @every1"
	longPeople   = []string{"Wilhelmina-Alexandra van den Berg-Öztürk", "Maximilian Ferdinand Featherstonehaugh_2", "Ngozi Chukwuemeka-Okonkwo 🚲 (weekends)", "Anastasia"}
)

func money(t *testing.T, minor int64) unit.Money {
	t.Helper()
	m, err := unit.NewMoney(minor, "EUR")
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// errand is a situation in which everything there is to say about the refill is to be said.
func errand(long bool) Situation {
	s := situation(may, 900, 14)
	s.BookBy, s.Earliest = may.AddDate(0, 0, 2), may.AddDate(0, 0, 4)
	s.RiskNow, s.RiskLater = 0.031, 0.078
	s.LeadBookings, s.Supplier = 3, "Gas yard, +43 1 000 00 00"
	s.Closures = []Closure{{may.AddDate(0, 0, 1), "Pfingstmontag"}}
	s.RetestDue, s.Retest = time.Date(2027, 8, 1, 0, 0, 0, 0, time.UTC), refill.Good
	s.Turns = []Turn{{Name: "Joon", Last: may.AddDate(0, -5, 0)}, {Name: "Ines", Last: may.AddDate(0, -1, 0)}}
	s.Helpers = []string{"Joon", "Ines"}
	if long {
		s.Cylinder, s.Named, s.Carrier, s.Helpers = longCylinder, true, longPeople[0], longPeople[1:]
		s.Turns = []Turn{{Name: longPeople[1]}, {Name: longPeople[2]}}
		s.Supplier = "Kohlensäurewerk Nordost, Herr Oberhuemer, Tor 3 links, +43 1 000 00 00, nur vormittags"
	}
	return s
}

func booked(s Situation) Situation {
	s.Booked, s.BookedBy, s.Carrier = may.AddDate(0, 0, 1), "Marta", "Marta"
	return s
}

// accounts are what a household's gas has cost: a large cylinder against small exchange canisters.
func account(t *testing.T) Account {
	rate, err := cost.PerGram([]cost.Fill{{Price: money(t, 4200), Net: 9900}, {Price: money(t, 4450), Net: 10_000}})
	if err != nil {
		t.Fatal(err)
	}
	a := Account{Now: may, Since: may.AddDate(0, -14, 0), Gas: rate, Used: 12_300, Lost: 346, Logged: 8_900, Servings: 1480, GramsPerLitre: 7.1,
		Alternative: money(t, 38), Outlay: money(t, 31_000), Compared: true,
		Fills: []Fill{
			{Cylinder: "boathouse", At: may.AddDate(0, -14, 0), Until: may.AddDate(0, -7, 0), Receipt: 9900, Seen: 9860, SeenSD: 60, Price: money(t, 4200), By: "Ines", Used: 9_400, Lost: 346},
			{Cylinder: "boathouse", At: may.AddDate(0, -7, 0), Receipt: 10_000, Tare: 14_120, Price: money(t, 4450), By: "Joon", Used: 2_900}},
		Members: []Consumer{{Name: "Ines", Servings: 900}, {Name: "Joon", Servings: 580}, {Name: "Marta"}},
	}
	a.Shares = charged(t, a, 6)
	a.Saving = cost.Saving{PerLitre: cost.Each(money(t, 35)), SoFar: money(t, 24_800), Open: money(t, 6_200), Payback: spreadOf(120)}
	return a
}

// charged are the shares of an account whose members log alike all the time.
func charged(t *testing.T, a Account, perServing unit.Grams) []cost.Share {
	t.Helper()
	var lots []cost.Lot
	names, each := make([]string, len(a.Members)), make([]float64, len(a.Members))
	for _, f := range a.Fills {
		for i, m := range a.Members {
			names[i], each[i] = m.Name, m.Servings*float64(f.Used/a.Used)
		}
		lots = append(lots, cost.Lot{Net: f.Net(), Price: f.Price, Payer: f.By, Alone: f.Tare > 0, Lost: f.Lost, Drawn: cost.Drawn(f.Used, perServing, each)})
	}
	s, err := cost.Charge([][]cost.Lot{lots}, names)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// lone is an account that knows less.
func lone(t *testing.T, change func(*Account)) Account {
	a := account(t)
	change(&a)
	return a
}

func experiment(t *testing.T, e serving.Experiment) Experiment {
	t.Helper()
	r, err := serving.Evaluate(e)
	if err != nil {
		t.Fatal(err)
	}
	x := Experiment{Result: r, Planned: 6, Temp: 5, Pressure: unit.Bar(5)}
	per, ok := r.InDrink()
	if x.Verdict, err = serving.Judge(per, x.Pressure, x.Temp); err != nil {
		t.Fatal(err)
	}
	x.Judged = ok
	return x
}

func calibrated(t *testing.T, o calibration.Options, said []string, loads ...calibration.Load) Calibration {
	t.Helper()
	r, err := calibration.Fit(loads, o)
	if err != nil {
		t.Fatal(err)
	}
	c := Calibration{Result: r, Loads: loads, Said: said, Unit: "kg", Weights: o.Weights}
	if o.GramsPerUnit == unit.GramsPerPound {
		c.Unit = "lb"
	}
	return c
}

func loadOf(grams unit.Grams, place string, readings ...float64) calibration.Load {
	return calibration.Load{Mass: grams, Place: place, Readings: readings}
}

func TestGoldenHouse(t *testing.T) {
	never := make([]unit.Days, 9)
	for i := range never {
		never[i] = unit.Days(math.Inf(1))
	}
	bottles := []serving.Bottle{{Before: 1012.4, After: 1018.5}, {Before: 1010.2, After: 1016.0}, {Before: 1015.0, After: 1021.2}}
	notices := map[string]func(v Voice) Notice{
		"tomorrow": func(v Voice) Notice { return v.Tomorrow(booked(errand(false))) },
		"tomorrow-long": func(v Voice) Notice {
			s := booked(errand(true))
			s.Carrier = longPeople[0]
			s.Swap = true
			return v.Tomorrow(s)
		},
		"came": func(v Voice) Notice {
			s := booked(errand(false))
			s.Booked = may.AddDate(0, 0, -1)
			return v.DidItCome(s)
		},
		"came-unweighed": func(v Voice) Notice {
			s := booked(errand(false))
			s.Booked = may.AddDate(0, 0, -1)
			s.Outlook.LastSeen = may.AddDate(0, 0, -3)
			return v.DidItCome(s)
		},
		"came-long": func(v Voice) Notice {
			s := booked(errand(true))
			s.Booked = may.AddDate(0, 0, -1)
			return v.DidItCome(s)
		},
		"refill-full": func(v Voice) Notice { s := errand(false); s.BookBy = may; return v.Refill(s, 0) },
		"refill-empty-stale": func(v Voice) Notice {
			s := situation(may, 100, 0.1)
			s.Outlook.LastSeen = may.AddDate(0, 0, -14)
			return v.Refill(s, 4)
		},
		"refill-stale": func(v Voice) Notice {
			s := situation(may, 4900, 40)
			s.BookBy, s.Outlook.LastSeen = may, may.AddDate(0, 0, -30)
			return v.Refill(s, 0)
		},
		"refill-long": func(v Voice) Notice { s := errand(true); s.BookBy = may; return v.Refill(s, 0) },
		"filled-more": func(v Voice) Notice {
			return v.Filled(situation(may, 9900, 190).Place, Fill{Seen: 9900, SeenSD: 60, Receipt: 9_000})
		},
		"filled-swap": func(v Voice) Notice {
			return v.Filled(situation(may, 9900, 190).Place, Fill{Seen: 9900, SeenSD: 60, Tare: 14_120, Receipt: 10_000})
		},
		"check": func(v Voice) Notice {
			return v.CheckScale(situation(may, 3520, 65).Place, Check{Why: []calibration.Reason{calibration.HalfYear}, Checked: true,
				Since: calibration.Since{Last: may.AddDate(0, -6, 0)}})
		},
		"check-all": func(v Voice) Notice {
			s := situation(may, 9300, 190)
			s.Named = true
			return v.CheckScale(s.Place, Check{Why: []calibration.Reason{calibration.HalfYear, calibration.TooCold, calibration.TooHot, calibration.FillDisagrees},
				Since: calibration.Since{Last: may.AddDate(0, -7, 0), Coldest: -14.2, Hottest: 43, From: -10, To: 40, Receipt: 10_000, Scale: 9_300}})
		},
	}
	answers := map[string]func(v Voice) (string, []string){
		"plan":        func(v Voice) (string, []string) { return v.Plan(errand(false)) },
		"plan-booked": func(v Voice) (string, []string) { return v.Plan(booked(errand(false))) },
		"plan-long":   func(v Voice) (string, []string) { return v.Plan(errand(true)) },
		"plan-retest": func(v Voice) (string, []string) { s := errand(false); s.Retest = refill.Expired; return v.Plan(s) },
		"plan-overdue": func(v Voice) (string, []string) {
			s := errand(false)
			s.Retest, s.RetestDue = refill.Expired, may.AddDate(0, -2, 0)
			return v.Plan(s)
		},
		"plan-swap": func(v Voice) (string, []string) { s := errand(false); s.Swap = true; return v.Plan(s) },
		"plan-spare": func(v Voice) (string, []string) {
			s := errand(false)
			s.FullSpare = "shed"
			s.BookBy = may.AddDate(0, 4, 0)
			return v.Plan(s)
		},
		"plan-waits": func(v Voice) (string, []string) {
			return v.Plan(Situation{Place: Place{Cylinder: "shed", Named: true, Now: may}, Content: Content{Spare: true, SpareNet: 9_900, GrossFull: 24_300, GrossEmpty: 14_300}})
		},
		"errand": func(v Voice) (string, []string) { return v.Errand(booked(errand(true))) },
		"cost":   func(v Voice) (string, []string) { return v.Cost(account(t)) },
		"cost-unknown-serving": func(v Voice) (string, []string) {
			a := account(t)
			a.Logged = 0
			a.Shares = charged(t, a, 0)
			return v.Cost(a)
		},
		"cost-none": func(v Voice) (string, []string) { return v.Cost(Account{Now: may}) },
		"cost-config": func(v Voice) (string, []string) {
			return v.Cost(lone(t, func(a *Account) {
				a.Assumed, a.Fills, a.Servings, a.Logged, a.Lost, a.Outlay = true, nil, 0, 0, 0, unit.Money{}
			}))
		},
		"cost-gas": func(v Voice) (string, []string) {
			return v.Cost(lone(t, func(a *Account) { a.GramsPerLitre, a.Compared, a.Shares = 0, false, nil }))
		},
		"cost-dear": func(v Voice) (string, []string) {
			return v.Cost(lone(t, func(a *Account) {
				a.Alternative, a.Saving = money(t, 2), cost.Saving{PerLitre: cost.Each(money(t, -1)), SoFar: money(t, -900), Open: money(t, 31_900), Payback: runout.FromDraws(never)}
			}))
		},
		"cost-back": func(v Voice) (string, []string) {
			return v.Cost(lone(t, func(a *Account) { a.Saving.Open = money(t, 0) }))
		},
		"cost-long": func(v Voice) (string, []string) {
			return v.Cost(lone(t, func(a *Account) {
				for i := range 14 {
					a.Members = append(a.Members, Consumer{Name: longPeople[i%3] + fmt.Sprint(i)})
					a.Shares = append(a.Shares, cost.Share{Name: longPeople[i%3] + fmt.Sprint(i), Cost: money(t, 123)})
				}
			}))
		},
		"history": func(v Voice) (string, []string) { return v.History(account(t), "") },
		"history-one": func(v Voice) (string, []string) {
			a := account(t)
			a.Fills = a.Fills[:1]
			return v.History(a, "")
		},
		"history-none": func(v Voice) (string, []string) { return v.History(Account{Now: may}, "") },
		"serving": func(v Voice) (string, []string) {
			return v.Experiment(experiment(t, serving.Experiment{Litres: 0.84, Bottles: bottles, ScaleSD: 0.03, CylinderBefore: 21_340, CylinderAfter: 21_250, Servings: 12, CylinderSD: 2.9}))
		},
		"serving-bottles": func(v Voice) (string, []string) {
			return v.Experiment(experiment(t, serving.Experiment{Litres: 0.84, Bottles: bottles, ScaleSD: 0.03}))
		},
		"serving-vents": func(v Voice) (string, []string) {
			return v.Experiment(experiment(t, serving.Experiment{Litres: 0.84, CylinderBefore: 21_340, CylinderAfter: 21_100, Servings: 12, CylinderSD: 2.9}))
		},
		"serving-coarse": func(v Voice) (string, []string) {
			return v.Experiment(experiment(t, serving.Experiment{Litres: 0.84, Bottles: bottles, ScaleSD: 0.03, CylinderBefore: 21_400, CylinderAfter: 21_300, Servings: 3, CylinderSD: 29}))
		},
		"calibrate": func(v Voice) (string, []string) {
			return v.Calibrated(calibrated(t, calibration.Options{Interval: 5}, []string{"0 kg", "5 kg", "10 kg", "10 kg"},
				loadOf(0, "", 84213, 84209), loadOf(5000, "", 191060), loadOf(10_000, "", 297900, 297905), loadOf(10_000, "front left", 297880)))
		},
		"calibrate-two": func(v Voice) (string, []string) {
			return v.Calibrated(calibrated(t, calibration.Options{}, []string{"0 kg", "10 kg"}, loadOf(0, "", 84213), loadOf(10_000, "", 297900)))
		},
		"calibrate-unit": func(v Voice) (string, []string) { // 10 lb typed as 10 kg
			return v.Calibrated(calibrated(t, calibration.Options{Interval: 5}, []string{"0 kg", "5 kg", "10 kg", "20 kg"},
				loadOf(0, "", 84213), loadOf(5000, "", 191060), loadOf(10_000, "", 84213+21369*4.5359237), loadOf(20_000, "", 511590)))
		},
		"calibrate-pounds": func(v Voice) (string, []string) { // a scale that shows pounds where kilograms are expected
			return v.Calibrated(calibrated(t, calibration.Options{Interval: 5, Weights: true}, []string{"0 kg", "5 kg", "10 kg"},
				loadOf(0, "", 0), loadOf(5000, "", 11.023), loadOf(10_000, "", 22.046)))
		},
		"calibrate-mass": func(v Voice) (string, []string) {
			return v.Calibrated(calibrated(t, calibration.Options{Interval: 5}, []string{"0 kg", "5 kg", "10 kg", "20 kg"},
				loadOf(0, "", 84213), loadOf(5000, "", 191060), loadOf(10_000, "", 84213+21369*9.1), loadOf(20_000, "", 511590)))
		},
		"calibrate-poor": func(v Voice) (string, []string) {
			return v.Calibrated(calibrated(t, calibration.Options{Interval: 5}, []string{"0 kg", "5 kg", "10 kg", "20 kg"},
				loadOf(0, "", 84213, 84500), loadOf(5000, "", 191060, 191400), loadOf(10_000, "", 297900, 298600), loadOf(20_000, "", 511590, 511100)))
		},
		"calibrate-weights": func(v Voice) (string, []string) {
			return v.Calibrated(calibrated(t, calibration.Options{Interval: 10, Weights: true}, []string{"0 kg", "5 kg", "10 kg"},
				loadOf(0, "", 0.12), loadOf(5000, "", 5.16), loadOf(10_000, "", 10.20)))
		},
	}
	voices := map[string]Voice{"metric": {Zone: zone(t, "Europe/Vienna")}, "us": {Zone: zone(t, "America/Chicago"), System: unit.US}}
	for system, v := range voices {
		for name, make := range notices {
			t.Run(name+"/"+system, func(t *testing.T) {
				n := make(v)
				for _, a := range n.Actions {
					if utf8.RuneCountInString(a.ID) > 100 || utf8.RuneCountInString(a.Label) > 80 {
						t.Errorf("button %q %q is too long", a.ID, a.Label)
					}
				}
				golden(t, name+"."+system+".golden", show(n))
			})
		}
		for name, make := range answers {
			t.Run(name+"/"+system, func(t *testing.T) {
				head, body := make(v)
				golden(t, name+"."+system+".golden", head+"\n"+strings.Join(body, "\n")+"\n")
			})
		}
	}
}

// TestAnswerNamesItsOccasion: a message on a leak names what it is about, so that the second to answer can be told.
func TestAnswerNamesItsOccasion(t *testing.T) {
	ids := map[string]bool{}
	for _, about := range []time.Time{may, may.Add(time.Hour)} {
		for _, a := range Answers(longCylinder, about) {
			if ids[a.ID] || utf8.RuneCountInString(a.ID) > 100 {
				t.Errorf("button %q is there twice or too long", a.ID)
			}
			ids[a.ID] = true
		}
	}
}

// TestHistoryIsBounded: a cylinder that was filled for decades does not flood the channel.
func TestHistoryIsBounded(t *testing.T) {
	a := Account{Now: may}
	for i := range 60 {
		a.Fills = append(a.Fills, Fill{At: may.AddDate(0, -i, 0), Used: unit.Grams(math.NaN())})
	}
	if _, body := (Voice{Zone: time.UTC}).History(a, ""); len(body) != 11 || !strings.Contains(body[10], "50 before") {
		t.Errorf("%d lines, the last %q", len(body), body[len(body)-1])
	}
}

// TestReceipt: a receipt agrees within what the scale can tell, or it is said by how much it does not.
func TestReceipt(t *testing.T) {
	v := Voice{Zone: time.UTC}
	for _, c := range []struct {
		net, sd, printed unit.Grams
		want             string
	}{
		{9900, 60, 10_000, "agrees"}, {9851, 60, 10_000, "agrees"}, {9790, 60, 10_000, "210 g less"}, {10_300, 60, 10_000, "300 g more"},
		{9_700, 200, 10_000, "agrees"}, {0, 60, 10_000, ""}, {9900, 60, 0, ""}, {9810, 10, 10_000, "190 g less, no more than a stamped tare may be off"},
	} {
		if got := v.Receipt(c.net, c.sd, c.printed); c.want == "" && got != "" || !strings.Contains(got, c.want) {
			t.Errorf("%v ± %v against %v: %q, want %q", c.net, c.sd, c.printed, got, c.want)
		}
	}
}

// TestWhy: /plan says why nothing more is said, where the plan itself does not.
func TestWhy(t *testing.T) {
	now := time.Date(2027, 5, 16, 16, 0, 0, 0, time.UTC)
	v := Voice{Zone: time.UTC}
	for _, r := range []struct {
		d    Decision
		want string
	}{
		{Decision{Why: Plenty, Until: now.AddDate(0, 0, 80)}, "No reminder yet: one in early August still leaves time, with about 2 days until somebody books."},
		{Decision{Why: Plenty, Until: now.AddDate(0, 0, 9)}, "No reminder yet: one on Tue 25 May still leaves time, with about 2 days until somebody books."},
		{Decision{Why: Plenty}, ""},
		{Decision{Why: Reminded, Until: now.AddDate(0, 0, 3)}, "The last reminder still stands; the next one comes on Wed 19 May."},
		{Decision{Why: WeightAwaited, Until: now.AddDate(0, 0, 1)}, "Another weight decides; without one the reminder comes after Mon 17 May."},
		{Decision{Why: TooSoon, Until: now.AddDate(0, 0, 1)}, "No reminder yet: most of the fill is there, and how fast it goes is still being learned."},
		{Decision{Why: LossFirst}, "No reminder to book while gas escapes: that is to be stopped first."},
		{Decision{Why: AlreadyBooked, Until: now}, ""},
	} {
		if got := v.Why(Situation{Place: Place{Now: now}, Content: Content{Guess: true}, Refill: Refill{ActsIn: 2, Decision: r.d}}); got != r.want {
			t.Errorf("%s: %q, want %q", r.d.Why, got, r.want)
		}
	}
	if got := v.Why(Situation{Place: Place{Now: now}, Refill: Refill{Decision: Decision{Why: Plenty, Until: now.AddDate(0, 0, 9)}}}); got != "" {
		t.Errorf("before anything is learned: %q", got)
	}
}

// TestWhoSeesToIt: whoever sits at the terminal is told so in the second person.
func TestWhoSeesToIt(t *testing.T) {
	for name, want := range map[string]string{"me": "you see to it", "Ines": "Ines sees to it"} {
		if got := seesTo(name); got != want {
			t.Errorf("%q: %q, want %q", name, got, want)
		}
	}
}
