package discord_test

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/chat/discord/discordtest"
	"tarebell/bot/internal/outbox"
	"tarebell/bot/internal/store"
	"tarebell/bot/internal/store/sqlite"
)

// schedules is how many random schedules TestDelivery tries; TAREBELL_SCHEDULES asks for another number.
func schedules(t *testing.T) int {
	if s := os.Getenv("TAREBELL_SCHEDULES"); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil || n < 1 {
			t.Fatalf("TAREBELL_SCHEDULES is %q; want a number of schedules such as 1000", s)
		}
		return n
	}
	if testing.Short() || racing {
		return 25
	}
	return 50
}

// The outbox, the ledger, this adapter and the strict stand-in together, under random schedules of faults, lost
// connections, long backlogs, permissions that come and go, and deaths of the process: each notice stands in the channel
// once, in the place that the ledger names, and no more than one other send succeeds while a danger waits; each weight is
// heard once, and each confirmation delivered once. Time is the test's own.
func TestDelivery(t *testing.T) {
	t.Parallel()
	const each = 25 // schedules on one platform and ledger
	n := schedules(t)
	var sum tally
	t.Run("parts", func(t *testing.T) {
		for first := 0; first < n; first += each {
			t.Run(fmt.Sprint(first), func(t *testing.T) {
				t.Parallel()
				strict(t, func(t *testing.T, s *stage) {
					d := newDelivery(t, s, rand.New(rand.NewPCG(19, uint64(first))), &sum)
					defer d.end()
					for k := first; k < min(first+each, n); k++ {
						d.schedule(k)
					}
				})
			})
		}
	})
	t.Logf("%d schedules: %d notices (%d marks in place), %d weights, %d other messages (%d unreadable), %d process deaths, %d connections, %d invalid requests, %d logins too soon", n, sum.notices.Load(),
		sum.marks.Load(), sum.weights.Load(), sum.talk.Load(), sum.odd.Load(), sum.deaths.Load(), sum.connections.Load(), sum.invalid.Load(), sum.hasty.Load())
	for i, f := range troubles {
		t.Logf("%6d × %s", sum.hits[i].Load(), f.name)
		if sum.hits[i].Load() == 0 && !t.Failed() && n >= 200 {
			t.Errorf("the fault %q never came up", f.name)
		}
	}
	if sum.hasty.Load() > 2*sum.deaths.Load() { // a process that has just started doesn't know when the one before logged in
		t.Error("logins too soon")
	}
}

// troubles are the ways in which a request may go wrong.
var troubles = [...]struct {
	name  string
	fault discordtest.Fault
}{
	{"429", discordtest.Fault{Status: 429, RetryAfter: 7 * time.Second}},
	{"429 as a web page", discordtest.Fault{Status: 429, Page: true}},
	{"403 from something in front", discordtest.Fault{Status: 403, Page: true}},
	{"500", discordtest.Fault{Status: 500}},
	{"502, stored", discordtest.Fault{Status: 502, Stored: true}},
	{"503 as a web page", discordtest.Fault{Status: 503, Page: true}},
	{"reset", discordtest.Fault{Cut: true}},
	{"reset, stored", discordtest.Fault{Cut: true, Stored: true}},
	{"hang", discordtest.Fault{Hang: true}},
	{"hang, stored", discordtest.Fault{Hang: true, Stored: true}},
	{"hang, stored after we gave up", discordtest.Fault{Late: true}},
	{"death under way", discordtest.Fault{Hang: true}},
	{"death under way, stored", discordtest.Fault{Hang: true, Stored: true}},
	{"death under way, stored after that", discordtest.Fault{Late: true}},
}

// tally counts what happened in all schedules.
type tally struct {
	notices, marks, weights, talk, odd, deaths, connections, invalid, hasty atomic.Int64

	hits [len(troubles)]atomic.Int64
}

// delivery is a household's process on its ledger, and the platform.
type delivery struct {
	*stage
	t    *testing.T
	rnd  *rand.Rand
	sum  *tally
	path string // of the ledger

	store   store.Store
	process *process
	deaths  int
	weights map[string]bool // that were typed, by the id of the message
	noted   map[string]bool // that were stored

	mu        sync.Mutex
	made      []store.Outgoing // in this schedule
	fates     []bool           // whether the process dies at its next steps
	condemned atomic.Bool      // it dies as soon as the request under way has failed
	meanwhile atomic.Pointer[func()]
}

