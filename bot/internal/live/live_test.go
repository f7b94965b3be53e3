package live

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"log/slog"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/household"
	"tarebell/bot/internal/notice"
	"tarebell/bot/internal/store"
	"tarebell/bot/internal/store/sqlite"
	"tarebell/bot/internal/store/storetest"
	"tarebell/forecast"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
	"tarebell/sources"
)

var (
	ctx   = context.Background()
	start = time.Date(2027, 3, 1, 9, 0, 0, 0, time.UTC)
)

// flaky is a ledger that can be made to refuse a write, and that counts.
type flaky struct {
	store.Store
	fail   error
	writes []store.Batch
	reads  int              // of entries
	from   []store.Position // where they began
}

func (f *flaky) Write(ctx context.Context, b store.Batch) (store.Written, error) {
	if f.fail != nil {
		return store.Written{}, f.fail
	}
	f.writes = append(f.writes, b)
	return f.Store.Write(ctx, b)
}

func (f *flaky) Entries(ctx context.Context, after store.Position) iter.Seq2[store.Entry, error] {
	f.reads++
	f.from = append(f.from, after)
	return f.Store.Entries(ctx, after)
}

type rig struct {
	*House
	t      testing.TB
	store  *flaky
	path   string
	from   *from
	status time.Duration // between two statuses
	now    time.Time
	log    strings.Builder
}

func newRig(t testing.TB) *rig {
	t.Helper()
	path := filepath.Join(t.TempDir(), "ledger.db")
	s, err := sqlite.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	r := &rig{t: t, store: &flaky{Store: s}, path: path, now: start, status: 24 * time.Hour} // a status every midnight
	r.reopen()
	return r
}

// reopen starts the house afresh on the same ledger.
func (r *rig) reopen() {
	r.t.Helper()
	if err := r.open(); err != nil {
		r.t.Fatal(err)
	}
}

func (r *rig) open() error {
	o := household.Options{Voice: notice.Voice{Zone: time.UTC}, ReviewHour: 8,
		NextStatus: func(t time.Time) time.Time { return t.Truncate(r.status).Add(r.status) },
		Cylinders: []household.Cylinder{{Name: "main", SilentAfter: 6 * time.Hour, AirAlarm: 5_000,
			Forecast: forecast.Options{Tare: 9_000, Fittings: 1_000, NetFill: 6_000, Seed: 1}}},
		Refill: household.Refill{Refill: record.Refill{LeadDays: 3, Risk: 0.05}}}
	var made any
	if r.from != nil {
		made = r.from
	}
	h, err := Open(ctx, Options{Household: o, From: made, Store: r.store, Log: slog.New(slog.NewTextHandler(&r.log, nil)), Now: func() time.Time { return r.now },
		Compose: func(n notice.Notice) ([]byte, error) {
			return json.Marshal(chat.Message{Headline: n.Headline, Body: n.Body})
		}})
	r.House = h
	return err
}

// scaled is a weighing by the scale.
func scaled(at time.Time, g float64) store.Entry {
	e := record.Event{Kind: record.Weighed, Cylinder: "main", Gross: unit.Grams(g), At: at, Origin: record.Scale}
	return store.Entry{Key: sources.Key(e), Event: e, Received: at}
}

// typedIn is a weighing that Ines typed.
func typedIn(key string, at, received time.Time, g float64) store.Entry {
	return store.Entry{Key: key, Received: received, Account: "Ines",
		Event: record.Event{Kind: record.Weighed, Cylinder: "main", Gross: unit.Grams(g), At: at, By: "Ines", Origin: record.Manual}}
}

func (r *rig) weigh(at time.Time, g float64) store.Entry {
	r.t.Helper()
	r.now = later(r.now, at)
	w := scaled(at, g)
	e, err := r.Accept(ctx, w)
	if err != nil {
		r.t.Fatal(err)
	}
	return e
}

// days weighs hourly for some days from at on, 50 g a day going by.
func (r *rig) days(at time.Time, n int, gas float64) time.Time {
	for h := range 24 * n {
		r.weigh(at.Add(time.Duration(h)*time.Hour), 10_000+gas-50.0/24*float64(h)+float64(h%7))
	}
	return at.Add(time.Duration(24*n-1) * time.Hour)
}

