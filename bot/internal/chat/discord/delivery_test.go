package discord_test

import (
	"context"
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
	"tarebell/bot/internal/chat/discord"
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
		return 40
	}
	return 200
}

// The outbox, the ledger, this adapter and the platform's stand-in together, under random schedules of faults, lost
// connections and deaths of the process: each notice stands in the channel once, in the place that the ledger
// names, and no more than one other send begins while a danger waits. Time is the test's own, for all of them: a
// nonce is forgotten, so that only looking helps, when hours pass, not when this machine is slow.
func TestDelivery(t *testing.T) {
	t.Parallel()
	const each = 25 // schedules on one platform and ledger
	n := schedules(t)
	var sum tally
	t.Run("parts", func(t *testing.T) {
		for first := 0; first < n; first += each {
			t.Run(fmt.Sprint(first), func(t *testing.T) {
				t.Parallel()
				d := newDelivery(t, rand.New(rand.NewPCG(19, uint64(first))), &sum)
				for s := first; s < min(first+each, n); s++ {
					d.schedule(t, s)
				}
				d.end()
				sum.connections.Add(int64(d.Stats().Connections))
			})
		}
	})
	t.Logf("%d schedules: %d notices (%d marks in place), %d process deaths, %d connections", n, sum.notices.Load(), sum.marks.Load(), sum.deaths.Load(), sum.connections.Load())
	for i, f := range troubles {
		t.Logf("%6d × %s", sum.hits[i].Load(), f.name)
		if sum.hits[i].Load() == 0 && !t.Failed() && n >= 200 {
			t.Errorf("the fault %q never came up", f.name)
		}
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
	notices, marks, deaths, connections atomic.Int64
	hits                                [len(troubles)]atomic.Int64
}

// delivery is a household's process on its ledger, and the platform.
type delivery struct {
	*discordtest.Platform
	t       *testing.T
	ctx     context.Context
	rnd     *rand.Rand
	sum     *tally
	clock   atomic.Int64 // nanoseconds since 1970
	network *network
	opt     discord.Options
	path    string // of the ledger
	anna    discordtest.Member

	store   store.Store
	outbox  *outbox.Outbox
	running sync.WaitGroup
	stop    context.CancelFunc // of the process
	deaths  int

	wait time.Duration // since what was late arrived

	mu        sync.Mutex
	made      []store.Outgoing // in this schedule
	fates     []bool           // whether the process dies at its next steps
	condemned atomic.Bool      // it dies as soon as the request under way has failed
	meanwhile atomic.Pointer[func()]
}

// killed is the panic that stands for SIGKILL.
type killed struct{}

func newDelivery(t *testing.T, rnd *rand.Rand, sum *tally) *delivery {
	p := platform(t)
	d := &delivery{Platform: p, t: t, ctx: t.Context(), rnd: rnd, sum: sum, opt: options(t, p), path: filepath.Join(quickDir(t), "ledger.db")}
	d.clock.Store(time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC).UnixNano())
	p.Now = d.now
	note := p.Inspect
	p.Inspect = func(q discordtest.Request) {
		note(q)
		if q.Method == http.MethodPost && q.Route == "/channels/{}/messages" {
			if do := d.meanwhile.Swap(nil); do != nil {
				(*do)()
			}
		}
	}
	d.network = newNetwork(d.opt.Transport)
	d.opt.Transport = d.network
	d.anna = p.Join("Anna")
	d.openLedger()
	d.boot()
	return d
}

// now is the time. It is never twice the same, so that what happened can be put in order.
func (d *delivery) now() time.Time { return time.Unix(0, d.clock.Add(int64(time.Millisecond))).UTC() }

// pass lets time go by, once what the platform is busy with is done. What is late arrives within two minutes.
func (d *delivery) pass(by time.Duration) {
	d.idle()
	if d.wait += by; d.wait > 2*time.Minute {
		d.wait = 0
		d.Arrive()
		d.idle()
	}
	d.clock.Add(int64(max(by, 0)))
}

func (d *delivery) idle() {
	if err := d.WaitIdle(d.ctx); err != nil {
		d.t.Fatal(err)
	}
}

func (d *delivery) openLedger() {
	s, err := sqlite.Open(d.path)
	if err != nil {
		d.t.Fatal(err)
	}
	d.store = s
}