func newDelivery(t *testing.T, s *stage, rnd *rand.Rand, sum *tally) *delivery {
	d := &delivery{stage: s, t: t, rnd: rnd, sum: sum, path: filepath.Join(quickDir(t), "ledger.db"), weights: map[string]bool{}, noted: map[string]bool{}}
	note := s.Inspect
	s.Inspect = func(q discordtest.Request) {
		note(q)
		if q.Method == http.MethodPost && q.Route == "/channels/{}/messages" {
			if do := d.meanwhile.Swap(nil); do != nil {
				(*do)()
			}
		}
	}
	d.LoginsLeft, d.ctx = 1<<30, t.Context() // weeks pass here
	d.openLedger()
	d.boot()
	d.within(t, time.Minute, "a connection", func() bool { return d.bot.Health().OK() })
	return d
}

func (d *delivery) openLedger() {
	s, err := sqlite.Open(d.path)
	if err != nil {
		d.t.Fatal(err)
	}
	d.store = s
}

// end ends the process, and the ledger.
func (d *delivery) end() {
	d.process.stop()
	d.process.running.Wait()
	if err := d.store.Close(); err != nil {
		d.t.Error(err)
	}
	d.sum.connections.Add(int64(d.Stats().Connections))
	d.sum.invalid.Add(int64(d.Stats().Invalid))
	d.sum.hasty.Add(int64(d.Stats().Hasty))
}

// schedule does some random things, lets all come to rest, and looks at the channel.
func (d *delivery) schedule(number int) {
	d.made, d.weights = nil, map[string]bool{}
	for range 1 + d.rnd.IntN(40) {
		d.act(number)
	}
	d.rest()
	d.check()
	if d.t.Failed() {
		d.t.Fatalf("in schedule %d", number)
	}
	d.sum.notices.Add(int64(len(d.notices())))
	d.sum.weights.Add(int64(len(d.weights)))
}

// act does one random thing.
func (d *delivery) act(number int) {
	switch d.rnd.IntN(18) {
	case 0, 1:
		d.commit(number, false)
	case 2:
		d.commit(number, true)
	case 3:
		d.mark()
	case 4, 5, 6:
		d.spoil()
	case 7, 8:
		d.flush()
	case 9, 10:
		d.pass(time.Duration(1+d.rnd.IntN(100)) * time.Second)
	case 11, 12:
		d.pass(time.Duration(d.rnd.IntN(3*3600)) * time.Second)
	case 13:
		d.kill()
	case 14:
		for range 1 + d.rnd.IntN(6) {
			d.fates = append(d.fates, d.rnd.IntN(3) == 0)
		}
	case 15:
		d.around(number)
	case 16:
		d.say()
	case 17:
		d.permit()
	}
}

// pass lets time go by. What is late arrives within two minutes.
func (d *delivery) pass(by time.Duration) {
	time.Sleep(min(by, 2*time.Minute))
	d.Arrive()
	time.Sleep(max(by-2*time.Minute, 0))
	d.flush()
}

// around does something that the outbox does not see.
func (d *delivery) around(number int) {
	switch d.rnd.IntN(5) {
	case 0:
		d.CutAll()
	case 1:
		d.net.Refuse()
	case 2:
		d.net.Silence()
	case 3:
		d.net.Mend()
	case 4:
		urgent := d.rnd.IntN(2) == 0
		do := func() { d.commit(number, urgent) }
		d.meanwhile.Store(&do)
	}
}

// say lets people type: mostly a little, now and then two thousand messages while nobody listens, some of which can't
// be read, and some of which are weights.
func (d *delivery) say() {
	n := 1 + d.rnd.IntN(12)
	if d.rnd.IntN(20) == 0 {
		n = 2000
		d.net.Refuse()
	}
	for i := range n {
		switch {
		case i%50 == 7:
			d.Puts(d.anna, "unreadable", map[string]any{"content": []any{i}})
			d.sum.odd.Add(1)
		case i%50 == 9:
			d.Puts(d.ben, "hm", oddities[d.rnd.IntN(len(oddities))])
		case i%97 == 3:
			d.weights[d.Types(d.anna, fmt.Sprint(i, " kg")).ID] = true
		default:
			d.Types(d.anna, "hm")
		}
	}
	d.sum.talk.Add(int64(n))
	if d.rnd.IntN(2) == 0 {
		d.net.Mend()
	}
}

// permit takes a permission away, or gives all back.
func (d *delivery) permit() {
	all := []discordtest.Permission{discordtest.View, discordtest.Send, discordtest.EmbedLinks, discordtest.AttachFiles, discordtest.ReadHistory}
	if i := d.rnd.IntN(2 * len(all)); i < len(all) {
		d.Deny(all[i])
		return
	}
	d.Grant(discordtest.View | discordtest.Send | discordtest.EmbedLinks | discordtest.AttachFiles | discordtest.ReadHistory)
}

