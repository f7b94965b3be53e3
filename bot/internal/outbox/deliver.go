package outbox

import (
	"context"
	"crypto/sha256"
	"encoding/base32"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/store"
)

// attempt does with a claimed notice what there is to do at now and returns it as it is to be settled. cause is why it
// was not posted; err is an error of the store.
func (b *Outbox) attempt(ctx context.Context, o store.Outgoing, now time.Time) (_ store.Outgoing, cause, err error) {
	m, err := message(o)
	if err != nil {
		o.State, o.Refused, o.Err = store.Failed, store.Refusals, err.Error()
		return o, err, nil
	}
	if now.Before(b.hold) && !o.Urgent {
		return postponed(o, b.hold), nil, nil
	}
	if o.Edits != "" {
		return b.edit(ctx, o, m, now)
	}
	overtaken, err := b.opt.Store.Overtaken(ctx, o)
	if err != nil {
		return o, nil, err
	}
	if until, quiet := b.opt.Quiet(now); quiet && !o.Urgent && !overtaken && o.Kind != store.Answer { // somebody has just spoken
		return postponed(o, until), nil, nil
	}
	try, cancel := context.WithTimeout(ctx, attemptTimeout)
	defer cancel()
	posted, cause := b.find(try, o, m)
	if posted == "" && cause == nil {
		if overtaken {
			return dropped(o, "a newer one of its kind takes its place"), nil, nil
		}
		if b.tried[o.Key].IsZero() && !o.Unsure {
			b.tried[o.Key] = now
		}
		posted, cause = b.opt.Channel.Post(try, b.dated(m, o, now))
	}
	return b.outcome(ctx, o, posted, cause), cause, nil
}

// find asks the channel for a notice that an earlier attempt may have posted; "" when it is not there.
func (b *Outbox) find(ctx context.Context, o store.Outgoing, m chat.Message) (posted string, err error) {
	if !o.Unsure {
		return "", nil
	}
	// The platform's clock is not ours.
	const skew = 10 * time.Minute
	posted, ok, err := b.opt.Channel.Find(ctx, m.ID, o.Created.Add(-skew))
	switch {
	case errors.Is(err, chat.ErrUnseen) && b.opt.Now().Sub(b.tried[o.Key]) < numberKept:
		return "", nil // the platform itself keeps it from standing there twice
	case err != nil:
		return "", fmt.Errorf("looking for an earlier post, as it may be there already: %w", err)
	case !ok:
		return "", nil
	}
	return posted, nil
}

// numberKept is for how long a platform surely knows the number of a message again; Discord's documentation says "the
// past few minutes" (message resource, nonce).
const numberKept = 2 * time.Minute

// dropped is a notice that will not be shown, and why.
func dropped(o store.Outgoing, why string) store.Outgoing {
	o.State, o.Err = store.Dropped, why
	return o
}

// postponed is a notice that waits until a time.
func postponed(o store.Outgoing, until time.Time) store.Outgoing {
	o.State, o.Next = store.Waiting, until
	return o
}

// outcome is what an attempt means for the notice.
func (b *Outbox) outcome(ctx context.Context, o store.Outgoing, posted string, cause error) store.Outgoing {
	if cause == nil {
		o.State, o.Posted, o.Err, o.Unsure = store.Posted, posted, "", false
		b.hold = time.Time{}
		return o
	}
	now := b.opt.Now()
	o.Attempts++
	o.Err = cause.Error()
	pause, all := chat.Pause(cause)
	switch {
	case errors.Is(cause, chat.ErrPermanent):
		return b.refused(o, now)
	case pause > 0: // refused, so surely not posted by this attempt
		if all {
			b.hold = now.Add(pause)
		}
	case ctx.Err() != nil: // we are being stopped, nothing is wrong with the chat
		o.Attempts--
		o.Unsure = true
	case o.Urgent:
		o.Unsure, pause = true, spread(urgentGaps, o.Key, o.Attempts)
	default:
		o.Unsure, pause = true, spread(calmGaps, o.Key, o.Attempts)
	}
	b.trouble = true
	return again(o, now, pause)
}

// refused is a notice that cannot be delivered until somebody changes something. That may have happened by the next
// attempt: what is urgent is tried without end, what is not until it is old.
func (b *Outbox) refused(o store.Outgoing, now time.Time) store.Outgoing {
	o.Refused++
	b.trouble = b.trouble || o.Refused <= store.Refusals // more often it is not the channel's fault, and no outage ends
	o = again(o, now, spread(refusedGaps, o.Key, o.Refused))
	if !o.Urgent && now.Sub(o.Created) > giveUp {
		o.State = store.Failed
	}
	return o
}

// giveUp is how old a notice may be that can wait and that the channel refuses.
const giveUp = 3 * 24 * time.Hour

// again is a notice that is tried again after a gap: what is urgent within a minute, whatever the platform asks for.
func again(o store.Outgoing, now time.Time, gap time.Duration) store.Outgoing {
	if o.Urgent {
		gap = min(gap, urgentGaps.Most)
	}
	return postponed(o, now.Add(gap))
}

// message reads what is to be posted.
func message(o store.Outgoing) (m chat.Message, err error) {
	if err := json.Unmarshal(o.Payload, &m); err != nil {
		return m, fmt.Errorf("the stored message cannot be read: %w", err)
	}
	if m.ID == "" {
		m.ID = ID(o)
	}
	return m, nil
}

// ID is the notice's own number: 16 characters that are the same at each attempt and differ between notices, also
// between those of two ledgers.
func ID(o store.Outgoing) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "%s\x00%d", o.Key, o.Created.UnixMilli()))
	return strings.ToLower(base32.StdEncoding.EncodeToString(sum[:10]))
}
