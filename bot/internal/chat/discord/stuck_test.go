package discord

import (
	"testing"
	"time"

	"tarebell/bot/internal/chat/discord/discordtest"
)

// A packet at the wrong time makes the client library hang for good, with its lock held: such a session is left behind, and
// the next login works. What hangs on a lock does not let the time of a synctest bubble pass, so this runs on the real clock.
func TestStuckLogin(t *testing.T) {
	t.Parallel()
	for name, first := range map[string]discordtest.Login{
		"op 7 as the first packet": discordtest.ReconnectFirst, "heartbeat ACK as the first packet": discordtest.AckFirst, "never READY": discordtest.NeverReady,
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			p := discordtest.New(t)
			c, err := New(Options{Token: p.Token, Channel: p.Channel, Transport: discordtest.Transport(p.URL)})
			if err != nil {
				t.Fatal(err)
			}
			p.NextLogins(first)
			for i, patience := range []time.Duration{time.Second, openWithin} {
				l, err := c.newGateway()
				if err != nil {
					t.Fatal(err)
				}
				err = l.login(t.Context(), patience)
				l.drop()
				if (err == nil) != (i == 1) {
					t.Errorf("login %d: %v", i+1, err)
				}
			}
		})
	}
}
