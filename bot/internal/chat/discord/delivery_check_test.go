package discord_test

import (
	"context"
	"encoding/json"
	"errors"
	"net"
	"net/http"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/chat/discord"
	"tarebell/bot/internal/chat/discord/discordtest"
	"tarebell/bot/internal/outbox"
	"tarebell/bot/internal/store"
)

// check compares the channel with the ledger.
func (d *delivery) check() {
	byNonce := map[string][]discordtest.Message{}
	for _, m := range d.Posted() {
		byNonce[m.Nonce] = append(byNonce[m.Nonce], m)
	}
	for _, o := range d.notices() {
		got, err := d.store.Outgoing(d.ctx, o.Key)
		if err != nil || got.State != store.Posted {
			d.t.Errorf("%q is %q, %v; want it posted", o.Key, got.State, err)
		}
		number := outbox.ID(o)
		if o.Edits != "" {
			d.inPlace(o, got, len(byNonce[number]))
			continue
		}
		if n := len(byNonce[number]); n != 1 || byNonce[number][0].ID != got.Posted {
			d.t.Errorf("%q stands in the channel %d times, the ledger says as %q", o.Key, n, got.Posted)
			continue
		}
		if o.Urgent {
			d.ahead(o, byNonce[number][0])
		}
	}
	replies := map[string]int{}
	for _, m := range d.Posted() {
		replies[m.ReplyTo]++
		if to, ok := strings.CutPrefix(m.Nonce, "s"); ok && m.ReplyTo == "" { // no replies were permitted then
			replies[to]++
		}
	}
	for id := range d.weights {
		if !d.noted[id] || replies[id] != 1 {
			d.t.Errorf("the weight in message %s: heard %v, confirmed %d times", id, d.noted[id], replies[id])
		}
	}
}

// inPlace checks a mark: it stands in the message of the notice that it marks, and nowhere else.
func (d *delivery) inPlace(o, got store.Outgoing, messages int) {
	d.sum.marks.Add(1)
	earlier, err := d.store.Outgoing(d.ctx, o.Edits)
	i := slices.IndexFunc(d.Posted(), func(m discordtest.Message) bool { return m.ID == earlier.Posted })
	if err != nil || i < 0 || got.Posted != earlier.Posted || messages > 0 {
		d.t.Errorf("the mark %q is in message %q, and %d of its own; want it in %q", o.Key, got.Posted, messages, earlier.Posted)
		return
	}
	if text := d.Posted()[i].Text(); !strings.Contains(text, "Ended") || !strings.Contains(text, "No. "+outbox.ID(earlier)) {
		d.t.Errorf("%q reads %q; want it marked, with its number", o.Edits, text)
	}
}

// ahead counts the other sends between the commit of a danger and its arrival.
func (d *delivery) ahead(o store.Outgoing, m discordtest.Message) {
	urgent := map[string]bool{}
	for _, o := range d.notices() {
		urgent[outbox.ID(o)] = o.Urgent
	}
	others := 0
	for _, q := range d.Requests() {
		if q.Method != http.MethodPost && q.Method != http.MethodPatch || q.Route != "/channels/{}/messages" && q.Route != "/channels/{}/messages/{}" {
			continue
		}
		var body struct{ Nonce string }
		if err := json.Unmarshal(q.Body, &body); err != nil {
			d.t.Errorf("%s: %v", q.Body, err)
		}
		mark := q.Method == http.MethodPost || strings.Contains(string(q.Body), "Ended") // not the details of a message just posted
		if !urgent[body.Nonce] && mark && q.Status == http.StatusOK && q.At.After(o.Created) && q.At.Before(m.At) {
			others++
		}
	}
	if others > 1 {
		d.t.Errorf("%q, made %v, arrived %v behind %d other sends", o.Key, o.Created, m.At, others)
	}
}

// process is the bot's process. Once it is dead nothing more comes from it.
type process struct {
	dead    atomic.Bool
	stop    context.CancelFunc
	running sync.WaitGroup
	outbox  *outbox.Outbox
	next    http.RoundTripper
}

var errDead = errors.New("the process is dead")

func (p *process) RoundTrip(r *http.Request) (*http.Response, error) {
	if p.dead.Load() {
		return nil, errDead
	}
	return p.next.RoundTrip(r)
}

