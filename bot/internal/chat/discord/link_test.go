package discord_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"tarebell/bot/internal/chat/discord/discordtest"
)

// A link that breaks in all the ways there are, again and again: how long nobody listens after it is whole again, and
// what that costs in logins.
func TestFlappingLink(t *testing.T) {
	days := 2
	if testing.Short() || racing {
		days = 1
	}
	strict(t, func(t *testing.T, s *stage) {
		rnd := rand.New(rand.NewPCG(31, 7))
		s.start(t)
		s.connected(t)
		var deaf []time.Duration
		s.LoginsLeft = 1000 * days // renewed each midnight
		for end := time.Now().Add(time.Duration(days) * 24 * time.Hour); time.Now().Before(end); {
			time.Sleep(time.Duration(rnd.ExpFloat64() * float64(9*time.Minute)))
			kind := s.breaks(rnd)
			whole := time.Now()
			line := fmt.Sprint("typed ", len(deaf))
			s.Types(s.anna, line)
			took := s.hears(t, 5*time.Minute, "Anna: "+line)
			if took > 40*time.Second {
				t.Logf("deaf for %v after: %s", time.Since(whole), kind)
			}
			deaf = append(deaf, took)
			s.house.forget()
		}
		slices.Sort(deaf)
		n := len(deaf)
		p99 := deaf[n*99/100]
		st := s.Stats()
		t.Logf("%d breaks: deaf after their end p50 %v, p90 %v, p99 %v, max %v; %d logins, %d hasty, %d invalid requests", n, deaf[n/2], deaf[n*9/10], p99, deaf[n-1], st.Identifies, st.Hasty, st.Invalid)
		if p99 > 40*time.Second || st.Hasty > 0 || st.Identifies > 1000*days {
			t.Errorf("p99 %v, %+v; want at most 40 s, no login too soon, and enough of them", p99, st)
		}
	})
}

// breaks lets the link be broken for a while, in one of the ways there are, and mends it.
func (s *stage) breaks(rnd *rand.Rand) string {
	outage := time.Duration(rnd.ExpFloat64() * float64(3*time.Minute))
	kind := []string{"refused", "silent", "cut", "reconnect", "errors", "zombie", "session gone"}[rnd.IntN(7)]
	switch kind {
	case "refused":
		s.net.Refuse()
	case "silent":
		s.net.Silence()
	case "cut":
		s.CutAll()
		return kind
	case "reconnect":
		s.Reconnect()
		return kind
	case "session gone":
		s.CloseAll(4009, "Session timed out.")
		return kind
	case "errors":
		s.Fail(discordtest.Fault{Status: 503, Times: 1 << 20})
		s.CutAll()
	case "zombie":
		s.Mute(true)
	}
	time.Sleep(outage)
	s.net.Mend()
	s.Mend()
	s.Mute(false)
	return fmt.Sprint(kind, " for ", outage.Round(time.Second))
}

// An outage of minutes ends within seconds, however long it took, and costs no login but the one that works.
func TestOutageCostsNoLogins(t *testing.T) {
	strict(t, func(t *testing.T, s *stage) {
		s.start(t)
		s.connected(t)
		s.net.Refuse()
		time.Sleep(2 * time.Hour)
		s.net.Mend()
		took := s.within(t, 30*time.Second, "the connection", func() bool { return s.bot.Health().Connected })
		if n := s.Stats().Identifies; n != 2 {
			t.Errorf("%d logins", n)
		}
		t.Logf("connected %v after an outage of two hours", took)
	})
}
