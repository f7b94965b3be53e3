package command

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/household"
	"tarebell/bot/internal/live"
	"tarebell/bot/internal/notice"
	"tarebell/bot/internal/store/sqlite"
	"tarebell/bot/internal/store/storetest"
	"tarebell/forecast"
	"tarebell/forecast/unit/record"
)

// table is a desk over a real ledger, and a clock.
type table struct {
	*Handler
	t     *testing.T
	store *sqlite.Store
	now   time.Time
	n     int

	options household.Options
}

var ines = chat.Member{ID: "1", Name: "Ines"}

func newTable(t *testing.T) *table { return newTableOf(t, nil) }

// newTableOf is a table for a household that differs from the usual one by change.
func newTableOf(t *testing.T, change func(*household.Options, *Options)) *table {
	t.Helper()
	s, err := sqlite.Open(filepath.Join(t.TempDir(), "ledger.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	o := household.Options{Voice: notice.Voice{Zone: time.UTC}, ReviewHour: 8,
		Cylinders: []household.Cylinder{{Name: "main", GramsPerLitre: 7,
			Forecast: forecast.Options{Tare: 14_300, Fittings: 1_100, NetFill: 10_000, Seed: 1}}},
		Refill: household.Refill{Refill: record.Refill{LeadDays: 3, Risk: 0.05}}}
	d := Options{FreeText: true, Log: slog.New(slog.DiscardHandler),
		Cylinders: []record.Cylinder{{Name: "main", Tare: 14_300, Fittings: 1_100, NetFill: 10_000}},
		Closed:    func(time.Time) string { return "" },
		Draw:      func(notice.Situation) ([]byte, error) { return []byte("png"), nil },
		DrawUse:   func(notice.Situation) ([]byte, error) { return nil, nil }}
	if change != nil {
		change(&o, &d)
	}
	b := &table{t: t, store: s, options: o, now: time.Date(2027, 5, 16, 9, 30, 0, 0, time.UTC)}
	d.Voice = o.Voice
	b.Handler = New(d)
	b.restart()
	return b
}

// restart is the program started anew on the same ledger.
func (b *table) restart() {
	b.t.Helper()
	h, err := live.Open(context.Background(), live.Options{Household: b.options, Store: b.store, Log: slog.New(slog.DiscardHandler), Now: func() time.Time { return b.now },
		Compose: func(n notice.Notice) ([]byte, error) { return json.Marshal(n.Text()) }})
	if err != nil {
		b.t.Fatal(err)
	}
	o := b.Handler.opt
	o.House = h
	b.Handler = New(o)
}

func (b *table) id() string { b.n++; return fmt.Sprint(b.n) }

func (b *table) say(text string) chat.Answer {
	b.now = b.now.Add(time.Minute)
	return b.Say(context.Background(), chat.Said{ID: b.id(), At: b.now, By: ines, Text: text})
}

func (b *table) call(name string, options ...string) chat.Answer {
	b.now = b.now.Add(time.Minute)
	c := chat.Call{ID: b.id(), At: b.now, By: ines, Name: name, Options: map[string]string{}}
	for i := 0; i < len(options); i += 2 {
		c.Options[options[i]] = options[i+1]
	}
	return b.Call(context.Background(), c)
}

func (b *table) press(id string, fields map[string]string) chat.Answer {
	b.now = b.now.Add(time.Minute)
	return b.Press(context.Background(), chat.Press{ID: b.id(), At: b.now, By: ines, Button: id, Fields: fields})
}

// gross lists the weights in the ledger that count.
func (b *table) gross() []float64 {
	b.t.Helper()
	var out []float64
	for _, e := range storetest.All(b.t, b.store) {
		if e.Kind == record.Weighed && !e.Voided {
			out = append(out, float64(e.Gross))
		}
	}
	return out
}

func headline(t *testing.T, a chat.Answer, want string) {
	t.Helper()
	if a.Message == nil {
		t.Fatalf("no answer, want %q", want)
	}
	if !strings.Contains(a.Message.Headline, want) {
		t.Errorf("answer %q, want it to contain %q", a.Message.Headline, want)
	}
}

func TestTypedWeightIsStoredAndUndone(t *testing.T) {
	b := newTable(t)
	a := b.say("24.6 kg")
	headline(t, a, "Noted: 24.6 kg.")
	if got := b.gross(); len(got) != 1 || got[0] != 24_600 {
		t.Fatalf("ledger holds %v, want 24600 g", got)
	}
	if len(a.Message.Buttons) != 1 {
		t.Fatalf("buttons %v, want one to undo", a.Message.Buttons)
	}
	headline(t, b.press(a.Message.Buttons[0].ID, nil), "Undone: 24.6 kg by Ines")
	if got := b.gross(); len(got) != 0 {
		t.Errorf("ledger holds %v after undo", got)
	}
	headline(t, b.press(a.Message.Buttons[0].ID, nil), "undone already")
}

func TestTalkIsLeftAlone(t *testing.T) {
	b := newTable(t)
	for _, text := range []string{"see you at 7", "who takes the bins out?", "we need 3 kg of flour for Sunday", ""} {
		if a := b.say(text); a.Message != nil || a.Form != nil {
			t.Errorf("%q was answered with %q", text, a.Message.Headline)
		}
	}
	if got := b.gross(); len(got) != 0 {
		t.Errorf("ledger holds %v", got)
	}
}

func TestDoubtIsAskedBackAndTaken(t *testing.T) {
	b := newTable(t)
	b.say("24.6 kg")
	a := b.say("54.1") // pounds in a household of kilograms
	if a.Message == nil || len(a.Message.Buttons) < 2 {
		t.Fatalf("answer %+v, want a question with buttons", a)
	}
	if got := b.gross(); len(got) != 1 {
		t.Fatalf("a doubtful weight was stored: %v", got)
	}
	taken := b.press(a.Message.Buttons[0].ID, nil)
	headline(t, taken, "Noted: 54.1 lb (24.54 kg)")
	if !taken.Replace {
		t.Error("the question keeps its buttons after the answer")
	}
	headline(t, b.press(a.Message.Buttons[0].ID, nil), "noted already")
	if got := b.gross(); len(got) != 2 {
		t.Errorf("ledger holds %v, want the first weight and the answer", got)
	}
	headline(t, b.press("leave:", nil), "nothing was noted")
}

// TestWeightIsToldBackAsTyped, in its own unit too; one that is held back is no basis for a figure, and one that holds no
// weight is answered to its sender alone, with what was read.
func TestWeightIsToldBackAsTyped(t *testing.T) {
	b := newTable(t)
	headline(t, b.say("54 lb 3 oz"), "Noted: 54 lb 3 oz (24.58 kg). 9.0 kg of gas left")
	headline(t, b.say("net 9.1 kg"), "Noted: 9.1 kg net, so 24.5 kg on the scale. 9.")
	b.now = b.now.Add(10 * time.Hour)
	held := b.say("22.4 kg")
	headline(t, held, "Noted: 22.4 kg. It does not fit the weights before, so it is not counted yet.")
	b.now = b.now.Add(10 * time.Hour)
	headline(t, b.say("22.4 kg"), "Noted: 22.4 kg. 6.")
	a := b.call("weigh", "weight", "banana")
	says(t, a, "I found no weight in “banana”", "for example 20.4 kg")
	if !a.Message.Private || strings.Count(text(a), "example") != 1 {
		t.Errorf("answered %+v", a.Message)
	}
}

func TestNetWeightBecomesGross(t *testing.T) {
	b := newTable(t)
	b.say("net 7.2 kg")
	if got := b.gross(); len(got) != 1 || got[0] != 22_600 {
		t.Errorf("ledger holds %v, want 7200 + 15400 g", got)
	}
}

func TestCommands(t *testing.T) {
	b := newTable(t)
	headline(t, b.call("gas"), "Nothing is known yet")
	headline(t, b.call("weigh", "weight", "25.1 kg"), "Noted: 25.1 kg")
	headline(t, b.call("gas"), "of gas left")
	headline(t, b.call("booked", "day", "friday"), "booked for Fri 21 May")
	headline(t, b.call("plan"), "The refill is booked for Fri 21 May")
	headline(t, b.call("booked", "day", "no"), "not booked")
	headline(t, b.call("filled", "net", "9.8 kg"), "filled with 9.8 kg")
	headline(t, b.call("made", "servings", "2"), "2 servings for Ines")
	headline(t, b.call("made"), "1 serving for Ines")
	headline(t, b.call("away", "until", "2027-05-30"), "until Sun 30 May")
	headline(t, b.call("away", "until", "now"), "you are back")
	headline(t, b.call("valve", "state", "closed"), "valve is shut")
	headline(t, b.call("ran-dry"), "it ran dry")
	headline(t, b.call("entries"), "newest first")
	headline(t, b.call("undo"), "Undone: ran dry by Ines")
	headline(t, b.call("help"), "I watch the gas")
	if a := b.call("chart"); len(a.Message.Files) != 1 {
		t.Errorf("chart brings %d files", len(a.Message.Files))
	}
}

// TestMistakes: a wrong input says what was read and what would be right, and stores nothing.
func TestMistakes(t *testing.T) {
	b := newTable(t)
	for _, c := range []struct {
		name    string
		options []string
		want    string
	}{
		{"booked", []string{"day", "soonish"}, "“soonish” is not a day"},
		{"booked", []string{"day", "2027-05-01"}, "1 May 2027 is past"},
		{"filled", []string{"net", "much"}, "“much” is not a weight for net"},
		{"made", []string{"servings", "-2"}, "“-2” is not a number of servings"},
		{"valve", []string{"state", "ajar"}, "“ajar” is not a state of a valve"},
		{"undo", nil, "nothing of yours to undo"},
		{"gas", []string{"cylinder", "spare"}, "no cylinder \"spare\""},
		{"brew", nil, "There is no /brew"},
	} {
		headline(t, b.call(c.name, c.options...), c.want)
	}
	headline(t, b.press("booked:main", map[string]string{"day": "?"}), "“?” is not a day")
	headline(t, b.press("undo:x", nil), "from another time")
	headline(t, b.press("undo:999", nil), "not there any more")
	headline(t, b.press("dance:x", nil), "from another time")
	if stored := storetest.All(t, b.store); len(stored) > 0 {
		t.Errorf("stored %+v", stored)
	}
}

func TestButtonsOfNotices(t *testing.T) {
	b := newTable(t)
	b.say("16.0 kg")
	headline(t, b.press("mine:main", nil), "Ines sees to the refill")
	a := b.press("booked:main", nil)
	if a.Form == nil || a.Form.ID != "booked:main" {
		t.Fatalf("answer %+v, want a form that asks for the day", a)
	}
	headline(t, b.press(a.Form.ID, map[string]string{"day": "tomorrow"}), "booked for Mon 17 May")
	headline(t, b.press("later:main", nil), "two days")
	for i := range notice.Answers("main", b.now) {
		n := notice.Answers("main", b.now.Add(time.Duration(i)*time.Hour))[i]
		if a := b.press(n.ID, nil); a.Message == nil || !strings.HasPrefix(a.Message.Headline, "Thank you, Ines") {
			t.Errorf("button %q answers %+v", n.Label, a.Message)
		}
	}
}

// TestRestart: what was acknowledged is there after a restart, and means the same.
func TestRestart(t *testing.T) {
	b := newTable(t)
	b.say("25.1 kg")
	b.call("filled", "net", "9.7 kg", "tare", "14 kg")
	b.call("booked", "day", "friday")
	before := b.call("plan").Message
	b.restart()
	b.now = b.now.Add(-time.Minute)
	after := b.call("plan").Message
	if before.Headline != after.Headline || strings.Join(before.Body, "\n") != strings.Join(after.Body, "\n") {
		t.Errorf("after a restart:\n%s\n%s\nbefore:\n%s\n%s", after.Headline, after.Body, before.Headline, before.Body)
	}
}

func TestEveryCommandIsExplained(t *testing.T) {
	b := newTable(t)
	help := b.call("help").Message
	text := strings.Join(help.Body, "\n")
	for _, s := range b.Specs() {
		if !strings.Contains(text, "/"+s.Name+" – ") || s.Summary == "" || len(s.Summary) > 100 {
			t.Errorf("/%s is not explained in at most 100 characters", s.Name)
		}
	}
	if strings.Contains(text, "/use") {
		t.Error("help names /use, though there is one cylinder")
	}
	for _, word := range []string{"suffocates", "CO2 alarm", "strapped", "hand truck", "hot car", "licensed", "local codes"} {
		if !strings.Contains(text, word) {
			t.Errorf("help does not mention %q", word)
		}
	}
}

func TestParseDay(t *testing.T) {
	now := time.Date(2027, 5, 16, 9, 30, 0, 0, time.UTC) // a Sunday
	for text, want := range map[string]string{
		"2027-06-04": "2027-06-04", "4 June": "2027-06-04", "June 4": "2027-06-04", "4 jun 2028": "2028-06-04", "tomorrow": "2027-05-17",
		"today": "2027-05-16", "Friday": "2027-05-21", "sun": "2027-05-23", "next fri": "2027-05-21", "in 3 days": "2027-05-19", "10 days": "2027-05-26", "3 jan": "2028-01-03",
		"4.6.": "2027-06-04", "04.06.2027": "2027-06-04", "4. 6. 28": "2028-06-04", "29 feb": "2028-02-29", "29.2.": "2028-02-29", "in a week": "2027-05-23", "2 weeks": "2027-05-30",
	} {
		if got, err := parseDay(text, now); err != nil || got.Format(time.DateOnly) != want {
			t.Errorf("%q is %s, %v, want %s", text, got.Format(time.DateOnly), err, want)
		}
	}
	for _, text := range []string{"", "31 june", "2027-13-01", "yesterday", "5", "fry day", "31.6.", "31.2.2028", "6,4", "24.6 kg", "9999999999 weeks"} {
		if got, err := parseDay(text, now); err == nil {
			t.Errorf("%q is taken for %s", text, got)
		}
	}
}
