package discord_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/chat/discord"
	"tarebell/bot/internal/chat/discord/discordtest"
)

// oddities are parts of messages as the platform may send them one day, or does: each made a whole page of the history
// unreadable to the client library's types.
var oddities = []map[string]any{
	{"components": []any{map[string]any{"type": 99, "id": 1}}},
	{"referenced_message": map[string]any{"id": "1", "components": []any{map[string]any{"type": 99}}}},
	{"message_snapshots": []any{map[string]any{"message": map[string]any{"content": "60 kg", "components": []any{map[string]any{"type": 77}}}}}},
	{"attachments": []any{map[string]any{"id": "1", "filename": "x.png", "width": 640.5, "height": 480.25, "size": "12"}}},
	{"embeds": []any{map[string]any{"image": map[string]any{"width": 1.5}, "color": "red"}}},
	{"flags": "none", "position": 1.5, "mention_roles": nil, "pinned": "no"},
}

// What one message holds keeps nobody from being heard, neither later nor live, and nothing from being found.
func TestOddMessages(t *testing.T) {
	strict(t, func(t *testing.T, s *stage) {
		s.seen = s.Types(s.ben, "59 kg").ID
		var want []string
		for i, odd := range oddities {
			s.Puts(s.anna, "hm", odd)
			s.Types(s.anna, fmt.Sprint(60+i, " kg"))
			want = append(want, fmt.Sprint("Anna: ", 60+i, " kg"))
		}
		s.Puts(s.anna, "no text", map[string]any{"content": 5})
		s.Puts(s.anna, "no author", map[string]any{"author": nil})
		s.Puts(s.anna, "no message", map[string]any{"id": 17.5})
		s.Puts(s.anna, "70 kg", map[string]any{"webhook_id": "7", "author": map[string]any{"id": "7", "username": "hook", "bot": true}})
		s.Puts(discordtest.Member{ID: "8", Name: "another bot"}, "71 kg", map[string]any{"author": map[string]any{"id": "8", "username": "other", "bot": true}})
		s.start(t)
		s.connected(t)
		for _, line := range want {
			s.hears(t, time.Minute, line)
		}
		for i, odd := range oddities {
			s.Puts(s.anna, fmt.Sprint(80+i, " kg"), odd)
			s.hears(t, time.Second, fmt.Sprint("Anna: ", 80+i, " kg"))
		}
		for _, h := range s.house.heard() {
			if strings.Contains(h, ": 7") {
				t.Errorf("heard %q", h)
			}
		}
		if h := s.bot.Health(); h.Unread != 3 || !h.OK() {
			t.Errorf("health %+v; want three messages unread", h)
		}
		if _, found, err := s.bot.Find(s.ctx, "never", time.Now().Add(-time.Hour)); found || err != nil {
			t.Errorf("looking for a notice: %v, %v", found, err)
		}
	})
}

// An interaction is answered whatever stands in the message that it comes from.
func TestOddInteractions(t *testing.T) {
	strict(t, func(t *testing.T, s *stage) {
		s.start(t)
		s.connected(t)
		for _, odd := range oddities {
			asked := s.answerTo(t, s.Types(s.anna, "61 kg"))
			s.Dress(asked.ID, odd)
			if m := s.message(t, s.Presses(s.anna, asked, "Undo")); m.Content != "Undone." {
				t.Errorf("answered %q", m.Content)
			}
		}
	})
}

// A backlog far beyond the route's limit is read to its end, the mark moves on meanwhile, a restart goes on from there,
// and commands are known at once.
func TestLongHistory(t *testing.T) {
	strict(t, func(t *testing.T, s *stage) {
		s.seen = s.Types(s.ben, "59 kg").ID
		for range 1999 {
			s.Types(s.anna, "hm")
		}
		s.Types(s.anna, "60 kg")
		s.start(t)
		s.within(t, 2*time.Second, "the commands", func() bool { return s.bot.Health().Registered })
		first := s.mark()
		time.Sleep(6 * time.Second)
		if s.mark() == first || s.bot.Health().CaughtUp {
			t.Errorf("the mark stays at %s", first)
		}
		if err := s.stop(); err != nil {
			t.Fatal(err)
		}
		s.start(t)
		took := s.hears(t, 40*time.Second, "Anna: 60 kg")
		n := 0
		for _, q := range s.Requests() {
			if q.Route == "/channels/{}/messages" && q.Method == "GET" {
				n++
			}
		}
		if n > 24 {
			t.Errorf("%d pages read for 2,000 messages; want about 20", n)
		}
		t.Logf("%d pages, the last part in %v, %d requests refused", n, took, s.Stats().Invalid)
		s.within(t, time.Minute, "the end", func() bool { return s.bot.Health().CaughtUp })
	})
}

