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
		first := s.seen
		time.Sleep(6 * time.Second)
		if s.seen == first || s.bot.Health().CaughtUp {
			t.Errorf("the mark stays at %s", s.seen)
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
		var wait *chat.RetryAfter
		if err := bot.Edit(s.ctx, id, hello); !errors.As(err, &wait) || wait.All || wait.After != 2*time.Minute {
			t.Errorf("edit: %v; want a pause of its own", err)
		}
		danger := chat.Message{ID: "n2", Headline: "Leave the room.", Severity: chat.Danger}
		if _, err := bot.Post(s.ctx, danger); err != nil {
			t.Errorf("a danger behind an edit: %v", err)
		}
		s.Fail(discordtest.Fault{Match: posting, Status: 403, Page: true})
		if _, err := bot.Post(s.ctx, chat.Message{ID: "n3", Headline: "Hm."}); err == nil || errors.As(err, new(*chat.RetryAfter)) || errors.Is(err, chat.ErrPermanent) {
			t.Errorf("a stray page: %v; want an error that asks for nothing", err)
		}
		s.Fail(discordtest.Fault{Match: posting, Status: 429, RetryAfter: 2 * time.Minute})
		if _, err := bot.Post(s.ctx, chat.Message{ID: "n4", Headline: "Hm."}); !errors.As(err, &wait) || wait.All {
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

// The kinds of channel that there are: some work, the others are refused at the start, with the ones that do.
func TestKindsOfChannel(t *testing.T) {
	for kind, works := range map[int]bool{0: true, 5: true, 10: true, 11: true, 12: true, 2: false, 4: false, 13: false, 14: false, 15: false, 16: false} {
		t.Run(fmt.Sprint(kind), func(t *testing.T) {
			strict(t, func(t *testing.T, s *stage) {
				s.Kind = kind
				if !works {
					bot, err := discord.New(s.opt)
					if err != nil {
						t.Fatal(err)
					}
					ctx, cancel := context.WithTimeout(s.ctx, time.Hour)
					defer cancel()
					err = bot.Run(ctx, s.house)
					if err == nil || !errors.Is(err, chat.ErrPermanent) || !strings.Contains(err.Error(), "text channels, announcement channels and threads in them work") {
						t.Errorf("error %v; want one that says what works", err)
					}
					return
				}
				s.start(t)
				s.connected(t)
				s.answerTo(t, s.Types(s.anna, "61 kg"))
				if id, err := s.bot.Post(s.ctx, due); err != nil || s.bot.Edit(s.ctx, id, due) != nil {
					t.Errorf("posting: %v", err)
				}
				if h := s.bot.Health(); !h.OK() {
					t.Errorf("health %+v", h)
				}
			})
		})
	}
}

// Each permission that is missing has its word, and is noticed by itself, at the start and later.
func TestPermissionsHaveTheirWords(t *testing.T) {
	says := func(s *stage, words string) func() bool {
		return func() bool { h := s.bot.Health(); return !h.OK() && strings.Contains(h.Err, words) }
	}
	strict(t, func(t *testing.T, s *stage) {
		s.Types(s.anna, "hm")
		s.Deny(discordtest.ReadHistory)
		s.start(t)
		s.within(t, 10*time.Second, "the word", says(s, "give the bot the permission Read Message History"))
		if !s.bot.Health().Registered {
			t.Error("the commands wait for the history")
		}
		s.Grant(discordtest.ReadHistory)
		s.within(t, 2*time.Minute, "health", func() bool { return s.bot.Health().OK() })
		s.Types(s.anna, "hm")
		s.Deny(discordtest.ReadHistory)
		s.within(t, 11*time.Minute, "the word", says(s, "Read Message History"))
		if _, _, err := s.bot.Find(s.ctx, "n7", time.Now().Add(-time.Hour)); !errors.Is(err, chat.ErrUnseen) {
			t.Errorf("looking in the dark: %v; want ErrUnseen", err)
		}
		s.Types(s.anna, "61 kg")
		if _, err := s.WaitMessage(s.ctx, "an answer that is no reply", func(m discordtest.Message) bool { return strings.HasPrefix(m.Content, "**Understood: 61 kg") }); err != nil {
			t.Error(err)
		}
		s.Grant(discordtest.ReadHistory)
		s.within(t, 11*time.Minute, "health", func() bool { return s.bot.Health().OK() })

		for _, p := range []struct {
			what  discordtest.Permission
			words string
		}{{discordtest.EmbedLinks, "Embed Links"}, {discordtest.AttachFiles, "Attach Files"}} {
			s.Deny(p.what)
			m := due
			m.ID = fmt.Sprint("p", p.what)
			id, err := s.bot.Post(s.ctx, m)
			if err != nil {
				t.Fatal(err)
			}
			if !says(s, p.words)() {
				t.Errorf("health %+v; want a word about %s", s.bot.Health(), p.words)
			}
			if got := now(s.flat, discordtest.Message{ID: id}).Content; !strings.Contains(got, "About 12 days of gas are left.") {
				t.Errorf("reads %q; want the details", got)
			}
			if at, found, err := s.bot.Find(s.ctx, m.ID, time.Now().Add(-time.Minute)); at != id || !found || err != nil {
				t.Errorf("not found again: %v", err)
			}
			s.Grant(p.what)
			m.ID += "b"
			if _, err := s.bot.Post(s.ctx, m); err != nil || !s.bot.Health().OK() {
				t.Errorf("%v, health %+v", err, s.bot.Health())
			}
		}
		time.Sleep(5 * time.Second)
		s.Deny(discordtest.Send)
		if _, err := s.bot.Post(s.ctx, hello); !errors.Is(err, chat.ErrPermanent) || !strings.Contains(err.Error(), "Send Messages") {
			t.Errorf("posting: %v", err)
		}
	})
}

// While the commands cannot be registered or the history cannot be read, both show, and neither waits for the other.
func TestConnectedIsNotAll(t *testing.T) {
	strict(t, func(t *testing.T, s *stage) {
		s.seen = s.Types(s.ben, "58 kg").ID
		s.Types(s.anna, "60 kg")
		const history = "GET /channels/{}/messages"
		s.Fail(discordtest.Fault{Match: "PUT /applications", Status: 500, Times: 1 << 20}, discordtest.Fault{Match: history, Status: 500, Times: 1 << 20})
		s.start(t)
		s.within(t, 10*time.Second, "both words", func() bool { return len(s.bot.Health().Troubles) == 2 })
		if h := s.bot.Health(); !h.Connected || h.Registered || h.CaughtUp || h.OK() || h.Err == "" {
			t.Errorf("health %+v", h)
		}
		s.Mend()
		s.Fail(discordtest.Fault{Match: history, Status: 500, Times: 1 << 20})
		s.within(t, 11*time.Minute, "the commands", func() bool { return s.bot.Health().Registered })
		s.Mend()
		s.Fail(discordtest.Fault{Match: "PUT /applications", Status: 500, Times: 1 << 20})
		s.hears(t, 2*time.Minute, "Anna: 60 kg")
		s.Mend()
		s.within(t, 11*time.Minute, "health", func() bool { return s.bot.Health().OK() })
	})
}

// What is typed while the channel is hidden from a bot that is connected is heard later, also when what came after it was
// heard at once and the process died.
func TestHiddenForAWhile(t *testing.T) {
	strict(t, func(t *testing.T, s *stage) {
		s.start(t)
		s.connected(t)
		s.Deny(discordtest.View)
		s.Types(s.anna, "60 kg")
		s.Grant(discordtest.View)
		s.Types(s.anna, "61 kg")
		s.hears(t, time.Second, "Anna: 61 kg")
		s.hears(t, 11*time.Minute, "Anna: 60 kg")
		if n := len(s.house.heard()); n != 2 || s.seen == "" {
			t.Errorf("heard %d times, the mark is at %q", n, s.seen)
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
