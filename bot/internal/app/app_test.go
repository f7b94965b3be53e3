package app

import (
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"tarebell/bot/internal/chat/discord/discordtest"
	"tarebell/bot/internal/store"
	"tarebell/bot/internal/store/storetest"
	"tarebell/config"
	"tarebell/forecast/unit/record"
)

// onDiscord starts the whole program on the stand-in platform and returns when it is connected.
func onDiscord(t *testing.T) (*App, *discordtest.Platform) {
	t.Helper()
	platform := discordtest.New(t)
	platform.MessageContent = true
	scale := busyHouse()
	t.Cleanup(scale.Close)
	cfg, err := config.Parse("house.yaml", fmt.Appendf(nil, killHouse, scale.URL, platform.Channel))
	if err != nil {
		t.Fatal(err)
	}
	cfg.Cylinders[0].Scale = nil // weights are typed here
	log := slog.New(slog.DiscardHandler)
	a, err := Start(t.Context(), Options{Config: cfg, Data: t.TempDir(), Log: log,
		Open: Discord(cfg.Chat.Discord, config.NewSecret(platform.Token), log, discordtest.Transport(platform.URL))})
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- a.Run(ctx) }()
	t.Cleanup(func() {
		stop()
		if err := <-done; err != nil {
			t.Error(err)
		}
		a.Close(context.WithoutCancel(ctx))
	})
	connected(t, platform)
	return a, platform
}

// alarm lets the CO2 monitor show 6000 ppm.
func alarm(t *testing.T, a *App) {
	t.Helper()
	now := time.Now()
	air := record.Event{Cylinder: "main", At: now, Kind: record.Air, Origin: record.Scale, PPM: 6000}
	if _, err := a.House.Accept(t.Context(), store.Entry{Key: fmt.Sprint("air/", now), Event: air, Received: now}); err != nil {
		t.Fatal(err)
	}
}

func TestNoticeReachesTheChannel(t *testing.T) {
	a, platform := onDiscord(t)
	alarm(t, a)
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	if _, err := platform.WaitMessage(ctx, "alarm", func(m discordtest.Message) bool { return strings.Contains(m.Text(), "6,000 ppm") }); err != nil {
		t.Error(err)
	}
}

// TestOwnerIsToldOfARefusal: a notice that the platform refuses for good is told to the owner.
func TestOwnerIsToldOfARefusal(t *testing.T) {
	a, platform := onDiscord(t)
	platform.Deny(discordtest.View)
	alarm(t, a)
	until(t, "the owner is told", func() bool { return len(platform.Told()) > 0 })
	if told := platform.Told()[0]; !strings.Contains(told.Text(), "I cannot post") {
		t.Errorf("the owner reads %q", told.Text())
	}
}

// until looks again and again whether something has come true.
func until(t *testing.T, what string, done func() bool) {
	t.Helper()
	look, giveUp := time.NewTicker(5*time.Millisecond), time.After(time.Minute)
	defer look.Stop()
	for !done() {
		select {
		case <-look.C:
		case <-giveUp:
			t.Fatalf("waited a minute: %s", what)
		}
	}
}

// TestLostLedger: nothing is acknowledged once the ledger's file was removed, replaced or overwritten under the running program, which says so in the channel and to
// whoever watches it; once it is back all goes on.
func TestLostLedger(t *testing.T) {
	a, platform := onDiscord(t)
	ines := platform.Join("Ines")
	answer := func(text string) string {
		ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
		defer cancel()
		asked := platform.Types(ines, text)
		m, err := platform.WaitMessage(ctx, "answer to "+text, func(m discordtest.Message) bool { return m.Bot && m.ReplyTo == asked.ID })
		if err != nil {
			t.Fatal(err)
		}
		return m.Text()
	}
	if said := answer("24.6 kg"); !strings.Contains(said, "oted") {
		t.Fatalf("at first: %q", said)
	}
	path := filepath.Join(a.opt.Data, ledgerFile)
	if err := os.Rename(path, path+".away"); err != nil {
		t.Fatal(err)
	}
	if said := answer("24.5 kg"); !strings.Contains(said, "was not noted: the file with everything noted so far was removed or replaced") {
		t.Errorf("without a ledger: %q", said)
	}
	if h := a.Health(); h.OK || !strings.Contains(h.Ledger, "removed or replaced") {
		t.Errorf("health without a ledger: %+v", h)
	}
	if err := os.Rename(path+".away", path); err != nil {
		t.Fatal(err)
	}
	if said := answer("24.4 kg"); !strings.Contains(said, "oted: 24.4") {
		t.Errorf("with the ledger back: %q", said)
	}
	if n := len(storetest.All(t, a.store)); n != 2 {
		t.Errorf("%d entries, want the two that were acknowledged", n)
	}
	if err := Backup(t.Context(), a.opt.Data, path+".backup"); err != nil {
		t.Fatal(err)
	}
	backup, err := os.ReadFile(path + ".backup")
	if err == nil {
		err = os.WriteFile(path, backup, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
	if said := answer("24.3 kg"); !strings.Contains(said, "was not noted: the file with everything noted so far was removed or replaced") {
		t.Errorf("with a backup copied over it: %q", said)
	}
	if h := a.Health(); h.OK || !strings.Contains(h.Ledger, "what is in the ledger's file "+path+" was removed or replaced") {
		t.Errorf("health with a backup copied over it: %+v", h)
	}
}

func TestHealth(t *testing.T) {
	a, _ := onDiscord(t)
	until(t, "the channel is connected", func() bool { return a.Health().OK })
	url := "http://" + site(t, a.opt.Site) + "/healthz"
	if code, h := ask(t, url); code != http.StatusOK || !h.OK || h.Chat == nil || !h.Chat.Connected {
		t.Errorf("well: %d %+v", code, h)
	}
	a.devices.note("main", time.Now(), fmt.Errorf("no answer within 10s"))
	if code, h := ask(t, url); code != http.StatusServiceUnavailable || h.OK || h.Scales["main"].Error != "no answer within 10s" {
		t.Errorf("a scale that fails: %d %+v", code, h)
	}
}
