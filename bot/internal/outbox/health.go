package outbox

import (
	"context"
	"errors"
	"sync"
	"time"

	"tarebell/bot/internal/store"
)

// Health is how delivery is doing.
type Health struct {
	Posted   time.Time // the last success; zero: none since the start
	Failing  int       // attempts that failed since then
	Since    time.Time // the first of these
	Err      string    // the last of these
	GivenUp  int       // refusals for good since the start
	HeldTill time.Time // the platform wants nothing before
}

type healthBox struct {
	mu sync.Mutex
	Health
}

// Health may be asked at any time.
func (b *Outbox) Health() Health {
	b.health.mu.Lock()
	defer b.health.mu.Unlock()
	return b.health.Health
}

// report notes what became of o, in the log, in the health and to who wants to know of refusals.
func (b *Outbox) report(ctx context.Context, o store.Outgoing, cause error) {
	b.note(o, cause)
	log := b.opt.Log.With("notice", o.Key, "kind", o.Kind, "urgent", o.Urgent, "attempts", o.Attempts)
	switch {
	case o.State == store.Posted:
		b.said = ""
		log.Info("notice posted", "message", o.Posted)
	case o.State == store.Failed:
		log.Error("notice refused: something must be changed first", "error", cause)
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
