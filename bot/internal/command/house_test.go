package command

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/emersion/go-ical"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/household"
	"tarebell/bot/internal/notice"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

var joon = chat.Member{ID: "2", Name: "Joon"}

const longest = "Größe-50 behind the boathouse, left ☂ 001" // 41 characters; a config allows 40

// home has members, prices, a supplier that closes, a spare and a scale that sends counts.
func home(o *household.Options, d *Options) {
	euro := func(minor int64) unit.Money { m, _ := unit.NewMoney(minor, "EUR"); return m }
	o.Members = []record.Member{{Name: "Ines", Carries: true}, {Name: "Joon", Carries: true}, {Name: "Marta"}}
	o.Refill.Price, o.Refill.Alternative, o.Refill.Outlay = euro(18_000), euro(38), euro(31_000)
	o.Refill.Supplier = "Gas yard, +43 1 000 00 00"
	o.Refill.Open = func(t time.Time) bool { return t.Weekday() != time.Sunday && t.Weekday() != time.Saturday }
	o.Cylinders[0].GramsPerLitre, o.Cylinders[0].Litres, o.Cylinders[0].Forecast.Serving = 10, 0.84, 8.4
	spare := o.Cylinders[0]
	spare.Name, spare.Spare = "spare", true
	o.Cylinders = append(o.Cylinders, spare)
	d.Scales = map[string]Scale{"main": {Unit: "kg", Raw: true, Zero: 84_213, PerUnit: 21_368.7}}
	d.Cylinders = append(d.Cylinders, record.Cylinder{Name: "spare", Tare: 14_300, Fittings: 1_100, NetFill: 10_000})
	d.Members = []record.Member{{Name: "Ines", ID: "1"}, {Name: "Joon", ID: "2"}, {Name: "Marta", ID: "3"}}
	d.Currency, d.Household = "EUR", "Linden Row"
	d.Closed = func(day time.Time) string {
		if !o.Refill.Open(day) {
			return day.Weekday().String()
		}
		return ""
	}
}

func (b *table) callBy(by chat.Member, name string, options ...string) chat.Answer {
	b.now = b.now.Add(time.Minute)
	c := chat.Call{ID: b.id(), At: b.now, By: by, Name: name, Options: map[string]string{}}
	for i := 0; i < len(options); i += 2 {
		c.Options[options[i]] = options[i+1]
	}
	return b.Call(context.Background(), c)
}

func (b *table) pressBy(by chat.Member, id string, fields map[string]string) chat.Answer {
	b.now = b.now.Add(time.Minute)
	return b.Press(context.Background(), chat.Press{ID: b.id(), At: b.now, By: by, Button: id, Fields: fields})
}

func text(a chat.Answer) string {
	if a.Message == nil {
		return ""
	}
	return strings.Join(append([]string{a.Message.Headline}, a.Message.Body...), "\n")
}

func says(t *testing.T, a chat.Answer, words ...string) {
	t.Helper()
	for _, w := range words {
		if !strings.Contains(text(a), w) {
			t.Errorf("answer\n%s\nlacks %q", text(a), w)
		}
	}
}

func buttonID(t *testing.T, a chat.Answer, label string) string {
	t.Helper()
	if a.Message != nil {
		for _, b := range a.Message.Buttons {
			if strings.HasPrefix(b.Label, label) {
				return b.ID
			}
		}
	}
	t.Fatalf("answer %+v has no button %q", a.Message, label)
	return ""
}

