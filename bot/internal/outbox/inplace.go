package outbox

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/store"
)

// InPlace is an outgoing that changes the message of an earlier one where it stands, such as an alert that has ended,
// and is never a message of its own. change gets the earlier message, whose number it keeps. The occasion makes its
// key: for each, the message is changed once.
func InPlace(earlier store.Outgoing, occasion string, now time.Time, change func(*chat.Message)) (store.Outgoing, error) {
	m, err := message(earlier)
	if err != nil {
		return store.Outgoing{}, fmt.Errorf("changing notice %q: %w", earlier.Key, err)
	}
	change(&m)
	payload, err := json.Marshal(m)
	if err != nil {
		return store.Outgoing{}, fmt.Errorf("changing notice %q: %w", earlier.Key, err)
	}
	return store.Outgoing{Key: earlier.Key + "/" + occasion, Kind: earlier.Kind, Edits: earlier.Key, Created: now, State: store.Waiting, Payload: payload}, nil
}

// edit puts m in the place of the earlier message that o is to change. It can be done at any hour, as nobody is
// called by it, and twice without harm. A message that was never there is left so; one that cannot be changed any more
// (it is gone, or was changed too often) is left as it is.
func (b *Outbox) edit(ctx context.Context, o store.Outgoing, m chat.Message, now time.Time) (_ store.Outgoing, cause, err error) {
	earlier, err := b.opt.Store.Outgoing(ctx, o.Edits)
	switch {
	case errors.Is(err, store.ErrNotFound):
		return dropped(o, "there is no such earlier notice"), nil, nil
	case err != nil:
		return o, nil, err
	case earlier.State == store.Waiting || earlier.State == store.Posting:
		return postponed(o, slices.MaxFunc([]time.Time{earlier.Next, now.Add(calmGaps.First)}, time.Time.Compare)), nil, nil
	case earlier.Posted == "":
		return dropped(o, "the earlier notice was never posted"), nil, nil
	}
	try, cancel := context.WithTimeout(ctx, attemptTimeout)
	defer cancel()
	cause = b.opt.Channel.Edit(try, earlier.Posted, m)
	if errors.Is(cause, chat.ErrPermanent) && !errors.Is(cause, chat.ErrForbidden) {
		return dropped(o, cause.Error()), nil, nil
	}
	return b.outcome(ctx, o, earlier.Posted, cause), cause, nil
}