// A notice is found although it stands further back than one attempt can look.
func TestFindGoesOn(t *testing.T) {
	strict(t, func(t *testing.T, s *stage) {
		began := time.Now()
		for range 3000 {
			s.Types(s.anna, "hm")
		}
		bot, err := discord.New(s.opt)
		if err != nil {
			t.Fatal(err)
		}
		id, err := bot.Post(s.ctx, hello)
		if err != nil {
			t.Fatal(err)
		}
		for attempts := 1; ; attempts++ {
			ctx, cancel := context.WithTimeout(s.ctx, 20*time.Second)
			got, found, err := bot.Find(ctx, hello.ID, began)
			cancel()
			if found && got == id {
				t.Logf("found after %d attempts, %v", attempts, time.Since(began))
				return
			}
			if err == nil || attempts > 4 {
				t.Fatalf("attempt %d: found %v, %v", attempts, found, err)
			}
			time.Sleep(10 * time.Second)
		}
	})
}

// A pause that is asked of edits is none of posts, and a stray page none of anything. What is global is for all.
func TestLimitsAreOfTheirRoute(t *testing.T) {
	strict(t, func(t *testing.T, s *stage) {
		bot, err := discord.New(s.opt)
		if err != nil {
			t.Fatal(err)
		}
		id, err := bot.Post(s.ctx, hello)
		if err != nil {
			t.Fatal(err)
		}
		const edits = "PATCH /channels/{}/messages/{}"
		s.Fail(discordtest.Fault{Match: edits, Status: 429, RetryAfter: 2 * time.Minute})
		if err := bot.Edit(s.ctx, id, hello); !asksFor(err, 2*time.Minute, false) {
			t.Errorf("edit: %v; want a pause of its own", err)
		}
		danger := chat.Message{ID: "n2", Headline: "Leave the room.", Severity: chat.Danger}
		if _, err := bot.Post(s.ctx, danger); err != nil {
			t.Errorf("a danger behind an edit: %v", err)
		}
		s.Fail(discordtest.Fault{Match: posting, Status: 403, Page: true})
		if _, err := bot.Post(s.ctx, chat.Message{ID: "n3", Headline: "Hm."}); err == nil || !asksFor(err, 0, false) || errors.Is(err, chat.ErrPermanent) {
			t.Errorf("a stray page: %v; want an error that asks for nothing", err)
		}
		s.Fail(discordtest.Fault{Match: posting, Status: 429, RetryAfter: 2 * time.Minute})
		if _, err := bot.Post(s.ctx, chat.Message{ID: "n4", Headline: "Hm."}); !asksFor(err, 2*time.Minute, false) {
			t.Errorf("a plain post: %v", err)
		}
		danger.ID = "n5"
		if _, err := bot.Post(s.ctx, danger); err != nil {
			t.Errorf("a danger while posts shall pause for longer than it can wait: %v; want it tried", err)
		}
	})
}

// Posts of dangers wait for their turn within an attempt, and are not refused by us.
func TestDangerWaitsForTheLimit(t *testing.T) {
	strict(t, func(t *testing.T, s *stage) {
		bot, err := discord.New(s.opt)
		if err != nil {
			t.Fatal(err)
		}
		began := time.Now()
		for i := range 12 {
			if _, err := bot.Post(s.ctx, chat.Message{ID: fmt.Sprint("n", i), Headline: "Leave the room.", Severity: chat.Danger}); err != nil {
				t.Fatal(err)
			}
		}
		if took := time.Since(began); took < 10*time.Second || took > 11*time.Second || s.Stats().Invalid > 0 {
			t.Errorf("12 posts at 5 in 5 s took %v, %d refused", took, s.Stats().Invalid)
		}
	})
}