// TestBookedBringsAnInvitation that a second library reads (RFC 5545), and a changed day keeps its identity.
func TestBookedBringsAnInvitation(t *testing.T) {
	b := newTableOf(t, home)
	b.say("24.6 kg")
	read := func(a chat.Answer) *ical.Event {
		t.Helper()
		if len(a.Message.Files) != 1 || a.Message.Files[0].Name != "refill.ics" {
			t.Fatalf("files %+v", a.Message.Files)
		}
		c, err := ical.NewDecoder(bytes.NewReader(a.Message.Files[0].Data)).Decode()
		if err != nil {
			t.Fatal(err)
		}
		return &c.Events()[0]
	}
	first := read(b.call("booked", "day", "friday"))
	start, _ := first.DateTimeStart(time.UTC)
	summary, _ := first.Props.Text("SUMMARY")
	notes, _ := first.Props.Text("DESCRIPTION")
	if start.Format(time.DateOnly) != "2027-05-21" || !strings.Contains(summary, "Linden Row") || !strings.Contains(notes, "hand truck") {
		t.Errorf("%s %q %q", start, summary, notes)
	}
	a := b.call("booked", "day", "sunday")
	says(t, a, "booked for Sun 23 May", "closed that day (Sunday)")
	second := read(a)
	if first.Props.Get("UID").Value != second.Props.Get("UID").Value || second.Props.Get("SEQUENCE").Value != "1" {
		t.Errorf("moved: %s %s", second.Props.Get("UID").Value, second.Props.Get("SEQUENCE").Value)
	}
}

// TestTwoAtOnce: of two people who press at the same moment one wins, and the other is told who.
func TestTwoAtOnce(t *testing.T) {
	b := newTableOf(t, home)
	b.say("16.1 kg")
	b.now = b.now.Add(time.Minute)
	about := b.now.Add(-time.Hour)
	for _, id := range []string{"mine:main", notice.Answers("main", about)[0].ID} {
		var wg sync.WaitGroup
		answers := make([]string, 2)
		for i, by := range []chat.Member{ines, joon} {
			wg.Go(func() {
				answers[i] = text(b.Press(context.Background(), chat.Press{ID: fmt.Sprint(id, i), At: b.now, By: by, Button: id}))
			})
		}
		wg.Wait()
		both := strings.Join(answers, "\n")
		if n := strings.Count(both, "was first"); n != 1 {
			t.Errorf("%s: %d of two were told that another was first:\n%s", id, n, both)
		}
		if first := slices.IndexFunc(answers, func(s string) bool { return !strings.Contains(s, "was first") }); first >= 0 {
			if name := []string{"Ines", "Joon"}[first]; !strings.Contains(both, name+" was first") {
				t.Errorf("%s: %s", id, both)
			}
		}
	}
	form := b.press("booked:main", nil).Form
	headline(t, b.press(form.ID, map[string]string{"day": "tuesday"}), "booked for Tue 18 May")
	says(t, b.pressBy(joon, form.ID, map[string]string{"day": "wednesday"}), "Ines was first: it is booked for Tue 18 May.", "/booked and the day")
	headline(t, b.callBy(joon, "booked", "day", "wednesday"), "booked for Wed 19 May")
	headline(t, b.pressBy(joon, "nobook:main", nil), "not booked")
	headline(t, b.press("nobook:main", nil), "said already")
}

// TestButtonsSurviveARestart: each button carries all it needs, in at most 100 characters.
func TestButtonsSurviveARestart(t *testing.T) {
	b := newTableOf(t, func(o *household.Options, d *Options) {
		home(o, d)
		o.Cylinders[0].Name, d.Cylinders[0].Name = longest, longest
	})
	b.n = 1_234_567_890_123_456_78 // ids as long as the platform's
	var buttons []chat.Button
	keep := func(a chat.Answer, label string) string {
		t.Helper()
		buttons = append(buttons, a.Message.Buttons...)
		return buttonID(t, a, label)
	}
	b.say("24.6 kg")
	fill := keep(b.call("filled", "net", "20.5 kg", "tare", "31 kg", "price", "123456.50"), "It is in pounds: 9.299 kg")
	serve := keep(b.call("serving", "bottles", "1012.4 > 1018.5 g", "litres", "0.84"), "Plan with 6.1 g")
	checked := keep(b.call("calibrate", "loads", "0 kg: 84213; 10 kg: 297900"), "It is set")
	taken := keep(b.say("54.1"), "54.1 lb")
	mine := keep(b.call("plan"), "I'll see to it")
	b.restart()
	says(t, b.press(fill, nil), "filled with 9.299 kg for 123456.50 EUR", "empty cylinder counts as 14.061 kg")
	headline(t, b.press(fill, nil), "noted already")
	headline(t, b.press(serve, nil), "counts as 6.1 g")
	headline(t, b.press(checked, nil), "the scale is checked")
	headline(t, b.press(taken, nil), "54.1 lb (24.54 kg)")
	headline(t, b.press(mine, nil), "Ines sees to the refill")
	for _, x := range buttons {
		if n := utf8.RuneCountInString(x.ID); n > 100 {
			t.Errorf("button %q has %d characters", x.ID, n)
		}
		if n := utf8.RuneCountInString(x.Label); n > 80 {
			t.Errorf("label %q has %d characters", x.Label, n)
		}
	}
}

