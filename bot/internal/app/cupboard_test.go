package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"maps"
	"math"
	"math/rand/v2"
	"net/http"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/chat/chattest"
	"tarebell/bot/internal/store"
	"tarebell/bot/internal/store/storetest"
	"tarebell/config"
	"tarebell/sources"
)

// cupboard is a household that somebody set up and forgot, with a fault each day. Its gas, use and faults are invented.
type cupboard struct {
	t      *testing.T
	app    *App
	ch     *chattest.Channel
	now    time.Time // as the program's clock says
	skew   time.Duration
	random *rand.Rand
	net    float64
	fault  string // of these hours; "" none

	accepted map[string]bool           // keys of what was acknowledged
	days     map[string]int            // by fault
	refused  map[string]int            // readings, by fault
	said     map[string]map[string]int // notices, by fault and kind
	lines    map[string]int            // of the log, by fault
}

const cupboardHouse = `
household: {name: Cupboard, timezone: Europe/Vienna}
cylinders:
  - {name: main, tare: 14.30 kg, fittings: 1.10 kg, net_fill: 10 kg, scale: {url: http://scale.example/, every: 3h, weight: /w, unit: kg}}
`

// RoundTrip is the board: it weighs, or is silly.
func (c *cupboard) RoundTrip(r *http.Request) (*http.Response, error) {
	body, status, media := fmt.Sprintf(`{"w": %.3f}`, (15_400+c.net+4*c.random.NormFloat64())/1000), 200, "application/json"
	if c.fault == "board" {
		switch c.random.IntN(6) {
		case 0:
			return nil, errors.New("connection reset by peer")
		case 1:
			body = fmt.Sprintf("<html>busy %d</html>", c.random.IntN(1000))
		case 2:
			body = `{"w": null}`
		case 3:
			status = 503
		case 4:
			body = fmt.Sprintf(`{"w": %d}`, 1e6+c.random.IntN(1e6))
		case 5:
			body = strings.Repeat(" ", 1<<20)
		}
	}
	return &http.Response{StatusCode: status, Header: http.Header{"Content-Type": {media}}, Body: io.NopCloser(strings.NewReader(body)), ContentLength: int64(len(body)), Request: r}, nil
}

// Write counts the lines of the log.
func (c *cupboard) Write(p []byte) (int, error) {
	c.lines[c.fault]++
	return len(p), nil
}

// faulty is the ledger, on a disk that is full at times.
type faulty struct {
	store.Store
	c *cupboard
}

func (f faulty) Write(ctx context.Context, b store.Batch) (store.Written, error) {
	if f.c.fault == "disk" {
		return full{f.Store}.Write(ctx, b)
	}
	for _, o := range b.Outgoing {
		if f.c.said[f.c.fault] == nil {
			f.c.said[f.c.fault] = map[string]int{}
		}
		f.c.said[f.c.fault][o.Kind]++
	}
	return f.Store.Write(ctx, b)
}

// away is the channel, which cannot be reached at times.
type away struct {
	*chattest.Channel
	c *cupboard
}

var errAway = errors.New("the chat is away")

func (a away) Post(ctx context.Context, m chat.Message) (string, error) {
	if a.c.fault == "chat" {
		return "", errAway
	}
	return a.Channel.Post(ctx, m)
}

func (a away) Edit(ctx context.Context, posted string, m chat.Message) error {
	if a.c.fault == "chat" {
		return errAway
	}
	return a.Channel.Edit(ctx, posted, m)
}

func (a away) Find(ctx context.Context, id string, since time.Time) (string, bool, error) {
	if a.c.fault == "chat" {
		return "", false, errAway
	}
	return a.Channel.Find(ctx, id, since)
}

// hours lets time pass with a fault, in steps of the scale's pace.
func (c *cupboard) hours(n int) {
	ctx := context.Background()
	for range n / 3 {
		c.now = c.now.Add(3 * time.Hour)
		c.net = math.Max(0, c.net-c.random.ExpFloat64()*7)
		w, err := c.app.opt.Sources["main"].Poll(ctx)
		if err == nil {
			w.Cylinder = "main"
			if _, err = c.app.accept(ctx, w); err == nil {
				c.accepted[sources.Key(w)] = true
			}
		}
		if c.app.noteScale("main", "scale", err); err != nil {
			c.refused[c.fault]++
		}
		c.app.turn(ctx)
		c.app.Outbox.Flush(ctx)
	}
}

