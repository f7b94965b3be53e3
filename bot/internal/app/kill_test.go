package app

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"tarebell/bot/internal/chat/discord/discordtest"
	"tarebell/bot/internal/outbox"
	"tarebell/bot/internal/store"
	"tarebell/bot/internal/store/sqlite"
	"tarebell/bot/internal/store/storetest"
	"tarebell/config"
)

// The program that is killed is this test binary itself, told by the environment to be the bot.
const childEnv = "TAREBELL_TEST_CHILD"

func TestMain(m *testing.M) {
	if platform := os.Getenv(childEnv); platform != "" {
		if err := child(platform); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// child is the bot as bot run starts it, but on the stand-in platform and in a hurry.
func child(platform string) error {
	ctx, stop := signalContext()
	defer stop()
	cfg, err := config.Load(os.Getenv("TAREBELL_TEST_CONFIG"))
	if err != nil {
		return err
	}
	log := slog.New(slog.NewTextHandler(os.Stderr, &slog.HandlerOptions{Level: slog.LevelError}))
	token, err := cfg.Chat.Discord.Token.Read(os.Getenv)
	if err != nil {
		return err
	}
	o := Options{Config: cfg, Data: os.Getenv("TAREBELL_TEST_DATA"), Log: log}
	if o.Sources, o.Every, err = Scales(cfg, os.Getenv, nil, nil); err != nil {
		return err
	}
	if o.Air, err = Monitors(cfg, os.Getenv, nil); err != nil {
		return err
	}
	o.Every["main"], o.Air[0].Every = 15*time.Millisecond, 25*time.Millisecond
	o.Open = Discord(cfg.Chat.Discord, token, log, discordtest.Transport(platform))
	a, err := Start(ctx, o)
	if err != nil {
		return err
	}
	err = a.Run(ctx)
	last, cancel := context.WithTimeout(context.WithoutCancel(ctx), 20*time.Second)
	defer cancel()
	if e := a.Close(last); err == nil {
		err = e
	}
	return err
}

// busyHouse is a scale with a steady cylinder, at /kg, and at /ppm a CO2 monitor that rises above its alarm and falls
// below it all the time, which the household is told.
func busyHouse() *httptest.Server {
	var n atomic.Int64
	r := rand.New(rand.NewPCG(7, 7))
	noise := make([]float64, 64)
	for i := range noise {
		noise[i] = 0.008 * r.NormFloat64()
	}
	return httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, q *http.Request) {
		i := n.Add(1)
		switch {
		case q.URL.Path == "/kg":
			fmt.Fprintf(w, "%.3f", 24.6+noise[i%64])
		case i%12 < 6:
			fmt.Fprint(w, "6100")
		default:
			fmt.Fprint(w, "430")
		}
	}))
}

const killHouse = `
household: {name: Kill kitchen, timezone: Europe/Vienna}
cylinders:
  - {name: main, tare: 14.30 kg, fittings: 1.10 kg, net_fill: 10 kg, scale: {url: "%[1]s/kg", unit: kg}, co2_monitor: {url: "%[1]s/ppm"}}
chat:
  discord: {channel: %[2]q, token_env: TAREBELL_TEST_TOKEN, free_text: true}
`

// TestKill kills the program with SIGKILL at random moments while a scale is polled and weights are typed, and
// shows that nothing acknowledged is lost and that no notice is posted twice or never. TAREBELL_KILLS says how often.
func TestKill(t *testing.T) {
	kills := 15
	if testing.Short() {
		kills = 4
	}
	if n, err := strconv.Atoi(os.Getenv("TAREBELL_KILLS")); err == nil {
		kills = n
	}
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 1))
	platform := discordtest.New(t)
	platform.MessageContent = true
	scale := busyHouse()
	defer scale.Close()
	dir := t.TempDir()
	cfg := childConfig(t, dir, scale.URL, platform)
	start := func() *exec.Cmd { return startChild(t, cfg, dir, platform) }
	ines := platform.Join("Ines")
	typed := map[string]string{}             // message id -> text
	finish(t, start(), dir, platform, typed) // what was typed before the bot was first here is not for it
	for range kills {
		c := start()
		if r.IntN(5) > 0 { // else it is killed while it still starts
			connected(t, platform)
		}
		stop := time.After(time.Duration(20+r.IntN(600)) * time.Millisecond)
		for alive := true; alive; {
			select {
			case <-stop:
				alive = false
			case <-time.After(time.Duration(30+r.IntN(120)) * time.Millisecond):
				text := fmt.Sprintf("%.2f kg", 24.5+0.2*r.Float64())
				typed[platform.Types(ines, text).ID] = text
			}
		}
		c.Process.Signal(syscall.SIGKILL)
		c.Wait()
	}
	finish(t, start(), dir, platform, typed)
	judge(t, dir, platform, typed, kills)
}