// TestPlatformLimits: forms and options keep the bounds that the port states.
func TestPlatformLimits(t *testing.T) {
	b := newTableOf(t, home)
	for _, id := range []string{"booked:main", "here:main", "serve:"} {
		f := b.press(id, nil).Form
		if f == nil || f.ID != id || utf8.RuneCountInString(f.Title) > 45 || len(f.Fields) > 5 {
			t.Fatalf("%s opens %+v", id, f)
		}
		for _, x := range f.Fields {
			if utf8.RuneCountInString(x.Label) > 45 {
				t.Errorf("%s: label %q is too long", id, x.Label)
			}
		}
	}
	for _, s := range b.Specs() {
		for _, o := range s.Options {
			if n := utf8.RuneCountInString(o.Summary); n == 0 || n > 100 || len(o.Choices) > 25 {
				t.Errorf("/%s %s: summary of %d characters, %d choices", s.Name, o.Name, n, len(o.Choices))
			}
		}
	}
	a := b.call("filled", "net", strings.Repeat("very much ", 300))
	if n := utf8.RuneCountInString(text(a)); n > 700 {
		t.Errorf("an answer of %d characters to a long mistake", n)
	}
}

// FuzzTyped: whatever is typed as a load, a pair of weights, a price, a day or a quantity is understood or is a Problem.
func FuzzTyped(f *testing.F) {
	for _, s := range []string{"0 kg: 84213 / 84209; 10 kg front left: 297880", "1012.4 > 1018.5 g, 1 -> 2 oz", "42,50 EUR", "€", "in 3 days", "5 °C", "60 psi", ":;,>/", "1e9 kg: 1", "∞"} {
		f.Add(s)
	}
	h := New(Options{House: noHouse{}})
	now := time.Date(2027, 5, 16, 9, 30, 0, 0, time.UTC)
	f.Fuzz(func(t *testing.T, s string) {
		check := func(what string, err error) {
			var p *Problem
			if err != nil && !errors.As(err, &p) {
				t.Errorf("%s %q: %v is no Problem", what, s, err)
			}
		}
		r, err := readLoads(s)
		check("loads", err)
		for _, l := range r.Loads {
			for _, x := range l.Readings {
				if math.IsNaN(x) || math.IsInf(x, 0) {
					t.Errorf("loads %q hold %v", s, x)
				}
			}
		}
		for _, part := range splitList(s) {
			_, _, _, err = pair(part, 1)
			check("pair", err)
		}
		_, err = h.price(s, now)
		check("price", err)
		_, err = parseDay(s, now)
		check("day", err)
		_, err = h.temperature(s)
		check("temperature", err)
		_, err = pressure(s)
		check("pressure", err)
		_, err = readStep(s)
		check("step", err)
	})
}

// noHouse knows nothing.
type noHouse struct{ House }

func (noHouse) Account(time.Time) notice.Account { return notice.Account{} }

