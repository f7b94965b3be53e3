package app

import (
	"context"
	"testing"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/chat/chattest"
	"tarebell/bot/internal/store"
	"tarebell/config"
)

// TestTurn: the next turn comes when there is something to do, at the latest in an hour; a ledger that cannot be written is not tried
// every second.
func TestTurn(t *testing.T) {
	cfg, err := config.Parse("house.yaml", []byte("household: {name: Clock, timezone: Europe/Vienna}\ncylinders: [{name: main, tare: 14.30 kg, net_fill: 10 kg}]\n"))
	if err != nil {
		t.Fatal(err)
	}
	now := time.Date(2027, 5, 3, 7, 59, 30, 0, cfg.Household.Location)
	a, err := Start(t.Context(), Options{Config: cfg, Data: t.TempDir(), Now: func() time.Time { return now },
		Open: func([]chat.Spec, store.Store) (chat.Channel, error) { return chattest.New(), nil }})
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []time.Duration{30 * time.Second, longestWait} { // the day's look is at eight
		if wait, trouble := a.turn(t.Context()); wait != want || trouble != "" {
			t.Errorf("at %s wait %v (%s), want %v", now.Format("15:04:05"), wait, trouble, want)
		}
		now = now.Add(time.Minute)
	}
	if h := a.Health(); !h.OK {
		t.Errorf("all is well, and /healthz says %+v", h)
	}
	if err := a.Close(t.Context()); err != nil {
		t.Fatal(err)
	}
	now = now.AddDate(0, 0, 1)
	if wait, trouble := a.turn(t.Context()); wait != troubledWait || trouble == "" {
		t.Errorf("without a ledger wait %v (%q), want %v and why", wait, trouble, troubledWait)
	}
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { defer close(done); a.clock(ctx) }()
	until(t, "/healthz names the ledger", func() bool { h := a.Health(); return !h.OK && h.Ledger != "" })
	stop()
	<-done
}