// keys are the notices handed to the outbox.
func (r *rig) keys() map[string]bool {
	r.t.Helper()
	out, err := r.store.History(ctx, 1000)
	if err != nil {
		r.t.Fatal(err)
	}
	keys := map[string]bool{}
	for _, o := range out {
		keys[o.Key] = true
	}
	return keys
}

// state is everything the engine says of the cylinder, to compare two houses.
func (r *rig) state(now time.Time) string {
	s, ok := r.Situation("main", now)
	if !ok {
		r.t.Fatal("no such cylinder")
	}
	o := s.Outlook
	return fmt.Sprint(o.Gas, o.Use, o.LastSeen, o.RunOut.Quantile(0.1), o.RunOut.Quantile(0.9), s.BookBy, s.Booked, s.Filled)
}

func TestRestartGivesTheSameState(t *testing.T) {
	r := newRig(t)
	last := r.days(start, 5, 5_900)
	before, keys := r.state(last), len(r.keys())
	if keys < 5 {
		t.Fatalf("%d notices in five days, want a status each midnight", keys)
	}
	r.reopen()
	if after := r.state(last); after != before {
		t.Errorf("after a restart\n%s\nbefore\n%s", after, before)
	}
	if err := r.Advance(ctx, last); err != nil {
		t.Fatal(err)
	}
	if n := len(r.keys()); n != keys {
		t.Errorf("a restart said %d notices more", n-keys)
	}
}

func TestMissedStatusComesOnceAfterSleep(t *testing.T) {
	r := newRig(t)
	last := r.days(start, 2, 5_900)
	keys := len(r.keys())
	r.now = last.AddDate(0, 0, 4)
	r.reopen()
	for range 2 {
		if err := r.Advance(ctx, r.now); err != nil {
			t.Fatal(err)
		}
	}
	if n := len(r.keys()); n != keys+1 {
		t.Errorf("%d new notices after four days asleep, want the status of the last midnight", n-keys)
	}
}

// TestPause: while the program sleeps, or its clock leaps, no scale is silent. What is awake counts, also after a restart.
func TestPause(t *testing.T) {
	silent := func(r *rig) (n int) {
		for key := range r.keys() {
			if strings.HasPrefix(key, "main/scale-silent/") {
				n++
			}
		}
		return n
	}
	for _, c := range []struct {
		what string
		set  func(r *rig, last time.Time) time.Time // until then no reading came
	}{
		{"asleep for two days", func(r *rig, last time.Time) time.Time { return last.AddDate(0, 0, 2) }},
		{"a clock a day behind for twelve hours", func(r *rig, last time.Time) time.Time {
			for h := 1; h < 12; h++ {
				r.weigh(last.Add(time.Duration(h-24)*time.Hour+time.Minute), 15_800)
			}
			return last.Add(12 * time.Hour)
		}},
		{"a clock a day ahead for twelve hours", func(r *rig, last time.Time) time.Time {
			for h := 1; h < 12; h++ {
				r.weigh(last.Add(time.Duration(h+24)*time.Hour), 15_800)
			}
			for h := 12; h < 36; h++ {
				r.now = last.Add(time.Duration(h) * time.Hour)
				if _, err := r.Accept(ctx, scaled(r.now, 15_800)); err != nil {
					t.Fatal(err)
				}
			}
			return last.Add(36 * time.Hour)
		}},
	} {
		r := newRig(t)
		r.from = &from{"a"}
		r.reopen()
		on := c.set(r, r.days(start, 2, 5_900))
		r.weigh(on, 15_800)
		r.tick(on.Add(5 * time.Hour))
		if n := silent(r); n != 0 {
			t.Errorf("%s: told %d times that the scale is silent", c.what, n)
		}
		again := r.rebuilt()
		if again.Next() != r.Next() {
			t.Errorf("%s: gone through again, next is %s, want %s", c.what, again.Next(), r.Next())
		}
		r.now = on.Add(7 * time.Hour)
		r.tick(r.now)
		if n := silent(r); n != 1 {
			t.Errorf("%s: silent for six hours since, told %d times", c.what, n)
		}
	}
	r := newRig(t)
	r.now = r.days(start, 2, 5_900).AddDate(0, 0, 2)
	if err := r.Advance(ctx, r.now); err != nil {
		t.Fatal(err)
	}
	if n := silent(r); n != 0 {
		t.Errorf("on waking told %d times", n)
	}
	r.reopen()
	r.now = r.now.Add(7 * time.Hour)
	r.tick(r.now)
	if n := silent(r); n != 1 {
		t.Errorf("seven hours awake without a reading: told %d times", n)
	}
}