// TestLitreFromACanisterAndFromACylinder: about 18 cents a litre from a large cylinder against about 38 cents from small
// exchange canisters (common practice, no source). 10 g of gas a litre; a canister of 425 g for 16.15 EUR makes 42.5 litres
// at 38 cents, 10 kg for 180 EUR make 1,000 litres at 18 cents. 310 EUR of outlay at 20 cents a litre are 1,550 litres.
func TestLitreFromACanisterAndFromACylinder(t *testing.T) {
	b := newTableOf(t, home)
	b.say("25.4 kg")
	b.call("filled", "net", "10 kg", "price", "180 EUR")
	start := b.now
	for i := 1; i <= 60; i++ { // 100 g a day, ten litres
		b.now = start.AddDate(0, 0, i)
		b.say(fmt.Sprintf("%.2f kg", 25.4-0.1*float64(i)))
		if i == 30 {
			b.callBy(joon, "made", "servings", "150")
		}
	}
	a := b.call("cost")
	says(t, a, "A litre of sparkling drink costs you about 0.18 EUR.", "Bought otherwise a litre is 0.38 EUR: you save 0.20 EUR a litre",
		"Paid: 180.00 EUR on Sun 16 May for 10.0 kg", "Joon: 150 servings", "Ines: ", "paid 180.00 EUR", "Of the outlay of 310.00 EUR")
	acc := b.opt.House.Account(b.now)
	if math.Abs(float64(acc.Used)-6000) > 150 {
		t.Errorf("%v g used, want about 6000", acc.Used)
	}
	if got, want := acc.Saving.SoFar.Minor(), int64(math.Round(float64(acc.Used)/10*20)); got != want {
		t.Errorf("%d cents saved so far, want %d at 20 cents a litre", got, want)
	}
	left := (1550 - float64(acc.Used)/10) / 10 // days at ten litres a day
	if got := float64(acc.Saving.Payback.Quantile(0.5)); math.Abs(got/left-1) > 0.15 {
		t.Errorf("outlay back in %.0f days, want about %.0f", got, left)
	}
	sum := int64(0)
	for _, s := range acc.Shares {
		sum += s.Cost.Minor()
	}
	paid := acc.Fills[len(acc.Fills)-1] // what was there before it has no price
	if worth := acc.Gas.Of(paid.Used).Minor(); sum != worth {
		t.Errorf("shares add up to %d, want the %d of the gas used", sum, worth)
	}
	t.Logf("\n%s", text(a))
}

// TestReceiptInEitherOrder: the receipt is held against the scale whether the weight or the filling is told first.
func TestReceiptInEitherOrder(t *testing.T) {
	b := newTable(t)
	b.say("16.0 kg")
	b.call("filled", "net", "9.8 kg")
	b.now = b.now.Add(time.Hour)
	b.say("25.2 kg")
	says(t, b.call("history"), "9.8 kg by receipt, 9.8 kg ± 150 g by scale")

	b = newTable(t)
	for i := range 8 {
		b.now = b.now.Add(24 * time.Hour)
		b.say(fmt.Sprintf("%.2f kg", 16.4-0.05*float64(i)))
	}
	b.now = b.now.Add(24 * time.Hour)
	a := b.say("25.2 kg")
	b.press(buttonID(t, a, "Yes, filled"), nil)
	for range 3 {
		b.now = b.now.Add(2 * time.Hour)
		b.say("25.2 kg")
	}
	says(t, b.call("filled", "net", "9.8 kg", "price", "42 EUR"), "filled with 9.8 kg for 42.00 EUR")
	if h := text(b.call("history")); strings.Count(h, "42.00 EUR") != 1 || strings.Count(h, "\n") > 2 {
		t.Errorf("one filling is told as several:\n%s", h)
	}
}

// TestFillingToldBitByBit is one filling; a second one on the same day is asked back.
func TestFillingToldBitByBit(t *testing.T) {
	b := newTableOf(t, home)
	b.say("16.0 kg")
	headline(t, b.call("filled"), "Noted: filled.")
	headline(t, b.callBy(joon, "filled", "net", "9.8 kg"), "filled with 9.8 kg")
	headline(t, b.callBy(joon, "filled", "price", "180"), "for 180.00 EUR")
	says(t, b.call("history"), "2 fillings", "9.8 kg by receipt; 180.00 EUR paid by Joon")
	a := b.call("filled", "net", "9.8 kg")
	says(t, a, "A filling was noted at 09:32 already, by Joon.", "Is this another one?")
	headline(t, b.press(buttonID(t, a, "No, leave it"), nil), "nothing was noted")
	says(t, b.call("history"), "2 fillings")
	headline(t, b.press(buttonID(t, a, "Yes, another one"), nil), "filled with 9.8 kg")
	says(t, b.call("history"), "3 fillings")
}

