package outbox

import (
	"cmp"
	"context"
	"errors"
	"maps"
	"slices"
	"sync"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/store"
)

// Health is how delivery is doing.
type Health struct {
	Posted   time.Time // the last success; zero: none since the start
	Failing  int       // attempts that failed since then
	Since    time.Time // the first of these
	Err      string    // the last of these
	GivenUp  int       // notices given up since the start
	HeldTill time.Time // the platform wants nothing before, but what is urgent
	Waits    []Wait    // what was tried and is not there yet, dangers first
}

// Wait is a notice that was tried and is not there yet.
type Wait struct {
	Key    string
	Urgent bool
	Tries  int       // that failed
	Since  time.Time // when it was written
	Next   time.Time // when it is tried again
	Err    string    // of the last try
}

type healthBox struct {
	mu sync.Mutex
	Health
	waits map[string]Wait // by key
}

// Health may be asked at any time.
func (b *Outbox) Health() Health {
	b.health.mu.Lock()
	defer b.health.mu.Unlock()
	h := b.health.Health
	h.Waits = slices.SortedFunc(maps.Values(b.health.waits), func(a, b Wait) int {
		if a.Urgent != b.Urgent && a.Urgent {
			return -1
		} else if a.Urgent != b.Urgent {
			return 1
		}
		return cmp.Or(a.Since.Compare(b.Since), cmp.Compare(a.Key, b.Key))
	})
	return h
}

// report notes what became of o, in the log, in the health and to who wants to know of refusals.
func (b *Outbox) report(ctx context.Context, o store.Outgoing, cause error) {
	b.note(o, cause)
	log := b.opt.Log.With("notice", o.Key, "kind", o.Kind, "urgent", o.Urgent, "attempts", o.Attempts)
	switch {
	case o.State == store.Posted:
		b.said = ""
		log.Info("notice posted", "message", o.Posted)
	case errors.Is(cause, chat.ErrPermanent) || o.State == store.Failed:
		if o.Refused == 1 || o.State == store.Failed {
			log.Error("notice refused: something must be changed first", "given_up", o.State == store.Failed, "next_try", o.Next, "error", cause)
		}
		if b.opt.Failed != nil {
			b.opt.Failed(ctx, o, cause)
		}
	case o.State == store.Dropped:
		log.Info("notice dropped", "why", o.Err)
	case errors.Is(cause, context.Canceled):
		log.Debug("notice interrupted, we are stopping")
	case cause != nil:
		b.complain("notice not posted yet", cause, "notice", o.Key, "urgent", o.Urgent, "attempts", o.Attempts, "next_try", o.Next)
	default:
		log.Debug("notice waits", "until", o.Next)
	}
}

// complain logs an error once, until another one or a success comes.
func (b *Outbox) complain(what string, err error, more ...any) {
	if text := what + err.Error(); text != b.said {
		b.said = text
		b.opt.Log.Warn(what, append(more, "error", err)...)
	}
}

func (b *Outbox) note(o store.Outgoing, cause error) {
	b.health.mu.Lock()
	defer b.health.mu.Unlock()
	h, now := &b.health.Health, b.opt.Now()
	h.HeldTill = b.hold
	b.remember(o, cause)
	switch {
	case o.State == store.Posted:
		h.Posted, h.Failing, h.Since, h.Err = now, 0, time.Time{}, ""
	case cause != nil:
		if h.Failing++; h.Failing == 1 {
			h.Since = now
		}
		h.Err = cause.Error()
		if o.State == store.Failed {
			h.GivenUp++
		}
	}
}

// remember keeps what waits after a failed try, and since when a notice may be there unseen; with health.mu held.
func (b *Outbox) remember(o store.Outgoing, cause error) {
	if o.State != store.Waiting {
		delete(b.health.waits, o.Key)
		delete(b.doubt, o.Key)
		return
	}
	if cause == nil {
		return
	}
	if b.health.waits == nil {
		b.health.waits = map[string]Wait{}
	}
	b.health.waits[o.Key] = Wait{o.Key, o.Urgent, o.Attempts, o.Created, o.Next, cause.Error()}
}
