package discord_test

import (
	"context"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"tarebell/bot/internal/chat/discord"
	"tarebell/bot/internal/chat/discord/discordtest"
)

// stage is a bot on a platform in a time of the test's own: nothing waits for the real clock, and the paces are those
// that the bot has in earnest.
type stage struct {
	*flat
	net  *discordtest.Network
	opt  discord.Options
	seen string // the mark, as on disk; see mark
	disk sync.Mutex
}

// mark is where the mark is.
func (s *stage) mark() string {
	s.disk.Lock()
	defer s.disk.Unlock()
	return s.seen
}

// strict runs a test in such a time.
func strict(t *testing.T, test func(t *testing.T, s *stage)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		time.Sleep(time.Until(time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC))) // ids count from 2015
		p, n := discordtest.Inside(t)
		p.MessageContent, p.Inspect = true, noted.note
		s := &stage{net: n, flat: &flat{Platform: p, house: &house{}}}
		s.opt = discord.Options{Token: p.Token, Channel: p.Channel, ReadMessages: true, Commands: specs, Transport: n.Transport(), Dial: n.Dial,
			LastSeen: func(context.Context) (string, error) { return s.mark(), nil },
			SetLastSeen: func(_ context.Context, id string) error {
				s.disk.Lock()
				defer s.disk.Unlock()
				s.seen = id
				return nil
			}}
		var cancel context.CancelFunc
		s.ctx, cancel = context.WithTimeout(t.Context(), 48*time.Hour)
		defer cancel()
		defer s.end(t)
		s.anna, s.ben = p.Join("Anna", p.Role), p.Join("Ben")
		test(t, s)
	})
}

// end waits until all goroutines have ended, those too that sleep in the client library.
func (s *stage) end(t *testing.T) {
	if s.stop != nil {
		if err := s.stop(); err != nil {
			t.Errorf("Run: %v; want nil when its context ends", err)
		}
	}
	s.opt.Transport.(interface{ CloseIdleConnections() }).CloseIdleConnections()
	s.Platform.Close()
	time.Sleep(5 * time.Minute)
}

// start starts a process of the bot, which ends with the test.
func (s *stage) start(t *testing.T) {
	t.Helper()
	bot, err := discord.New(s.opt)
	if err != nil {
		t.Fatal(err)
	}
	s.bot = bot
	s.run(t)
}

// within lets time pass until is is true, at most so long, and says how long it took.
func (s *stage) within(t *testing.T, limit time.Duration, what string, is func() bool) (took time.Duration) {
	t.Helper()
	began := time.Now()
	for synctest.Wait(); !is(); synctest.Wait() {
		if time.Since(began) >= limit {
			t.Fatalf("%s did not come within %v; health %+v", what, limit, s.bot.Health())
		}
		time.Sleep(50 * time.Millisecond)
	}
	return time.Since(began)
}

// hears lets time pass until the handler has heard a line.
func (s *stage) hears(t *testing.T, limit time.Duration, line string) time.Duration {
	t.Helper()
	return s.within(t, limit, line, func() bool {
		for _, h := range s.house.heard() {
			if h == line {
				return true
			}
		}
		return false
	})
}

// connected lets time pass until the bot is there and its commands are known.
func (s *stage) connected(t *testing.T) {
	t.Helper()
	s.within(t, time.Minute, "a connection", func() bool { h := s.bot.Health(); return h.Connected && h.Registered })
}