// boot starts a process on the ledger.
func (d *delivery) boot() {
	p := &process{next: d.opt.Transport}
	d.process = p
	o := d.opt
	o.Transport = p
	o.Dial = func(ctx context.Context, network, addr string) (net.Conn, error) {
		if p.dead.Load() {
			return nil, errDead
		}
		return d.net.Dial(ctx, network, addr)
	}
	ledger := mortalStore{d.store, d, p}
	o.LastSeen = func(ctx context.Context) (string, error) {
		id, _, err := ledger.Fact(ctx, "seen")
		return id, err
	}
	o.SetLastSeen = func(ctx context.Context, id string) error {
		_, err := ledger.Write(ctx, store.Batch{Facts: map[string]string{"seen": id}})
		return err
	}
	bot, err := discord.New(o)
	if err != nil {
		d.t.Fatal(err)
	}
	d.bot = bot
	p.outbox = outbox.New(outbox.Options{Store: ledger, Channel: mortalChannel{bot, d}})
	bot.AnswerThrough(p.outbox.Answer)
	var ctx context.Context
	ctx, p.stop = context.WithCancel(context.Background())
	p.running.Go(func() { _ = bot.Run(ctx, ear{&house{}, d, p}) })
}

// kill ends the process; nothing but the disk survives. The ledger is opened anew only now and then, because
// that takes longest.
func (d *delivery) kill() {
	d.deaths++
	d.sum.deaths.Add(1)
	d.fates = nil
	d.condemned.Store(false)
	d.process.dead.Store(true)
	d.process.stop()
	d.CutAll()
	d.process.running.Wait()
	if d.deaths%8 == 1 {
		if err := d.store.Close(); err != nil {
			d.t.Fatal(err)
		}
		d.openLedger()
	}
	d.boot()
}

// ear stores what it hears, and may die of it.
type ear struct {
	*house
	d *delivery
	p *process
}

func (e ear) Say(ctx context.Context, s chat.Said) chat.Answer {
	e.d.mu.Lock()
	defer e.d.mu.Unlock()
	if e.p.dead.Load() || !strings.HasSuffix(s.Text, "kg") {
		return chat.Answer{}
	}
	if e.d.noted[s.ID] {
		return chat.Answer{Message: &chat.Message{Headline: "That weight is noted already."}}
	}
	e.d.noted[s.ID] = true
	return chat.Answer{Message: &chat.Message{Headline: "Noted: " + s.Text}}
}

// killed is the panic that stands for SIGKILL.
type killed struct{}

// fate is a step at which the process may die.
func (d *delivery) fate() {
	dies := false
	if len(d.fates) > 0 {
		dies, d.fates = d.fates[0], d.fates[1:]
	}
	if dies {
		panic(killed{})
	}
}

// mortalStore is the ledger under a process that may die at its steps.
type mortalStore struct {
	store.Store
	d *delivery
	p *process
}

// Write fails once the process is dead.
func (s mortalStore) Write(ctx context.Context, b store.Batch) (store.Written, error) {
	if s.p.dead.Load() {
		return store.Written{}, errDead
	}
	return s.Store.Write(ctx, b)
}

// Claim may be the last thing that a process does.
func (s mortalStore) Claim(ctx context.Context, now time.Time) (store.Outgoing, bool, error) {
	o, ok, err := s.Store.Claim(ctx, now)
	if ok {
		s.d.fate()
	}
	return o, ok, err
}

// Settle may never be reached.
func (s mortalStore) Settle(ctx context.Context, o store.Outgoing) error {
	s.d.fate()
	return s.Store.Settle(ctx, o)
}

// mortalChannel is the channel under a process that may die while it waits for an answer.
type mortalChannel struct {
	chat.Poster
	d *delivery
}

func (c mortalChannel) survive() {
	if c.d.condemned.Swap(false) {
		panic(killed{})
	}
}

func (c mortalChannel) Post(ctx context.Context, m chat.Message) (string, error) {
	id, err := c.Poster.Post(ctx, m)
	c.survive()
	return id, err
}

func (c mortalChannel) Edit(ctx context.Context, posted string, m chat.Message) error {
	err := c.Poster.Edit(ctx, posted, m)
	c.survive()
	return err
}

func (c mortalChannel) Find(ctx context.Context, id string, since time.Time) (string, bool, error) {
	posted, found, err := c.Poster.Find(ctx, id, since)
	c.survive()
	return posted, found, err
}
