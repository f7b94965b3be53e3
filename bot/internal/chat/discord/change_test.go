package discord_test

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/chat/discord/discordtest"
)

// changes is what the handler heard of messages after they were typed.
func (h *house) changes() (out []chat.Said) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, s := range h.said {
		if !s.Changed.IsZero() {
			out = append(out, chat.Said{ID: s.ID, At: s.At, Text: s.Text, Deleted: s.Deleted})
		}
	}
	return out
}

// What a member makes of a message later is handed on under the number of the message, once, and what the platform itself
// changes is not. What happens while there is no connection is noticed after it.
func TestEditedAndDeleted(t *testing.T) {
	for name, away := range map[string]bool{"while connected": false, "while away": true} {
		t.Run(name, func(t *testing.T) {
			strict(t, func(t *testing.T, s *stage) {
				s.start(t)
				s.connected(t)
				var all []discordtest.Message
				for _, text := range []string{"60 kg", "61 kg", "62 kg", "63 kg", "64 kg"} {
					m := s.Types(s.anna, text)
					s.answerTo(t, m)
					all = append(all, m)
				}
				s.Dispatch("MESSAGE_UPDATE", map[string]any{"id": all[0].ID, "channel_id": s.Channel, "guild_id": s.Guild, "content": "60 kg",
					"author": map[string]any{"id": s.anna.ID, "username": "Anna"}, "edited_timestamp": nil}) // a preview was added
				s.Dispatch("MESSAGE_UPDATE", map[string]any{"id": "5", "channel_id": "6", "content": "5 kg", "edited_timestamp": "2026-03-01T12:00:00Z"})
				s.Dispatch("MESSAGE_DELETE", map[string]any{"id": all[0].ID, "channel_id": "6"}) // of another channel
				if away {
					s.net.Refuse()
					time.Sleep(time.Minute)
				}
				s.Retypes(all[0], "70 kg")
				s.Deletes(all[1])
				s.Deletes(all[2], all[3])
				s.net.Mend()
				s.connected(t)
				s.hears(t, 11*time.Minute, "Anna: 70 kg")
				time.Sleep(21 * time.Minute) // the history is read again
				want := []chat.Said{{ID: all[0].ID, At: all[0].At, Text: "70 kg"}, {ID: all[1].ID, At: all[1].At, Deleted: true},
					{ID: all[2].ID, At: all[2].At, Deleted: true}, {ID: all[3].ID, At: all[3].At, Deleted: true}}
				if d := cmp.Diff(want, s.house.changes(), cmpopts.EquateApproxTime(time.Second)); d != "" {
					t.Error(d)
				}
			})
		})
	}
}
