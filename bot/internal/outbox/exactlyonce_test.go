package outbox

import (
	"context"
	"database/sql"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/store"
	"tarebell/bot/internal/store/sqlite"
)

// schedules is how many random schedules of faults the property is tried on.
const schedules = 1000

// world is a household, its store and a platform, under a virtual clock.
type world struct {
	t      *rapid.T
	server *server
	store  *flaky
	path   string
	outbox *Outbox
	quiet  bool
	made   []store.Outgoing
	kills  int
}

var start = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

// boot is a new process on the same data.
func (w *world) boot() {
	w.store = &flaky{Store: w.store.Store}
	w.outbox = New(Options{Store: w.store, Channel: w.server, Now: func() time.Time { return w.server.now },
		Quiet: func(t time.Time) (time.Time, bool) { return t.Truncate(time.Hour).Add(time.Hour), w.quietAt(t) }})
}

// quietAt: every fourth hour is quiet.
func (w *world) quietAt(t time.Time) bool { return w.quiet && t.Hour()%4 == 0 }

// kill ends the process; nothing but the disk survives. The store, which keeps nothing in memory, is opened anew
// only now and then, because that takes longest.
func (w *world) kill() {
	if w.kills++; w.kills%8 == 1 {
		if err := w.store.Close(); err != nil {
			w.t.Fatal(err)
		}
		s, err := sqlite.Open(w.path)
		if err != nil {
			w.t.Fatal(err)
		}
		w.store.Store = s
	}
	w.boot()
}

// empty takes what an earlier schedule left out of the store.
func (w *world) empty() {
	db, err := sql.Open("sqlite", w.path)
	if err == nil {
		defer func() { _ = db.Close() }()
		_, err = db.Exec("DELETE FROM outgoing")
	}
	if err != nil {
		w.t.Fatal(err)
	}
}

// flush delivers what is due. It survives the death of the process.
func (w *world) flush() {
	defer func() {
		if r := recover(); r != nil {
			if _, ok := r.(killed); !ok {
				panic(r)
			}
			w.kill()
		}
	}()
	if err := w.outbox.Flush(context.Background()); err != nil {
		w.t.Fatal(err)
	}
}

func (w *world) commit(urgent bool) {
	m := chat.Message{Headline: "n"}
	if urgent {
		m.Severity = chat.Danger
	}
	payload, err := json.Marshal(m)
	if err != nil {
		w.t.Fatal(err)
	}
	o := store.Outgoing{Key: fmt.Sprint("notice ", len(w.made)), Urgent: urgent, Created: w.server.now, Payload: payload}
	if _, err := w.store.Write(context.Background(), store.Batch{Outgoing: []store.Outgoing{o}}); err != nil {
		w.t.Fatal(err)
	}
	w.made = append(w.made, o)
}

// settleDown lets time pass, without further faults, until nothing waits.
func (w *world) settleDown() {
	w.server.plan, w.store.plan = nil, nil
	for range 10 * (len(w.made) + 1) {
		w.server.advance(time.Second)
		w.flush()
		next, waits, err := w.store.NextDue(context.Background())
		if err != nil {
			w.t.Fatal(err)
		}
		if !waits {
			w.server.advance(time.Hour)
			return
		}
		w.server.advance(max(next.Sub(w.server.now), 0))
	}
	w.t.Fatalf("does not come to rest: %+v", w.outbox.Health())
}