// While nobody can say whether an author may write, their message is kept, also over a restart, and all others are served.
func TestRolesUnknown(t *testing.T) {
	strict(t, func(t *testing.T, s *stage) {
		s.opt.Roles = []string{s.Role}
		s.seen = s.Types(s.ben, "58 kg").ID
		s.Fail(discordtest.Fault{Match: "GET /guilds/{}/members/{}", Status: 503, Times: 1 << 20})
		s.Types(s.anna, "60 kg") // in the history without their roles
		s.Types(s.ben, "61 kg")
		s.start(t)
		s.connected(t)
		carla := s.Join("Carla", s.Role)
		s.Types(carla, "62 kg")
		s.hears(t, time.Second, "Carla: 62 kg")
		if m := s.message(t, s.Calls(carla, "gas")); m.Content == "" {
			t.Error("no answer")
		}
		s.within(t, time.Minute, "the trouble to show", func() bool {
			h := s.bot.Health()
			return h.Undecided == 2 && !h.OK() && strings.Contains(h.Err, "asking for a member's roles")
		})
		time.Sleep(3 * time.Hour)
		if err := s.stop(); err != nil {
			t.Fatal(err)
		}
		s.start(t)
		time.Sleep(10 * time.Minute)
		s.Mend()
		s.hears(t, 2*time.Minute, "Anna: 60 kg")
		time.Sleep(time.Minute)
		n := 0
		for _, h := range s.house.heard() {
			if strings.HasPrefix(h, "Ben") {
				t.Errorf("heard %q, who has no such role", h)
			}
			if h == "Anna: 60 kg" {
				n++
			}
		}
		if h := s.bot.Health(); n != 1 || !h.OK() {
			t.Errorf("heard %d times, health %+v", n, h)
		}
	})
}

// Names that people give themselves are neither links nor invitations.
func TestNamesAreNoLinks(t *testing.T) {
	strict(t, func(t *testing.T, s *stage) {
		s.start(t)
		s.connected(t)
		for _, name := range []string{"https://evil.example/x", "HTTP://evil.example", "discord.gg/abcdef", "Discord.com/invite/abcdef", "discordapp.com/invite/abc"} {
			m := s.answerTo(t, s.Types(s.Join(name), "61 kg"))
			if strings.Contains(m.Content, "://") || strings.Contains(m.Content, name) {
				t.Errorf("%q: %q", name, m.Content)
			}
		}
	})
}

// Texts of characters that count twice keep the limits.
func TestLimitsInUnits(t *testing.T) {
	strict(t, func(t *testing.T, s *stage) {
		wide := strings.Repeat("🫧", 5000)
		bot, err := discord.New(s.opt)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range []chat.Message{
			{ID: "a", Headline: wide, Body: []string{wide}, Buttons: []chat.Button{{ID: "x", Label: wide}}},
			{ID: "b", Headline: "x", Body: []string{wide}, Severity: chat.Danger, Files: []chat.File{{Name: "x.png", Type: "image/png", Data: png.Data, Alt: wide}}},
		} {
			if _, err := bot.Post(s.ctx, m); err != nil {
				t.Error(err)
			}
		}
		s.house.wide = wide
		s.start(t)
		s.connected(t)
		if got, err := s.Completes(s.anna, "weigh", discordtest.Option{Name: "cylinder", Value: "m", Focused: true}).Choices(s.ctx); err != nil || len(got) != 2 {
			t.Errorf("suggested %d, %v", len(got), err)
		}
	})
}

// Interactions are limited neither by the bucket of posts nor by one another.
func TestManyInteractions(t *testing.T) {
	strict(t, func(t *testing.T, s *stage) {
		s.start(t)
		s.connected(t)
		for range 200 {
			x := s.Calls(s.anna, "gas")
			synctest.Wait()
			if typ, took, err := x.Wait(s.ctx); typ != 4 || took > time.Second || err != nil {
				t.Fatalf("type %d after %v, %v", typ, took, err)
			}
		}
		raw, _ := json.Marshal(s.Stats())
		t.Log(string(raw))
	})
}

// What is typed after the bot was first here is for it, though its first process ended before it had read the history.
func TestStoppedBeforeTheFirstCatchUp(t *testing.T) {
	strict(t, func(t *testing.T, s *stage) {
		s.Types(s.anna, "hm")
		s.Fail(discordtest.Fault{Match: "GET /channels/{}/messages", Status: 503, Times: 4})
		s.start(t)
		s.connected(t)
		if err := s.stop(); err != nil || s.bot.Health().CaughtUp {
			t.Fatal(err, s.bot.Health())
		}
		s.Types(s.anna, "60 kg")
		s.start(t)
		s.hears(t, time.Minute, "Anna: 60 kg")
		if heard := s.house.heard(); len(heard) != 1 {
			t.Errorf("heard %q; want nothing from before the bot was here", heard)
		}
	})
}