func TestRepeatedWeighingChangesNothing(t *testing.T) {
	r := newRig(t)
	last := r.days(start, 1, 5_900)
	before := r.state(last)
	if e := r.weigh(last, 12_345); e.Seq != 0 {
		t.Errorf("a known key was accepted as entry %d", e.Seq)
	}
	if after := r.state(last); after != before {
		t.Error("a repeat changed the state")
	}
}

// TestLateWeighing: arrival order does not change the result.
func TestLateWeighing(t *testing.T) {
	early, late := newRig(t), newRig(t)
	at := start.Add(30*time.Hour + 20*time.Minute)
	for h := range 72 {
		now := start.Add(time.Duration(h) * time.Hour)
		early.weigh(now, 15_900-2*float64(h))
		late.weigh(now, 15_900-2*float64(h))
		if h == 30 {
			early.weigh(at, 15_838)
		}
	}
	end := start.Add(71 * time.Hour)
	late.weigh(at, 15_838)
	if a, b := early.state(end), late.state(end); a != b {
		t.Errorf("in time\n%s\nlate\n%s", a, b)
	}
}

func TestVoidedWeighingNeverWas(t *testing.T) {
	with, without := newRig(t), newRig(t)
	var wrong store.Entry
	for h := range 48 {
		now := start.Add(time.Duration(h) * time.Hour)
		with.weigh(now, 15_900-2*float64(h))
		without.weigh(now, 15_900-2*float64(h))
		if h == 20 {
			wrong = with.weigh(now.Add(time.Minute), 15_400)
		}
	}
	if _, err := with.Void(ctx, wrong.Seq); err != nil {
		t.Fatal(err)
	}
	end := start.Add(47 * time.Hour)
	if a, b := with.state(end), without.state(end); a != b {
		t.Errorf("voided\n%s\nnever entered\n%s", a, b)
	}
	if _, err := with.Void(ctx, wrong.Seq); !errors.Is(err, ErrVoided) {
		t.Errorf("voiding twice: %v, want ErrVoided", err)
	}
	if _, err := with.Void(ctx, 9_999); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("voiding nothing: %v, want ErrNotFound", err)
	}
}