// TestDaysFarFromGreenwich: a booked day is that day where the household lives.
func TestDaysFarFromGreenwich(t *testing.T) {
	for _, name := range []string{"Pacific/Auckland", "Pacific/Kiritimati", "Pacific/Pago_Pago"} {
		z, err := time.LoadLocation(name)
		if err != nil {
			t.Fatal(err)
		}
		b := newTableOf(t, func(o *household.Options, _ *Options) { o.Voice.Zone = z })
		b.say("16.0 kg")
		headline(t, b.call("booked", "day", "2027-12-24"), "booked for Fri 24 Dec")
		says(t, b.call("plan"), "booked for Fri 24 Dec")
		a := b.call("booked", "day", "2027-12-24")
		if ics := string(a.Message.Files[0].Data); !strings.Contains(ics, "DTSTART;VALUE=DATE:20271224") {
			t.Errorf("%s:\n%s", name, ics)
		}
	}
}

// TestTareInAnotherUnit is asked back, and never stored as it stands.
func TestTareInAnotherUnit(t *testing.T) {
	b := newTable(t)
	b.say("24.6 kg")
	a := b.call("filled", "net", "9.8 kg", "tare", "31.5")
	says(t, a, "The tare of 31.5 kg looks like pounds.", "about 14.3 kg")
	if s, _ := b.opt.House.Situation("main", b.now); s.House != 15_400 {
		t.Errorf("the empty cylinder became %v g", s.House)
	}
	says(t, b.press(buttonID(t, a, "It is in pounds: 14.288 kg"), nil), "filled with 9.8 kg", "counts as 14.288 kg")
	if s, _ := b.opt.House.Situation("main", b.now); math.Abs(float64(s.House)-15_388) > 1 {
		t.Errorf("the empty cylinder is %v g, want 15388", s.House)
	}
	says(t, b.call("filled", "net", "60 kg"), "Is the net really 60 kg?", "about 10 kg")
	us := newTableOf(t, func(o *household.Options, _ *Options) { o.Voice.System = unit.US })
	says(t, us.call("filled", "net", "20.5 lb", "tare", "14.3"), "The tare of 14.3 lb looks like kilograms.")
}

// TestChangeOver: a spare takes over with what it holds, and the household goes on drinking.
func TestChangeOver(t *testing.T) {
	b := newTableOf(t, home)
	start := b.now
	for i := range 40 {
		b.now = start.AddDate(0, 0, i)
		b.say(fmt.Sprintf("main %.2f kg", 19.4-0.08*float64(i)))
	}
	says(t, b.call("plan", "cylinder", "spare"), "Cylinder spare waits its turn, with about 10.0 kg")
	says(t, b.call("plan"), "Cylinder spare stands by full and is counted in")
	before, _ := b.opt.House.Situation("", b.now)
	headline(t, b.call("use", "name", "spare"), "cylinder spare is in use, main waits")
	s, _ := b.opt.House.Situation("", b.now)
	if s.Cylinder != "spare" || math.Abs(s.Outlook.Use.Mean/before.Outlook.Use.Mean-1) > 0.1 || s.Outlook.Gas.Mean < 9000 {
		t.Errorf("%s with %v of gas and %v g a day, before %v g a day", s.Cylinder, s.Outlook.Gas, s.Outlook.Use, before.Outlook.Use)
	}
	b.now = b.now.Add(time.Hour)
	headline(t, b.say("25.3 kg"), "Noted: 25.3 kg for spare.")
	headline(t, b.call("use", "name", "spare"), "in use already")
	headline(t, b.call("use", "name", "cellar"), "no cylinder \"cellar\"")
	headline(t, b.call("use", "name", "main", "instead", "main"), "not in use, so none")
	headline(t, b.call("filled", "net", "9.9 kg", "cylinder", "main"), "filled with 9.9 kg")
	says(t, b.call("plan"), "Cylinder main stands by full")
}