// childConfig writes the config of a bot that polls the house at a URL.
func childConfig(t *testing.T, dir, url string, platform *discordtest.Platform) string {
	t.Helper()
	path := filepath.Join(dir, "house.yaml")
	if err := os.WriteFile(path, fmt.Appendf(nil, killHouse, url, platform.Channel), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// startChild starts the bot in a process of its own.
func startChild(t *testing.T, cfg, data string, platform *discordtest.Platform) *exec.Cmd {
	t.Helper()
	c := exec.Command(os.Args[0], "-test.run=^$")
	c.Env = append(os.Environ(), childEnv+"="+platform.URL, "TAREBELL_TEST_CONFIG="+cfg, "TAREBELL_TEST_DATA="+data, "TAREBELL_TEST_TOKEN="+platform.Token)
	c.Stderr = os.Stderr
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	return c
}

// finish lets the program catch up, however long that takes here, and ends it as an operator would.
func finish(t *testing.T, c *exec.Cmd, dir string, platform *discordtest.Platform, typed map[string]string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Minute)
	defer cancel()
	connected(t, platform)
	mark := platform.Types(platform.Join("Joon"), "24.61 kg")
	typed[mark.ID] = mark.Content
	if _, err := platform.WaitMessage(ctx, "answer to "+mark.Content, func(m discordtest.Message) bool { return m.Bot && m.ReplyTo == mark.ID }); err != nil {
		t.Error(err)
	}
	look := time.NewTicker(100 * time.Millisecond)
	defer look.Stop()
	for ctx.Err() == nil && unheard(t, stored(t, dir), platform, typed) > 0 {
		<-look.C
	}
	c.Process.Signal(syscall.SIGTERM)
	if err := c.Wait(); err != nil {
		t.Errorf("after SIGTERM: %v", err)
	}
}

// stored counts what is in the ledger, which a program may be working with, by the message that said it; "" for what nobody typed.
func stored(t *testing.T, dir string) map[string]int {
	t.Helper()
	r, err := Snapshot(t.Context(), dir)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	entries := map[string]int{}
	for _, e := range storetest.All(t, r) {
		id, _ := strings.CutPrefix(e.Key, "said/")
		if id == e.Key {
			id = ""
		}
		entries[id]++
	}
	return entries
}

// unheard counts the typed weights that are neither in the ledger nor answered. Some are asked back: the scale may be off by as much
// as a fill just then. One that was stored when the program died, before it could answer, stays without an answer.
func unheard(t *testing.T, entries map[string]int, platform *discordtest.Platform, typed map[string]string) (n int) {
	t.Helper()
	answered := map[string]bool{}
	for _, m := range platform.Posted() {
		answered[m.ReplyTo] = true
	}
	for id := range typed {
		if entries[id] == 0 && !answered[id] {
			n++
		}
	}
	return n
}

// connected waits until the program is there.
func connected(t *testing.T, platform *discordtest.Platform) {
	t.Helper()
	look, giveUp := time.NewTicker(5*time.Millisecond), time.After(time.Minute)
	defer look.Stop()
	for platform.Connected() == 0 {
		select {
		case <-look.C:
		case <-giveUp:
			t.Fatal("the program never connected")
		}
	}
}

func judge(t *testing.T, dir string, platform *discordtest.Platform, typed map[string]string, kills int) {
	t.Helper()
	s, err := sqlite.Open(filepath.Join(dir, "ledger.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	ctx := context.Background()
	entries := stored(t, dir)
	polls := entries[""]
	acknowledged := 0
	for _, m := range platform.Posted() {
		if m.ReplyTo == "" || !strings.Contains(m.Text(), "oted") {
			continue
		}
		acknowledged++
		if entries[m.ReplyTo] != 1 {
			t.Errorf("%q was acknowledged and is in the ledger %d times", typed[m.ReplyTo], entries[m.ReplyTo])
		}
	}
	if n := unheard(t, entries, platform, typed); n > 0 {
		t.Errorf("%d of %d typed weights were never heard", n, len(typed))
	}
	shown := map[string]int{} // by the last line, with the notice's own number
	for _, m := range platform.Posted() {
		shown[m.Content[strings.LastIndex(m.Content, "\n")+1:]]++
	}
	out, err := s.History(ctx, 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	posted := 0
	for _, o := range out {
		var m struct{ ID string }
		if err := json.Unmarshal(o.Payload, &m); err != nil {
			t.Fatal(err)
		}
		if m.ID == "" {
			m.ID = outbox.ID(o)
		}
		n := 0
		for line, times := range shown {
			if strings.Contains(line, m.ID) {
				n += times
			}
		}
		switch {
		case o.State == store.Posted && n != 1:
			t.Errorf("notice %s is marked as posted and stands in the channel %d times", o.Key, n)
		case o.State == store.Waiting || o.State == store.Posting:
			t.Errorf("notice %s was never posted: %s %s", o.Key, o.State, o.Err)
		}
		posted += n
	}
	if polls < kills || posted < kills/5 || acknowledged < kills/2 {
		t.Errorf("too little happened to show anything: %d polls, %d notices, %d acknowledged", polls, posted, acknowledged)
	}
	t.Logf("%d kills; %d polls in the ledger; %d weights typed, %d acknowledged, 0 lost; %d notices, each posted once", kills, polls, len(typed), acknowledged, posted)
}
