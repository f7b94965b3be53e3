package app

import (
	"context"
	"fmt"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/store"
)

// ownerPatience bounds a message to the owner.
const ownerPatience = 30 * time.Second

// undeliverable tells whoever set the bot up that a notice cannot be delivered, once per notice, where the chat has
// a way to reach them. The log and /healthz have it in any case.
func (a *App) undeliverable(ctx context.Context, o store.Outgoing, cause error) {
	owner, ok := a.Channel.(chat.Owner)
	if !ok || o.Refused > 1 {
		return
	}
	ctx, cancel := context.WithTimeout(ctx, ownerPatience)
	defer cancel()
	m := chat.Message{Severity: chat.Warning, Headline: "I cannot post in the household's channel.",
		Body: []string{fmt.Sprintf("A notice (%s) was refused: %v.", o.Kind, cause), "It is tried again when that has been mended."}}
	if err := owner.TellOwner(ctx, m); err != nil {
		a.opt.Log.Warn("the owner could not be told", "err", err)
	}
}