// TestExactlyOnce tries random schedules of faults and process deaths: each notice stands in the channel once,
// no other send begins while a danger waits but the one under way, and quiet hours are kept.
func TestExactlyOnce(t *testing.T) {
	checks := flag.Lookup("rapid.checks")
	before := checks.Value.String()
	defer func() { _ = checks.Value.Set(before) }()
	_ = checks.Value.Set(fmt.Sprint(schedules))
	if testing.Short() || raced {
		_ = checks.Value.Set(fmt.Sprint(schedules / 10))
	}

	w := &world{path: filepath.Join(quickDir(t), "ledger.db"), store: &flaky{}}
	s, err := sqlite.Open(w.path)
	if err != nil {
		t.Fatal(err)
	}
	w.store.Store = s
	defer func() { _ = w.store.Close() }()
	var runs, notices, sends int
	var hits [faults]int
	rapid.Check(t, func(t *rapid.T) {
		w.t, w.server, w.made = t, &server{now: start}, nil
		w.empty()
		w.boot()
		w.quiet = rapid.Bool().Draw(t, "quiet hours")
		for range rapid.IntRange(1, 40).Draw(t, "steps") {
			w.act()
		}
		w.settleDown()
		w.check()
		runs, notices, sends = runs+1, notices+len(w.made), sends+len(w.server.sends)
		for f, n := range w.server.hits {
			hits[f] += n
		}
	})
	t.Logf("%d schedules: %d notices, %d sends, %d process deaths", runs, notices, sends, w.kills)
	for f, n := range hits {
		t.Logf("%6d × %v", n, fault(f))
		if n == 0 && !t.Failed() && !testing.Short() { // a few schedules need not meet every fault
			t.Errorf("the fault %q never happened", fault(f))
		}
	}
}

// act does one random thing.
func (w *world) act() {
	switch rapid.SampledFrom([]string{"commit", "danger", "flush", "plan", "wait and flush", "wait", "kill", "die", "meanwhile"}).Draw(w.t, "act") {
	case "commit":
		w.commit(false)
	case "danger":
		w.commit(true)
	case "flush":
		w.flush()
	case "plan":
		plan := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) fault { return fault(rapid.IntRange(0, int(faults)-1).Draw(t, "fault")) }), 1, 6).Draw(w.t, "plan")
		w.server.plan = append(w.server.plan, plan...)
	case "wait and flush":
		w.server.advance(time.Duration(rapid.IntRange(1, 100).Draw(w.t, "seconds")) * time.Second)
		w.flush()
	case "wait":
		w.server.advance(time.Duration(rapid.IntRange(1, 3*3600).Draw(w.t, "seconds")) * time.Second)
	case "kill":
		w.kill()
	case "die":
		w.store.plan = rapid.SliceOfN(rapid.Bool(), 1, 4).Draw(w.t, "die")
	case "meanwhile":
		urgent := rapid.Bool().Draw(w.t, "urgent")
		w.server.inside = func() { w.commit(urgent) }
	}
}

func (w *world) check() {
	times := map[string]int{}
	for _, p := range w.server.posts {
		times[p.id]++
	}
	for _, o := range w.made {
		if n := times[ID(o)]; n != 1 {
			w.t.Fatalf("%q stands in the channel %d times", o.Key, n)
		}
		got, err := w.store.Outgoing(context.Background(), o.Key)
		if err != nil || got.State != store.Posted || got.Posted == "" {
			w.t.Fatalf("%q is %q, posted as %q, %v", o.Key, got.State, got.Posted, err)
		}
		if o.Urgent {
			w.ahead(o)
		}
	}
	for _, s := range w.server.sends {
		if !s.urgent && w.quietAt(s.at) {
			w.t.Fatalf("a notice that could wait was sent at %v, in the quiet hours", s.at)
		}
	}
}

// ahead counts the other sends between the commit of a danger and its arrival.
func (w *world) ahead(o store.Outgoing) {
	var arrived time.Time
	for _, p := range w.server.posts {
		if p.id == ID(o) {
			arrived = p.storedAt
		}
	}
	others := 0
	for _, s := range w.server.sends {
		if !s.urgent && !s.at.Before(o.Created) && s.at.Before(arrived) {
			others++
		}
	}
	if others > 1 {
		w.t.Fatalf("%q, made %v, arrived %v behind %d other sends", o.Key, o.Created, arrived, others)
	}
}

// quickDir is a folder in memory where there is one: these tests kill the program, not the machine, so that
// the wait for the disk would show nothing.
func quickDir(t *testing.T) string {
	if dir, err := os.MkdirTemp("/dev/shm", "outbox"); err == nil {
		t.Cleanup(func() { _ = os.RemoveAll(dir) })
		return dir
	}
	return t.TempDir()
}
