package outbox

import (
	"cmp"
	"context"
	"errors"
	"maps"
	"slices"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/store"
)

// Health is how delivery is doing.
type Health struct {
	Posted   time.Time        // the last success; zero: none since the start
	Failing  int              // attempts that failed since then
	Since    time.Time        // the first of these
	Err      string           // the last of these
	GivenUp  int              // notices given up since the start
	HeldTill time.Time        // the platform wants nothing before, but what is urgent
	Waits    []store.Outgoing // what was tried and is not there yet, dangers first
}

// Health may be asked at any time.
func (b *Outbox) Health() Health {
	b.healthMu.Lock()
	defer b.healthMu.Unlock()
	h := b.health
	urgent := func(o store.Outgoing) int {
		if o.Urgent {
			return 0
		}
		return 1
	}
	h.Waits = slices.SortedFunc(maps.Values(b.waits), func(x, y store.Outgoing) int {
		return cmp.Or(urgent(x)-urgent(y), x.Created.Compare(y.Created), cmp.Compare(x.Key, y.Key))
	})
	return h
}

// report notes what became of o, in the log, in the health and to who wants to know of refusals.
func (b *Outbox) report(ctx context.Context, o store.Outgoing, cause error) {
	b.note(o, cause)
	log := b.opt.Log.With("notice", o.Key, "kind", o.Kind, "urgent", o.Urgent, "attempts", o.Attempts)
	switch {
	case o.State == store.Posted:
		b.logged = ""
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
	if text := what + err.Error(); text != b.logged {
		b.logged = text
		b.opt.Log.Warn(what, append(more, "error", err)...)
	}
}

// note keeps what became of o for Health, and since when it may be there unseen.
func (b *Outbox) note(o store.Outgoing, cause error) {
	b.healthMu.Lock()
	defer b.healthMu.Unlock()
	h, now := &b.health, b.opt.Now()
	h.HeldTill = b.hold
	if o.State != store.Waiting {
		delete(b.waits, o.Key)
		delete(b.tried, o.Key)
	} else if cause != nil {
		b.waits[o.Key] = o
	}
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
