package main

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"tarebell/bot/internal/app"
	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/chat/terminal"
	"tarebell/bot/internal/household"
	"tarebell/bot/internal/notice"
	"tarebell/bot/internal/store"
	"tarebell/bot/internal/tables"
	"tarebell/config"
)

// An invented household that types everything.
const yearHouse = `
household:
  name: Linden Row kitchen
  timezone: Europe/Vienna
  litres_per_day: 8 L
  members: [{name: Ines, id: "101"}, {name: Joon, id: "102"}, {name: Marta, id: "103"}]
cylinders:
  - {name: main, tare: 14.30 kg, fittings: 1.10 kg, net_fill: 10 kg, retest: {last: 2024-05, every: 5y}}
  - {name: spare, tare: 14.10 kg, fittings: 1.10 kg, net_fill: 10 kg, spare: true}
refill: {lead_days: 3, open: [mon, tue, wed, thu, fri], holidays: at, price: 42 EUR, alternative: 0.38 EUR, outlay: 310 EUR}
serving: {litres: 0.84, co2: 6 g}
`

// year is a household typing its whole year into the terminal channel.
type year struct {
	t      *testing.T
	app    *app.App
	ch     *terminal.Channel
	now    time.Time
	net    map[string]float64
	in     string
	random *rand.Rand
}

var people = []chat.Member{{ID: "101", Name: "ines.k"}, {ID: "102", Name: "joon"}, {ID: "103", Name: "marta_m"}}

func (y *year) who() chat.Member { return people[y.random.IntN(len(people))] }

func (y *year) call(name string, options ...string) string {
	y.t.Helper()
	y.now = y.now.Add(time.Minute)
	a := y.ch.Calls(context.Background(), y.who(), name, options...)
	if a.Message == nil || !strings.HasPrefix(a.Message.Headline, "Noted") && name != "cost" && name != "plan" {
		y.t.Fatalf("/%s %v answers %+v", name, options, a.Message)
	}
	return a.Message.Headline
}

func (y *year) press(button string, fields ...string) {
	y.t.Helper()
	y.now = y.now.Add(time.Minute)
	if a := y.ch.Presses(context.Background(), y.who(), button, fields...); a.Message == nil {
		y.t.Fatalf("pressing %s answers nothing", button)
	}
}

// day lives one day: people drink, log some of it, and weigh now and then in units as they come.
func (y *year) day(i int) {
	y.now = y.now.AddDate(0, 0, 1)
	use := 40 + 30*y.random.Float64()
	y.net[y.in] -= use
	if err := y.app.Tick(context.Background()); err != nil {
		y.t.Fatal(err)
	}
	if i%4 == 0 {
		y.call("made", "servings", fmt.Sprint(4+y.random.IntN(12)))
	}
	if i%5 == 0 {
		y.weigh()
	}
	switch i {
	case 40:
		y.call("away", "until", y.now.AddDate(0, 0, 6).Format(time.DateOnly))
	case 44:
		y.call("away", "until", "now")
	case 60:
		y.press("serving:5.80:0.84:x60")
	case 70:
		y.call("away", "until", y.now.AddDate(0, 0, 9).Format(time.DateOnly), "who", "Joon")
	case 100:
		y.call("valve", "state", "closed")
	case 101:
		y.call("valve", "state", "open")
	}
	if y.net[y.in] < 700 {
		y.refill()
	}
}

var tares = map[string]float64{"main": 15_400, "spare": 15_200}

func (y *year) weigh() {
	gross := tares[y.in] + y.net[y.in] + 15*y.random.NormFloat64()
	text := fmt.Sprintf("%s %.2f kg", y.in, gross/1000)
	if y.random.IntN(4) == 0 {
		text = fmt.Sprintf("%s %.1f lb", y.in, gross/453.59237)
	}
	y.now = y.now.Add(time.Minute)
	if a := y.ch.Says(context.Background(), y.who(), text); a.Message == nil || !strings.HasPrefix(a.Message.Headline, "Noted") {
		y.t.Fatalf("%q answers %+v", text, a.Message)
	}
}

// refill changes over to the spare, books, changes the day once, and brings the other one back full.
func (y *year) refill() {
	old := y.in
	y.in = map[string]string{"main": "spare", "spare": "main"}[old]
	y.call("use", "name", y.in)
	y.press("mine:" + y.in)
	y.call("booked", "day", "in 5 days")
	y.press("nobook:" + y.in)
	y.call("booked", "day", "in 6 days")
	y.now = y.now.AddDate(0, 0, 6)
	y.net[old] = 9_900
	y.call("filled", "net", "9.9 kg", "price", fmt.Sprintf("%d.50", 40+y.random.IntN(5)), "cylinder", old)
}

func (y *year) start(dir string, cfg *config.Config) {
	y.t.Helper()
	var err error
	y.app, err = app.Start(context.Background(), app.Options{Config: cfg, Data: dir, Now: func() time.Time { return y.now }, Log: slog.New(slog.DiscardHandler),
		Open: func(specs []chat.Spec, _ store.Store) (chat.Channel, error) {
			y.ch, err = terminal.New(terminal.Options{Out: io.Discard, Commands: specs, Dir: dir, Zone: cfg.Household.Location, Now: func() time.Time { return y.now }})
			return y.ch, err
		}})
	if err != nil {
		y.t.Fatal(err)
	}
	y.ch.Handle(y.app.Handler)
}