// spoil lets some of the next requests go wrong.
func (d *delivery) spoil() {
	for range 1 + d.rnd.IntN(4) {
		i := d.rnd.IntN(len(troubles))
		f := troubles[i].fault
		f.Match = []string{posting, posting, "GET /channels/{}/messages", "PATCH /channels/{}/messages/{}"}[d.rnd.IntN(4)]
		if f.Late && strings.HasPrefix(f.Match, "PATCH") { // nobody can undo that a change arrives after the one that followed it
			f.Match = posting
		}
		deadly := strings.HasPrefix(troubles[i].name, "death")
		f.Hit = func() {
			d.sum.hits[i].Add(1)
			if deadly {
				d.condemned.Store(true)
			}
		}
		d.Fail(f)
	}
}

// commit writes a notice, as the engine does. It may be called while a post is under way.
func (d *delivery) commit(number int, urgent bool) {
	m := chat.Message{Headline: "Notice.", Body: []string{"What follows from it."}}
	if urgent {
		m.Severity = chat.Danger
	}
	payload, err := json.Marshal(m)
	if err != nil {
		d.t.Error(err)
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.write(store.Outgoing{Key: fmt.Sprintf("%d/%d", number, len(d.made)), Urgent: urgent, Created: time.Now().Truncate(time.Millisecond), Payload: payload})
}

// mark writes that one of the notices has ended, if there is one that has not.
func (d *delivery) mark() {
	d.mu.Lock()
	defer d.mu.Unlock()
	if len(d.made) == 0 {
		return
	}
	earlier := d.made[d.rnd.IntN(len(d.made))]
	o, err := outbox.InPlace(earlier, "ended", time.Now().Truncate(time.Millisecond), func(m *chat.Message) { m.Headline = "Ended: " + m.Headline })
	if err != nil {
		d.t.Error(err)
	}
	if earlier.Edits == "" && !slices.ContainsFunc(d.made, func(e store.Outgoing) bool { return e.Key == o.Key }) {
		d.write(o)
	}
}

// write puts a notice into the ledger; with mu held.
func (d *delivery) write(o store.Outgoing) {
	if _, err := d.store.Write(d.ctx, store.Batch{Outgoing: []store.Outgoing{o}}); err != nil {
		d.t.Error(err)
	}
	d.made = append(d.made, o)
}

// notices are those committed in this schedule.
func (d *delivery) notices() []store.Outgoing {
	d.mu.Lock()
	defer d.mu.Unlock()
	return slices.Clone(d.made)
}

// flush delivers what is due. The process may die of it.
func (d *delivery) flush() {
	defer func() {
		if r := recover(); r != nil {
			if _, ok := r.(killed); !ok {
				panic(r)
			}
			d.kill()
		}
	}()
	if err := d.process.outbox.Flush(d.ctx); err != nil {
		d.t.Fatal(err)
	}
}

// rest lets time pass, without further faults, until nothing waits and all that was typed has been heard.
func (d *delivery) rest() {
	d.Mend()
	d.net.Mend()
	d.Grant(discordtest.View | discordtest.Send | discordtest.EmbedLinks | discordtest.AttachFiles | discordtest.ReadHistory)
	d.fates = nil
	d.meanwhile.Store(nil)
	d.pass(time.Second)
	d.within(d.t, 30*time.Minute, "an end of the backlog", d.ready)
	time.Sleep(11 * time.Minute) // what was typed while the channel was hidden is read then
	for range 10 * (len(d.notices()) + len(d.weights) + 2) {
		d.pass(time.Second)
		next, waits, err := d.store.NextDue(d.ctx)
		if err != nil {
			d.t.Fatal(err)
		}
		if !waits {
			d.pass(time.Hour)
			return
		}
		time.Sleep(time.Until(next))
	}
	d.t.Fatalf("does not come to rest: %+v", d.process.outbox.Health())
}

// ready says whether the bot hears everything; that pictures were not shown at the last post does not matter.
func (d *delivery) ready() bool {
	h := d.bot.Health()
	return h.Connected && h.Registered && h.CaughtUp
}

// quickDir is a folder in memory where there is one: the tests kill the program, not the machine, so that
// the wait for the disk would show nothing.
func quickDir(t *testing.T) string {
	if dir, err := os.MkdirTemp("/dev/shm", "delivery"); err == nil {
		t.Cleanup(func() { _ = os.RemoveAll(dir) })
		return dir
	}
	return t.TempDir()
}