// TestPeople: servings are counted for whom they were, and who is away is left out of the turns.
func TestPeople(t *testing.T) {
	b := newTableOf(t, home)
	b.say("24.6 kg")
	b.now = b.now.Add(48 * time.Hour)
	b.say("24.3 kg")
	headline(t, b.call("made", "servings", "3", "who", "Marta"), "3 servings for Marta")
	headline(t, b.callBy(chat.Member{ID: "2", Name: "joon_the_second"}, "made"), "1 serving for Joon")
	says(t, b.call("cost"), "Marta: 3 servings", "Joon: 1 serving,")
	b.callBy(joon, "booked", "day", "tomorrow")
	b.callBy(joon, "booked", "day", "no")
	says(t, b.call("plan"), "By turns it would be Ines, then Joon")
	headline(t, b.call("away", "until", "sunday", "who", "Ines"), "Ines is away until Sun 23 May")
	if got := text(b.call("plan")); strings.Contains(got, "Ines") {
		t.Errorf("Ines is away, yet:\n%s", got)
	}
	headline(t, b.call("away", "until", "now", "who", "Ines"), "Ines is back")
	headline(t, b.call("away", "until", "sunday", "who", "Zoe"), "Zoe is not among the members")
}

// TestServingExperiment: grams per serving, what goes into the air, what water can hold; adopted it changes what is told.
func TestServingExperiment(t *testing.T) {
	b := newTableOf(t, home)
	b.say("24.6 kg")
	headline(t, b.call("serving"), "found by weighing")
	a := b.call("serving", "bottles", "1012.4 > 1018.5 g, 1010.2 > 1016.0 g, 1015.0 > 1021.2 g", "platform", "21.340 > 21.250 kg", "servings", "12",
		"water", "5 C", "pressure", "4 barg")
	says(t, a, "A serving takes about 7.5 g from the cylinder", "8.9 g", "3.6 volumes", "In the drink are 6.0 g of it, about 3.6 volumes; the other 20 ± 2 % go into the air",
		"water can hold at 5 °C and 5 bar absolute (4 bar on the gauge)", "So far a serving was counted as 8.4 g.")
	t.Logf("\n%s", text(a))
	says(t, b.call("serving", "bottles", "1012.4 > 1018.5 g", "water", "5 C", "pressure", "4 bar"), "at 5 °C and 4 bar absolute;")
	for _, c := range []struct{ pressure, platform, says string }{
		{"4", "", "is not a pressure with its unit"},
		{"1 bar", "", "7.3 g a litre cannot be in the drink: water holds 2.8 g at most at 5 °C and 1 bar absolute."},
		{"4 barg", "21.3 > 21.2 kg", "is no measurement on a scale with steps of 100 g"},
	} {
		options := []string{"bottles", "1012.4 > 1018.5 g", "water", "5 C", "pressure", c.pressure}
		if c.platform != "" {
			options = []string{"platform", c.platform, "servings", "1", "litres", "0.84"}
		}
		says(t, b.call("serving", options...), c.says)
	}
	headline(t, b.press("serving:100.00:0.84:x", nil), "That button is from another time.")
	headline(t, b.press(buttonID(t, a, "Plan with 7.5 g"), nil), "a serving of 0.84 L counts as 7.5 g")
	s, _ := b.opt.House.Situation("", b.now)
	if s.Serving != 7.5 || math.Abs(s.GramsPerLitre-7.5/0.84) > 1e-9 {
		t.Errorf("%v g a serving, %v g a litre", s.Serving, s.GramsPerLitre)
	}
	b.call("undo")
	if s, _ = b.opt.House.Situation("", b.now); s.Serving != 8.4 {
		t.Errorf("after undo %v g a serving", s.Serving)
	}
	form := b.press("serve:", nil).Form
	if form == nil || len(form.Fields) > 5 {
		t.Fatalf("form %+v", form)
	}
	headline(t, b.press(form.ID, map[string]string{"bottles": "35.71 > 35.92 oz", "platform": "", "servings": ""}), "into the drink")
}