// day has one fault for some hours, at any time of it.
func (c *cupboard) day() {
	faults := []string{"disk", "board", "chat", "board", "chat", "disk", "clock"}
	fault := faults[c.random.IntN(len(faults))]
	c.days[fault]++
	before := 3 * c.random.IntN(3)
	c.hours(before)
	c.fault = fault
	if fault == "clock" {
		c.skew = []time.Duration{24 * time.Hour, -24 * time.Hour}[c.random.IntN(2)]
	}
	c.hours(12)
	c.fault, c.skew = "", 0
	c.hours(12 - before)
	if c.net < 1200 { // somebody sees to it
		c.net = 9_900
	}
}

// TestCupboard: days without anybody who looks after it, with a fault each day: nothing that was acknowledged is lost, what was to
// be said is said once, and all is well afterwards. TAREBELL_CUPBOARD is the number of days; else it is a week.
func TestCupboard(t *testing.T) {
	days := 8
	if n, err := strconv.Atoi(os.Getenv("TAREBELL_CUPBOARD")); err == nil {
		days = n
	}
	cfg, err := config.Parse("house.yaml", []byte(cupboardHouse))
	if err != nil {
		t.Fatal(err)
	}
	c := &cupboard{t: t, ch: chattest.New(), now: time.Date(2027, 1, 4, 7, 0, 0, 0, cfg.Household.Location), random: rand.New(rand.NewPCG(11, 12)), net: 9_800,
		accepted: map[string]bool{}, days: map[string]int{}, refused: map[string]int{}, said: map[string]map[string]int{}, lines: map[string]int{}}
	now := func() time.Time { return c.now.Add(c.skew) }
	c.ch.Now = now
	o := Options{Config: cfg, Data: t.TempDir(), Now: now, Log: slog.New(slog.NewTextHandler(c, &slog.HandlerOptions{Level: slog.LevelWarn})),
		Open: func([]chat.Spec, store.Store) (chat.Channel, error) { return away{c.ch, c}, nil }}
	if o.Sources, o.Every, err = Scales(cfg, nil, now, c); err != nil {
		t.Fatal(err)
	}
	if c.app, err = Start(t.Context(), o); err != nil {
		t.Fatal(err)
	}
	defer func() { c.app.store.Close() }()
	c.app.store.Store = faulty{c.app.store.Store, c}
	for range days {
		c.day()
	}
	c.hours(48)
	c.judge()
}

func (c *cupboard) judge() {
	t, ctx := c.t, context.Background()
	if h := c.app.Health(); !h.OK {
		t.Errorf("afterwards it is not well: %+v", h)
	}
	kept := map[string]bool{}
	for _, e := range storetest.All(t, c.app.store) {
		kept[e.Key] = true
	}
	for key := range c.accepted {
		if !kept[key] {
			t.Errorf("%s was acknowledged and is lost", key)
		}
	}
	shown := map[string]int{}
	for _, p := range c.ch.Notices() {
		shown[p.Message.ID]++
	}
	list, err := c.app.store.History(ctx, 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	posted, dropped := 0, 0
	for _, o := range list {
		switch {
		case o.State == store.Posted:
			posted++
		case o.State == store.Dropped:
			dropped++
		default:
			t.Errorf("%s is %s in the end: %s", o.Key, o.State, o.Err)
		}
	}
	for id, n := range shown {
		if n != 1 {
			t.Errorf("%s is shown %d times", id, n)
		}
	}
	if n := c.said["clock"]["scale-silent"] + c.said[""]["scale-silent"]; n > 0 {
		t.Errorf("told %d times that the scale is silent, and it answers whenever nothing is wrong", n)
	}
	t.Logf("%d weighings acknowledged, none lost; %d notices posted once, %d overtaken", len(c.accepted), posted, dropped)
	for _, fault := range append(slices.Sorted(maps.Keys(c.days)), "") {
		t.Logf("%-6s %4d days, %4d readings refused, %4d lines of log, said %v", fault, c.days[fault], c.refused[fault], c.lines[fault], c.said[fault])
	}
}
