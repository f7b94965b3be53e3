package discord

import (
	"context"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/bwmarrin/discordgo"
)

// A connection is watched, in a time of the test's own: silence is two minutes.
func TestWatch(t *testing.T) {
	t.Parallel()
	const silence = 2 * time.Minute
	tests := []struct {
		rule     string
		happens  func(l *gateway)
		ends     string // what the error says; empty: watching goes on
		from, to time.Duration
	}{
		{"heartbeats are answered", func(l *gateway) { beats(l, 100) }, "", 0, 0},
		{"none is answered", func(l *gateway) {}, "not answered a heartbeat for 2m", silence, silence + silence/8},
		{"no more are answered", func(l *gateway) { beats(l, 10) }, "not answered a heartbeat", 10*beat + silence, 10*beat + silence + silence/4},
		{"the session is stuck", func(l *gateway) { l.session.Lock() }, "not answered a heartbeat", silence, silence + silence/8},
		{"the connection ends", func(l *gateway) { time.Sleep(time.Hour / 100); l.gone.give() }, "was closed", time.Hour / 100, time.Hour / 100},
	}
	for _, tt := range tests {
		t.Run(tt.rule, func(t *testing.T) {
			t.Parallel()
			synctest.Test(t, func(t *testing.T) {
				l := &gateway{session: &discordgo.Session{}, ready: newSignal(), gone: newSignal(), left: newSignal(), closed: newSignal()}
				l.left.give()                // there is nobody to say goodbye to
				defer time.Sleep(2 * settle) // the bubble's time: until leave has ended
				ctx, cancel := context.WithTimeout(t.Context(), 100*beat)
				defer cancel()
				began := time.Now()
				go tt.happens(l)
				err := l.watch(ctx, silence)
				took := time.Since(began)
				if tt.ends == "" {
					if ctx.Err() == nil {
						t.Errorf("ended after %v: %v", took, err)
					}
					return
				}
				if err == nil || !strings.Contains(err.Error(), tt.ends) || took < tt.from || took > tt.to {
					t.Errorf("ended after %v: %v; want %q after %v to %v", took, err, tt.ends, tt.from, tt.to)
				}
			})
		})
	}
}

// beat is the usual time between two heartbeats.
const beat = 41250 * time.Millisecond

// beats lets a number of heartbeats be answered.
func beats(l *gateway, n int) {
	for range n {
		time.Sleep(beat)
		l.session.Lock()
		l.session.LastHeartbeatAck = time.Now().UTC()
		l.session.Unlock()
	}
}
