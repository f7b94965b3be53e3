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
	inBubble(t, func(t *testing.T) {
		p := platform(t)
		s := &stage{net: p.Net, flat: &flat{Platform: p, house: &house{}, ctx: timeout(t)}}
		s.opt = options(t, p)
		s.opt.LastSeen = func(context.Context) (string, error) { return s.mark(), nil }
		s.opt.SetLastSeen = func(_ context.Context, id string) error {
			s.disk.Lock()
			defer s.disk.Unlock()
			s.seen = id
			return nil
		}
		s.anna, s.ben = p.Join("Anna", p.Role), p.Join("Ben")
		test(t, s)
	})
}

// start starts a process of the bot, which ends with the test.
func (s *stage) start(t *testing.T) {
	t.Helper()
	bot, err := discord.New(s.opt)
	if err != nil {
		t.Fatal(err)
	}
	s.bot = bot
	bot.AnswerThrough(postAgain(t, bot))
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
