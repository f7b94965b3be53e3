package discord_test

import (
	"context"
	"encoding/json"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"

	"tarebell/bot/internal/chat"
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
		if !urgent[body.Nonce] && q.At.After(o.Created) && q.At.Before(m.At) {
			others++
		}
	}
	if others > 1 {
		d.t.Errorf("%q, made %v, arrived %v behind %d other sends", o.Key, o.Created, m.At, others)
	}
}

// network is the way to the platform. All that is under way on it can be given up at once, as when time runs out.
type network struct {
	next     http.RoundTripper
	mu       sync.Mutex
	count    int
	underWay map[int]context.CancelFunc
}

func newNetwork(next http.RoundTripper) *network {
	return &network{next: next, underWay: map[int]context.CancelFunc{}}
}

func (n *network) RoundTrip(r *http.Request) (*http.Response, error) {
	ctx, cancel := context.WithCancel(r.Context())
	n.mu.Lock()
	n.count++
	i := n.count
	n.underWay[i] = cancel
	n.mu.Unlock()
	defer func() {
		n.mu.Lock()
		defer n.mu.Unlock()
		delete(n.underWay, i)
	}()
	return n.next.RoundTrip(r.WithContext(ctx))
}

func (n *network) giveUp() {
	n.mu.Lock()
	defer n.mu.Unlock()
	for _, cancel := range n.underWay {
		cancel()
	}
}

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
	outbox.Channel
	d *delivery
}

func (c mortalChannel) survive() {
	if c.d.condemned.Swap(false) {
		panic(killed{})
	}
}

func (c mortalChannel) Post(ctx context.Context, m chat.Message) (string, error) {
	id, err := c.Channel.Post(ctx, m)
	c.survive()
	return id, err
}

func (c mortalChannel) Edit(ctx context.Context, posted string, m chat.Message) error {
	err := c.Channel.Edit(ctx, posted, m)
	c.survive()
	return err
}

func (c mortalChannel) Find(ctx context.Context, id string, since time.Time) (string, bool, error) {
	posted, found, err := c.Channel.Find(ctx, id, since)
	c.survive()
	return posted, found, err
}