// TestFailedWriteAcceptsNothing: what could not be written was not accepted, and does not linger in the engine.
func TestFailedWriteAcceptsNothing(t *testing.T) {
	r := newRig(t)
	last := r.days(start, 2, 5_900)
	before := r.state(last)
	r.store.fail = store.ErrFull
	w := store.Entry{Key: "x", Event: record.Event{Kind: record.Weighed, Cylinder: "main", Gross: 11_000, At: last.Add(time.Hour), Origin: record.Scale}, Received: last}
	if _, err := r.Accept(ctx, w); !errors.Is(err, store.ErrFull) {
		t.Fatalf("error %v, want ErrFull", err)
	}
	if err := r.Advance(ctx, last.AddDate(0, 0, 1)); !errors.Is(err, store.ErrFull) {
		t.Errorf("letting time pass with a full disk: %v, want ErrFull", err)
	}
	r.store.fail = nil
	keys := len(r.keys())
	if err := r.Advance(ctx, last.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	if after := r.state(last.Add(time.Hour)); after == before {
		t.Fatal("the state cannot tell two moments apart; this test shows nothing")
	}
	other := newRig(t)
	other.days(start, 2, 5_900)
	if a, b := r.state(last.Add(2*time.Hour)), other.state(last.Add(2*time.Hour)); a != b {
		t.Errorf("after a failed write\n%s\nwithout it\n%s", a, b)
	}
	if n := len(r.keys()); n < keys {
		t.Errorf("%d notices lost", keys-n)
	}
}

// TestRepeatIsCheap: what is told twice, at once or after much else, is known by its key: the engine does not hear of it, and
// nothing is read or written.
func TestRepeatIsCheap(t *testing.T) {
	r := newRig(t)
	last := r.days(start, 1, 5_900)
	e := store.Entry{Key: "said/1", Account: "1", Received: last, Event: record.Event{Cylinder: "main", At: last, Kind: record.Filled, Net: 5_000, By: "Ines"}}
	if got, err := r.Accept(ctx, e); err != nil || got.Seq == 0 {
		t.Fatalf("accepted as %d, %v", got.Seq, err)
	}
	for _, now := range []time.Time{last, last.Add(3 * time.Hour)} {
		if err := r.Advance(ctx, now); err != nil {
			t.Fatal(err)
		}
		before, reads, writes := r.state(now), r.store.reads, len(r.store.writes)
		if got, err := r.Accept(ctx, e); err != nil || got.Seq != 0 {
			t.Errorf("the repeat came back as %d, %v", got.Seq, err)
		}
		if after := r.state(now); after != before {
			t.Errorf("the repeat changed\n%s\nto\n%s", before, after)
		}
		if r.store.reads != reads || len(r.store.writes) != writes {
			t.Errorf("the repeat cost %d readings of the ledger and %d writes", r.store.reads-reads, len(r.store.writes)-writes)
		}
		r.weigh(now.Add(time.Hour), 14_900)
	}
}

// TestCorrectionIsOneWrite: an entry of the past and the warning that it brings about stand in the ledger together or not at all.
func TestCorrectionIsOneWrite(t *testing.T) {
	r := newRig(t)
	last := r.days(start, 2, 5_900)
	air := store.Entry{Key: "air/1", Account: "", Received: last, Event: record.Event{Cylinder: "main", At: last.Add(-90 * time.Minute), Kind: record.Air, PPM: 6_000}}
	before := r.state(last)
	r.store.fail = store.ErrFull
	if _, err := r.Accept(ctx, air); !errors.Is(err, store.ErrFull) {
		t.Fatalf("error %v, want ErrFull", err)
	}
	r.store.fail = nil
	if known, err := r.store.Known(ctx, air.Key); known || err != nil {
		t.Errorf("what was refused is in the ledger (%v)", err)
	}
	if err := r.Advance(ctx, last); err != nil {
		t.Fatal(err)
	}
	if after := r.state(last); after != before {
		t.Errorf("after a refused correction\n%s\nbefore\n%s", after, before)
	}
	writes := len(r.store.writes)
	if e, err := r.Accept(ctx, air); err != nil || e.Seq == 0 {
		t.Fatalf("accepted as %d, %v", e.Seq, err)
	}
	if done := r.store.writes[writes:]; len(done) != 1 || len(done[0].Entries) != 1 || len(done[0].Outgoing) != 1 || !done[0].Outgoing[0].Urgent {
		t.Errorf("written as %+v, want the entry and its alarm in one batch", done)
	}
}

// TestReminderIsNotDoubled: after a reminder somebody enters a weight of the evening before, upon which it would have been due already.
// What was told since is not told again.
func TestReminderIsNotDoubled(t *testing.T) {
	r := newRig(t)
	due := func() (n int) {
		for key := range r.keys() {
			if strings.Contains(key, string(notice.RefillDue)) {
				n++
			}
		}
		return n
	}
	typed := func(at time.Time, less float64) {
		t.Helper()
		gross := 12_900 - 55*at.Sub(start).Hours()/24 - less
		w := store.Entry{Key: sources.Key(record.Event{Origin: record.Manual, Cylinder: "main", At: at}), Event: record.Event{Kind: record.Weighed, Cylinder: "main", By: "Ines", Gross: unit.Grams(gross), At: at, Origin: record.Manual}, Received: r.now}
		if _, err := r.Accept(ctx, w); err != nil {
			t.Fatal(err)
		}
	}
	for day := 0; due() == 0; day++ {
		r.now = start.AddDate(0, 0, day)
		if day%4 == 0 {
			typed(r.now, 0)
		}
		if err := r.Advance(ctx, r.now); err != nil {
			t.Fatal(err)
		}
		if day > 60 {
			t.Fatal("nobody was told to book")
		}
	}
	typed(r.now.Add(-15*time.Hour), 150)
	if n := due(); n != 1 {
		t.Errorf("told %d times to book", n)
	}
}

// TestRenamedCylinder: who renames a cylinder is told why its history is gone.
func TestRenamedCylinder(t *testing.T) {
	r := newRig(t)
	r.weigh(start, 15_900)
	old := store.Entry{Key: "old", Received: start, Event: record.Event{Kind: record.Weighed, Cylinder: "kitchen", At: start.Add(-time.Hour), Origin: record.Scale, Gross: 15_950}}
	if _, err := r.store.Write(ctx, store.Batch{Entries: []store.Entry{old}}); err != nil {
		t.Fatal(err)
	}
	if r.log.Len() > 0 {
		t.Errorf("logged before: %s", r.log.String())
	}
	r.reopen()
	if said := r.log.String(); !strings.Contains(said, "cylinder=kitchen entries=1") || strings.Contains(said, "main") {
		t.Errorf("logged %q", said)
	}
	if s, _ := r.Situation("", r.now); len(s.Unlisted) != 1 || s.Unlisted[0] != "kitchen" {
		t.Errorf("unlisted %v", s.Unlisted)
	}
}

// TestStoppedMeanwhile: what has begun is finished, in order or in the past, and taken back, though the program is being stopped.
func TestStoppedMeanwhile(t *testing.T) {
	r := newRig(t)
	r.weigh(start, 15_900)
	stopped, stop := context.WithCancel(ctx)
	stop()
	for i, at := range []time.Time{start.Add(time.Hour), start.Add(30 * time.Minute)} {
		w := store.Entry{Key: fmt.Sprint("said/", i), Event: record.Event{Kind: record.Weighed, Cylinder: "main", By: "Ines", Gross: 15_890, At: at, Origin: record.Manual}, Received: at}
		e, err := r.Accept(stopped, w)
		if err != nil || e.Seq == 0 {
			t.Fatalf("accepted as %d, %v", e.Seq, err)
		}
		if _, err := r.Void(stopped, e.Seq); err != nil {
			t.Error(err)
		}
	}
}

func TestNonsenseIsRefused(t *testing.T) {
	r := newRig(t)
	for name, e := range map[string]store.Entry{
		"no time":       {Key: "a", Event: record.Event{Kind: record.Weighed, Cylinder: "main", Gross: 1}},
		"unknown event": {Key: "b", Event: record.Event{Kind: "painted", Cylinder: "main", At: start}},
		"bad value":     {Key: "c", Event: record.Event{Kind: record.Made, Cylinder: "main", At: start, Count: -1}},
	} {
		if _, err := r.Accept(ctx, e); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
	if stored := storetest.All(t, r.store); len(stored) > 0 {
		t.Errorf("stored %+v", stored)
	}
}

// TestStartsWithThePast: who begins with a weight of two months ago is not told what would have been said since; after a restart
// neither, and from then on all is told as ever.
func TestStartsWithThePast(t *testing.T) {
	r := newRig(t)
	r.now = start
	w := store.Entry{Key: "said/1", Event: record.Event{Kind: record.Weighed, Cylinder: "main", By: "Ines", Gross: 15_900, At: start.AddDate(0, 0, -60), Origin: record.Manual}, Received: start}
	if _, err := r.Accept(ctx, w); err != nil {
		t.Fatal(err)
	}
	r.reopen()
	if err := r.Advance(ctx, start); err != nil {
		t.Fatal(err)
	}
	if keys := r.keys(); len(keys) > 2 { // of the day that ends now
		t.Errorf("told %v", keys)
	}
	before := len(r.keys())
	if err := r.Advance(ctx, start.AddDate(0, 0, 2)); err != nil {
		t.Fatal(err)
	}
	if len(r.keys()) == before {
		t.Error("nothing is told any more")
	}
}

// TestFirstStartAfterImport: no status of the days between the imported entries and the first start is posted, and nothing that is
// said claims to have been meant for then.
func TestFirstStartAfterImport(t *testing.T) {
	r := newRig(t)
	var b store.Batch
	for d := range 30 {
		at := start.AddDate(0, 0, d)
		w := store.Entry{Key: fmt.Sprint("w", d), Event: record.Event{Kind: record.Weighed, Cylinder: "main", By: "Ines", Gross: unit.Grams(15_900 - 50*d), At: at, Origin: record.Manual}, Received: at}
		b.Entries = append(b.Entries, w)
	}
	if _, err := r.store.Store.Write(ctx, b); err != nil {
		t.Fatal(err)
	}
	r.now = start.AddDate(0, 0, 90)
	r.reopen()
	history, err := r.store.History(ctx, 50)
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range history {
		if o.Kind == string(notice.WeeklyStatus) || !o.Due.Equal(r.now) {
			t.Errorf("%s, meant for %s", o.Key, o.Due)
		}
	}
	if next := r.Next(); !next.After(r.now) {
		t.Errorf("next at %s, before the start", next)
	}
}

// TestOverIsMarked: when an alert's end is told, the alert and its repeats are changed where they stand, and only they.
func TestOverIsMarked(t *testing.T) {
	r := newRig(t)
	say := func(n notice.Notice) {
		t.Helper()
		if _, err := r.write(ctx, store.Batch{}, []notice.Notice{n}); err != nil {
			t.Fatal(err)
		}
	}
	leak := notice.Notice{Kind: notice.PossibleLeak, Cylinder: "main", At: start, Severity: notice.Danger, Headline: "Gas is escaping."}
	for _, key := range []string{"main/other", "main/first", "main/again", "main/end"} {
		leak.Key = key
		switch key {
		case "main/again":
			leak.Follows = "main/first"
		case "main/end":
			leak.Ends = true
		}
		say(leak)
	}
	out, err := r.store.History(ctx, 100)
	if err != nil {
		t.Fatal(err)
	}
	var marked []string
	for _, o := range out {
		if o.Edits != "" {
			marked = append(marked, o.Edits)
			var m chat.Message
			if err := json.Unmarshal(o.Payload, &m); err != nil || m.Headline != notice.Over("Gas is escaping.") || len(m.Body)+len(m.Buttons) > 0 {
				t.Errorf("%s now reads %+v (%v)", o.Edits, m, err)
			}
		}
	}
	slices.Sort(marked)
	if want := []string{"main/again", "main/first"}; !slices.Equal(marked, want) {
		t.Errorf("marked %v, want %v", marked, want)
	}
}

// BenchmarkRebuild is what an undo or an entry of the past costs after a year of readings every ten minutes, with a status every day.
func BenchmarkRebuild(b *testing.B) {
	r := newRig(b)
	var year []store.Entry
	gas := 5_900.0
	for i := range 365 * 24 * 6 {
		at := start.Add(time.Duration(i) * 10 * time.Minute)
		if at.Hour() >= 8 && at.Hour() < 22 {
			gas -= 50.0 / 84
		}
		if gas < 600 {
			gas = 5_900
		}
		w := store.Entry{Key: sources.Key(record.Event{Origin: record.Scale, Cylinder: "main", At: at}), Event: record.Event{Kind: record.Weighed, Cylinder: "main", Gross: unit.Grams(10_000 + gas + float64(i*7919%13) - 6), At: at, Origin: record.Scale}, Received: at}
		year = append(year, w)
	}
	if _, err := r.store.Write(ctx, store.Batch{Entries: year}); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, _, err := r.rebuild(ctx, store.Batch{}); err != nil {
			b.Fatal(err)
		}
	}
}

// TestReplace: a weight put right counts as if it had been typed right at once, and what it replaces is kept, struck out.
func TestReplace(t *testing.T) {
	put, right := newRig(t), newRig(t)
	typed := func(r *rig, key string, g unit.Grams, at time.Time) store.Entry {
		return store.Entry{Key: key, Event: record.Event{Kind: record.Weighed, Cylinder: "main", By: "Ines", Gross: g, At: at, Origin: record.Manual}, Received: at}
	}
	last := put.days(start, 2, 5_900)
	right.days(start, 2, 5_900)
	at := last.Add(time.Hour)
	wrong, err := put.Accept(ctx, typed(put, "said/1", 15_100, at))
	if err != nil {
		t.Fatal(err)
	}
	writes := len(put.store.writes)
	if _, err := put.Replace(ctx, wrong.Seq, typed(put, "said/2~1", 15_700, at)); err != nil {
		t.Fatal(err)
	}
	if n := len(put.store.writes) - writes; n != 1 {
		t.Errorf("replaced in %d writes", n)
	}
	if _, err := right.Accept(ctx, typed(right, "said/1", 15_700, at)); err != nil {
		t.Fatal(err)
	}
	if a, b := put.state(at), right.state(at); a != b {
		t.Errorf("put right\n%s\ntyped right\n%s", a, b)
	}
	if _, err := put.Replace(ctx, wrong.Seq, typed(put, "said/3", 15_600, at)); !errors.Is(err, ErrVoided) {
		t.Errorf("replacing what is gone: %v, want ErrVoided", err)
	}
	if e, err := put.Entry(ctx, wrong.Seq); err != nil || !e.Voided {
		t.Errorf("what was replaced: %+v, %v", e, err)
	}
}