// TestServingOfUnknownSize: the form asks for what the config did not say, so that it leads somewhere.
func TestServingOfUnknownSize(t *testing.T) {
	b := newTable(t)
	b.say("24.6 kg")
	says(t, b.call("serving"), "add litres:0.84")
	form := b.press("serve:", nil).Form
	if form == nil || form.Fields[len(form.Fields)-1].Name != "litres" {
		t.Fatalf("form %+v", form)
	}
	headline(t, b.press(form.ID, map[string]string{"bottles": "1012.4 > 1018.5 g", "litres": "0.84"}), "A serving takes about 6.1 g into the drink")
}

// TestCalibration: a good one gives the values to set, one with a unit mixed up says so and offers nothing to set.
func TestCalibration(t *testing.T) {
	b := newTableOf(t, home)
	headline(t, b.call("calibrate"), "masses that are known")
	a := b.call("calibrate", "loads", "0 kg: 84213 / 84209; 5 kg: 191060; 10 kg: 297900/297905, 10 kg front left: 297880", "step", "5 g")
	says(t, a, "Zero is at 84211.6 counts, and a kilogram more is 21369.15 counts. It is good enough.", "raw: {zero: 84211.6, per_unit: 21369.15}")
	headline(t, b.press(buttonID(t, a, "It is set"), nil), "the scale is checked")
	a = b.call("calibrate", "loads", "empty: 84213; 5 kg: 191060; 10 kg: 181143; 20 kg: 511590", "step", "5 g")
	says(t, a, "The load typed as 10 kg looks like 10 lb.", "By the other loads it weighs 4.536 kg.")
	if len(a.Message.Buttons) != 0 {
		t.Errorf("buttons %v under a doubtful calibration", a.Message.Buttons)
	}
	t.Logf("\n%s", text(a))
	b.opt.Scales = map[string]Scale{"main": {Unit: "kg"}}
	says(t, b.call("calibrate", "loads", "0 kg: 0.00; 5 kg: 11.02; 10 kg: 22.05"), "speak pounds where kilograms were expected")
	says(t, b.call("calibrate", "loads", "0 kg: 0 g; 5 kg: 5010 g; 10 kg: 10020 g"), "Correct the scale")
}