// state is all that the household is told, in words, with the figures to the last bit.
func state(v notice.Voice, get func(string, time.Time) (notice.Situation, bool), account func(time.Time) notice.Account, now time.Time) string {
	var b strings.Builder
	for _, name := range []string{"main", "spare"} {
		s, ok := get(name, now)
		head, body := v.Plan(s)
		fmt.Fprintln(&b, ok, head, body, v.Reasons(s))
		fmt.Fprintln(&b, s.Outlook.Gas, s.Outlook.Use, s.Outlook.Loss, s.Spare, s.House, s.Booked.Unix(), s.BookedBy, s.Carrier, s.LeadBookings, s.Answers)
		for _, p := range []float64{0.05, 0.5, 0.95} {
			if s.Outlook.RunOut.Known() {
				fmt.Fprintln(&b, s.Outlook.RunOut.Quantile(p))
			}
		}
		for _, turn := range s.Turns {
			fmt.Fprintln(&b, turn.Name, turn.Last.Unix())
		}
	}
	a := account(now)
	for _, part := range []func() (string, []string){func() (string, []string) { return v.Cost(a) }, func() (string, []string) { return v.History(a, "") }} {
		head, body := part()
		fmt.Fprintln(&b, head, strings.Join(body, "\n"))
	}
	return b.String()
}

// TestYear: a year typed into the terminal channel ends in the same state as the replay of its export, as its import into
// a new ledger, and as the program started anew.
func TestYear(t *testing.T) {
	if testing.Short() {
		t.Skip("lives through a year")
	}
	cfg, err := config.Parse("house.yaml", []byte(yearHouse))
	if err != nil {
		t.Fatal(err)
	}
	settings, err := app.Household(cfg)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	y := &year{t: t, now: time.Date(2027, 1, 4, 19, 0, 0, 0, cfg.Household.Location), random: rand.New(rand.NewPCG(3, 4)),
		net: map[string]float64{"main": 9_800, "spare": 9_900}, in: "main"}
	y.start(filepath.Join(dir, "a"), cfg)
	y.weigh()
	for i := range 365 {
		y.day(i)
	}
	v := settings.Voice
	live := state(v, y.app.House.Situation, y.app.House.Account, y.now)
	if err := y.app.Close(context.Background()); err != nil {
		t.Fatal(err)
	}
	if strings.Count(live, "EUR paid by") < 2 || !strings.Contains(live, "servings") {
		t.Fatalf("the year was not lived:\n%s", live)
	}

	y.start(filepath.Join(dir, "a"), cfg)
	check(t, "started anew", live, state(v, y.app.House.Situation, y.app.House.Account, y.now))
	if err := y.app.Close(context.Background()); err != nil {
		t.Fatal(err)
	}

	out := filepath.Join(dir, "out")
	ledger, err := app.Snapshot(t.Context(), filepath.Join(dir, "a"))
	if err != nil {
		t.Fatal(err)
	}
	n, err := tables.Export(context.Background(), ledger, out, app.Tables(cfg))
	if err != nil {
		t.Fatal(err)
	}
	if err := ledger.Close(); err != nil {
		t.Fatal(err)
	}
	t.Logf("%d weighings, %d events", n.Weighings, n.Events)
	check(t, "replayed", live, replayed(t, settings, out, y.now))

	fresh, err := app.Ledger(filepath.Join(dir, "b"))
	if err != nil {
		t.Fatal(err)
	}
	o := app.Tables(cfg)
	o.Now = y.now
	for _, want := range []tables.Count{n, {Known: n.Weighings + n.Events}} {
		got, err := tables.Import(context.Background(), fresh, filepath.Join(out, "weighings.csv"), filepath.Join(out, "events.csv"), o)
		if err != nil || got != want {
			t.Fatalf("imported %+v, %v, want %+v", got, err, want)
		}
	}
	if err := fresh.Close(); err != nil {
		t.Fatal(err)
	}
	y.start(filepath.Join(dir, "b"), cfg)
	check(t, "imported", live, state(v, y.app.House.Situation, y.app.House.Account, y.now))
	if err := y.app.Close(context.Background()); err != nil {
		t.Fatal(err)
	}
	for _, name := range tables.Files[:2] {
		again(t, filepath.Join(dir, "b"), cfg, out, name)
	}
}

func check(t *testing.T, how, want, got string) {
	t.Helper()
	if diff := cmp.Diff(strings.Split(want, "\n"), strings.Split(got, "\n")); diff != "" {
		t.Errorf("%s it is another state (-live +%s):\n%s", how, how, diff)
	}
}

func replayed(t *testing.T, o household.Options, dir string, now time.Time) string {
	t.Helper()
	history, done, err := app.Recorded(context.Background(), o, filepath.Join(dir, "weighings.csv"), filepath.Join(dir, "events.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer done()
	e := household.New(o)
	for ev, err := range history {
		if err != nil {
			t.Fatal(err)
		}
		e.Apply(ev)
	}
	e.Advance(now)
	return state(o.Voice, e.Situation, e.Account, now)
}

// again: exporting what was imported gives the same file.
func again(t *testing.T, data string, cfg *config.Config, first, name string) {
	t.Helper()
	dir := t.TempDir()
	ledger, err := app.Snapshot(t.Context(), data)
	if err != nil {
		t.Fatal(err)
	}
	defer ledger.Close()
	if _, err := tables.Export(context.Background(), ledger, dir, app.Tables(cfg)); err != nil {
		t.Fatal(err)
	}
	a, err1 := os.ReadFile(filepath.Join(first, name))
	b, err2 := os.ReadFile(filepath.Join(dir, name))
	if err1 != nil || err2 != nil || !slices.Equal(a, b) {
		t.Errorf("%s changes on its way out, in and out again: %v %v", name, err1, err2)
	}
}
