package discord_test

import (
	"testing"

	"tarebell/bot/internal/chat/discord/discordtest"
)

// TestEditedAndDeleted: what a member makes of a message later is handed on under the number of the message, once, and what the
// platform itself changes is not.
func TestEditedAndDeleted(t *testing.T) {
	t.Parallel()
	p := platform(t)
	f := moveIn(t, p)
	m := f.Types(f.anna, "60 kg")
	f.answerTo(t, m)
	p.Dispatch("MESSAGE_UPDATE", map[string]any{"id": m.ID, "channel_id": p.Channel, "guild_id": p.Guild, "content": "60 kg",
		"author": map[string]any{"id": f.anna.ID, "username": "Anna"}, "edited_timestamp": nil}) // a preview was added
	p.Retypes(m, "61 kg")
	if _, err := p.WaitMessage(f.ctx, "an answer to the edited message", func(r discordtest.Message) bool {
		return r.ReplyTo == m.ID && f.house.count() == 2
	}); err != nil {
		t.Fatal(err)
	}
	p.Deletes(m)
	last := f.Types(f.ben, "62 kg")
	f.answerTo(t, last)
	f.house.mu.Lock()
	defer f.house.mu.Unlock()
	said := f.house.said
	if len(said) != 4 || said[1].ID != m.ID || said[1].Text != "61 kg" || said[1].Changed.IsZero() || said[1].Deleted || !said[1].At.Equal(said[0].At) ||
		said[2].ID != m.ID || !said[2].Deleted || said[2].Changed.IsZero() {
		t.Errorf("heard %+v", said)
	}
}

func (h *house) count() int {
	h.mu.Lock()
	defer h.mu.Unlock()
	return len(h.said)
}