// TestHouseholdMistakes: each input wrong in three ways gives a Problem that says what was read, and stores nothing.
func TestHouseholdMistakes(t *testing.T) {
	b := newTableOf(t, home)
	for _, c := range []struct {
		name    string
		options []string
		want    string
	}{
		{"filled", []string{"price", "cheap"}, "“cheap”"},
		{"filled", []string{"price", "-42 EUR"}, "“-42 EUR” is not a price"},
		{"filled", []string{"price", "42 USD"}, "is in USD, but this household reckons in EUR"},
		{"filled", []string{"price", "42.123"}, "“42.123” is not a price"},
		{"filled", []string{"tare", "heavy"}, "“heavy” is not a weight for tare"},
		{"filled", []string{"tare", "14.3 kg", "net", "-3 kg"}, "“-3 kg” is not a weight for net"},
		{"filled", []string{"cylinder", "cellar"}, "no cylinder"},
		{"made", []string{"servings", "none"}, "“none” is not a number"},
		{"made", []string{"servings", "0"}, "“0” is not a number"},
		{"made", []string{"servings", "1000"}, "“1000” is not a number"},
		{"made", []string{"servings", "2", "who", "Marthe"}, "Marthe is not among the members"},
		{"filled", []string{"net", "10 kg", "payer", "Jon"}, "Jon is not among the members"},
		{"booked", []string{"day", "yesterday"}, "15 May 2027 is past"},
		{"away", []string{"until", "whenever"}, "“whenever” is not a day"},
		{"away", []string{"until", "2027-01-01"}, "is past"},
		{"away", []string{"until", "friday", "who", "nobody"}, "nobody is not among the members"},
		{"use", []string{"name", ""}, "in use already"},
		{"use", []string{"name", "main"}, "in use already"},
		{"use", []string{"name", "x"}, "no cylinder"},
		{"history", []string{"cylinder", "x"}, "no cylinder"},
		{"serving", []string{"bottles", "1012"}, "“1012” is not a weight before and one after"},
		{"serving", []string{"bottles", "1012 > 1018 stones"}, "in no unit I know"},
		{"serving", []string{"bottles", "1012 g > 1.018 kg"}, "in two units"},
		{"serving", []string{"bottles", "1018 > 1012 g"}, "cannot be evaluated"},
		{"serving", []string{"platform", "21.34 > 21.26 kg"}, "How many servings"},
		{"serving", []string{"platform", "21.34 > 21.26 kg", "servings", "-1"}, "how many servings"},
		{"serving", []string{"bottles", "1012 > 1018", "litres", "much"}, "not the drink in a serving"},
		{"serving", []string{"bottles", "1012 > 1018", "water", "warm"}, "not a temperature"},
		{"serving", []string{"bottles", "1012 > 1018", "water", "5 C"}, "not a pressure"},
		{"serving", []string{"bottles", "1012 > 1018", "water", "95 C", "pressure", "4 bar"}, "cannot be judged"},
		{"calibrate", []string{"loads", "10 kg"}, "not a load with what the scale said"},
		{"calibrate", []string{"loads", "10 kg: 297900"}, "One load is not enough"},
		{"calibrate", []string{"loads", "10: 297900; 0 kg: 84213"}, "In which unit is the mass “10”"},
		{"calibrate", []string{"loads", "0 kg: 84,213; 10 kg: 297900"}, "“84,213” can be read in two ways"},
		{"calibrate", []string{"loads", "0 kg: 84213; 10 kg: 84213"}, "does not make a calibration"},
		{"calibrate", []string{"loads", "0 kg: 84213; 10 stone: 297900"}, "in no unit I know"},
		{"calibrate", []string{"loads", "0 kg: 0 kg; 10 kg: 10"}, "Some readings have a unit"},
		{"calibrate", []string{"loads", "0 kg: 84213; 10 kg: 297900", "step", "fine"}, "not the step of a scale"},
	} {
		a := b.call(c.name, c.options...)
		if a.Message == nil || !strings.Contains(a.Message.Headline, c.want) {
			t.Errorf("/%s %v answers %q, want %q", c.name, c.options, text(a), c.want)
			continue
		}
		if !a.Message.Private || len(a.Message.Body) == 0 {
			t.Errorf("/%s %v: no word on what would be right, or told to all", c.name, c.options)
		}
	}
	for _, id := range []string{"fill:", "fill:1:2", "fill:x:0::1:main", "fill:9000:0:12EUR", "fill:9000:0:xEUR:1:main", "serving:", "serving:0:0:1", "serving:a:b:c",
		"answer:maybe:main", "nobook:cellar", "mine:cellar", "here:cellar", "booked:cellar"} {
		if a := b.press(id, map[string]string{}); a.Message == nil || !a.Message.Private {
			t.Errorf("button %q answers %+v", id, a.Message)
		}
	}
	if n, err := b.store.Recent(context.Background(), "", 10); err != nil || len(n) != 0 {
		t.Errorf("stored %+v, %v", n, err)
	}
}

// TestPrices: what people write for money.
func TestPrices(t *testing.T) {
	b := newTableOf(t, home)
	for text, want := range map[string]string{"42": "42.00 EUR", "42,50": "42.50 EUR", "€42.5": "42.50 EUR", "42.50 eur": "42.50 EUR", "EUR 42": "42.00 EUR", "": ""} {
		m, err := b.price(text, b.now)
		if err != nil || want != "" && m.String() != want {
			t.Errorf("%q is %s, %v, want %s", text, m, err, want)
		}
	}
	b.opt.Currency = ""
	if _, err := b.price("42", b.now); err == nil || !strings.Contains(err.Error(), "In which currency") {
		t.Errorf("without any currency: %v", err)
	}
	b.opt.Currency = "CAD"
	if m, err := b.price("$42", b.now); err != nil || m.Code() != "CAD" {
		t.Errorf("a dollar in Canada is %s, %v", m, err)
	}
}
