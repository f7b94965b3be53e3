package discord_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/chat/discord"
	"tarebell/bot/internal/chat/discord/discordtest"
)

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
			time.Sleep(5 * time.Second) // for the limit of posts
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
		if n := len(s.house.heard()); n != 2 || s.mark() == "" {
			t.Errorf("heard %d times, the mark is at %q", n, s.mark())
		}
	})
}
