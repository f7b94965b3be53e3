package outbox

import (
	"context"
	"encoding/json"
	"fmt"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/store"
)

// Answer keeps an answer to what somebody said, and delivers it as it does a notice: once, and late rather than never.
// Message.ID makes a second one with the same number harmless.
func (b *Outbox) Answer(ctx context.Context, m chat.Message) error {
	payload, err := json.Marshal(m)
	if err != nil {
		return fmt.Errorf("keeping an answer: %w", err)
	}
	o := store.Outgoing{Key: "answer/" + m.ID, Kind: store.Answer, Created: b.opt.Now(), Payload: payload}
	if _, err := b.opt.Store.Write(ctx, store.Batch{Outgoing: []store.Outgoing{o}}); err != nil {
		return fmt.Errorf("keeping an answer: %w", err)
	}
	b.Wake()
	return nil
}