// boot starts a process on the ledger.
func (d *delivery) boot() {
	bot, err := discord.New(d.opt)
	if err != nil {
		d.t.Fatal(err)
	}
	var ctx context.Context
	ctx, d.stop = context.WithCancel(context.Background())
	d.running.Go(func() { _ = bot.Run(ctx, &house{}) })
	d.outbox = outbox.New(outbox.Options{Store: mortalStore{d.store, d}, Channel: mortalChannel{bot, d}, Now: d.now, Timeout: time.Minute})
}

// kill ends the process; nothing but the disk survives. The ledger is opened anew only now and then, because
// that takes longest.
func (d *delivery) kill() {
	d.deaths++
	d.sum.deaths.Add(1)
	d.fates = nil
	d.condemned.Store(false)
	d.network.giveUp()
	d.stop()
	if d.deaths%8 == 1 {
		if err := d.store.Close(); err != nil {
			d.t.Fatal(err)
		}
		d.openLedger()
	}
	d.boot()
}

func (d *delivery) end() {
	d.stop()
	d.running.Wait()
	if err := d.store.Close(); err != nil {
		d.t.Error(err)
	}
}

// schedule does some random things, lets all come to rest, and looks at the channel.
func (d *delivery) schedule(t *testing.T, number int) {
	var cancel context.CancelFunc
	d.ctx, cancel = context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	d.made = nil
	for range 1 + d.rnd.IntN(40) {
		d.act(number)
	}
	d.rest()
	d.check()
	if t.Failed() {
		t.Fatalf("in schedule %d", number)
	}
	d.sum.notices.Add(int64(len(d.notices())))
}

// act does one random thing.
func (d *delivery) act(number int) {
	switch d.rnd.IntN(16) {
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
		d.flush()
	case 11, 12:
		d.pass(time.Duration(d.rnd.IntN(3*3600)) * time.Second)
		d.flush()
	case 13:
		d.kill()
	case 14:
		for range 1 + d.rnd.IntN(6) {
			d.fates = append(d.fates, d.rnd.IntN(3) == 0)
		}
	case 15:
		d.around(number)
	}
}

// around does something that the outbox does not see.
func (d *delivery) around(number int) {
	switch d.rnd.IntN(3) {
	case 0:
		d.CutAll()
	case 1:
		for range 1 + d.rnd.IntN(12) {
			d.Types(d.anna, "hm")
		}
	case 2:
		urgent := d.rnd.IntN(2) == 0
		do := func() { d.commit(number, urgent) }
		d.meanwhile.Store(&do)
	}
}

// spoil lets some of the next requests go wrong.
func (d *delivery) spoil() {
	for range 1 + d.rnd.IntN(4) {
		i := d.rnd.IntN(len(troubles))
		f := troubles[i].fault
		f.Match = []string{posting, posting, "GET /channels/{}/messages", "PATCH /channels/{}/messages/{}"}[d.rnd.IntN(4)]
		deadly := strings.HasPrefix(troubles[i].name, "death")
		f.Hit = func() {
			d.sum.hits[i].Add(1)
			if deadly {
				d.condemned.Store(true)
			}
			if f.Hang || f.Late {
				d.network.giveUp()
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
	d.write(store.Outgoing{Key: fmt.Sprintf("%d/%d", number, len(d.made)), Urgent: urgent, Created: d.moment(), Payload: payload})
}

// mark writes that one of the notices has ended, if there is one that has not.
func (d *delivery) mark() {
	d.mu.Lock()
	defer d.mu.Unlock()
	if len(d.made) == 0 {
		return
	}
	earlier := d.made[d.rnd.IntN(len(d.made))]
	o, err := outbox.InPlace(earlier, "ended", d.moment(), func(m *chat.Message) { m.Headline = "Ended: " + m.Headline })
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

// moment is the time as the ledger keeps it.
func (d *delivery) moment() time.Time { return d.now().Truncate(time.Millisecond) }

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
	if err := d.outbox.Flush(d.ctx); err != nil {
		d.t.Fatal(err)
	}
}

// rest lets time pass, without further faults, until nothing waits.
func (d *delivery) rest() {
	d.Mend()
	d.fates = nil
	d.meanwhile.Store(nil)
	for range 10 * (len(d.notices()) + 2) {
		d.pass(time.Second)
		d.flush()
		next, waits, err := d.store.NextDue(d.ctx)
		if err != nil {
			d.t.Fatal(err)
		}
		if !waits {
			d.pass(time.Hour)
			return
		}
		if held := d.outbox.Health().HeldTill; held.After(next) {
			next = held
		}
		d.pass(next.Sub(d.now()))
	}
	d.t.Fatalf("does not come to rest: %+v", d.outbox.Health())
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
