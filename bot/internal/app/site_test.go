package app

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus/testutil"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/chat/chattest"
	"tarebell/bot/internal/store"
	"tarebell/bot/internal/store/storetest"
	"tarebell/config"
)

// freeAddress is one of loopback that nobody listens at.
func freeAddress(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// site serves s until the test ends and returns where.
func site(t *testing.T, s *Site) string {
	t.Helper()
	addr := freeAddress(t)
	if err := s.Serve(t.Context(), addr); err != nil {
		t.Fatal(err)
	}
	return addr
}

func ask(t *testing.T, url string) (int, health) {
	t.Helper()
	r, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	var h health
	if err := json.NewDecoder(r.Body).Decode(&h); err != nil {
		t.Fatal(err)
	}
	return r.StatusCode, h
}

const siteHouse = `
household: {name: Site kitchen, timezone: Europe/Vienna}
cylinders:
  - {name: main, tare: 14.30 kg, net_fill: 10 kg, scale: {unit: kg, weight: /w, time: /at}}
  - {name: other, tare: 14.30 kg, net_fill: 10 kg}
listen: {token_env: PUSH}
`

// still is a household whose scale sends by itself, in a chat that listens.
func still(t *testing.T, now func() time.Time) *App {
	t.Helper()
	cfg, err := config.Parse("house.yaml", []byte(siteHouse))
	if err != nil {
		t.Fatal(err)
	}
	o := Options{Config: cfg, Data: t.TempDir(), Now: now, Push: config.NewSecret("tok"), Site: NewSite(),
		Open: func([]chat.Spec, store.Store) (chat.Channel, error) { return chattest.New(), nil }}
	if o.Sources, o.Every, err = Scales(cfg, nil, now, nil); err != nil {
		t.Fatal(err)
	}
	a, err := Start(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { a.store.Close() })
	return a
}

func TestStarting(t *testing.T) {
	s := NewSite()
	addr := site(t, s)
	if code, h := ask(t, "http://"+addr+"/healthz"); code != http.StatusServiceUnavailable || h.OK || h.Starts == "" {
		t.Errorf("before anything is there: %d %+v", code, h)
	}
	a := still(t, time.Now)
	s.show(a)
	if code, h := ask(t, "http://"+addr+"/healthz"); code != http.StatusOK || h.Starts != "" {
		t.Errorf("with a household: %d %+v", code, h)
	}
}

// TestListen: another address takes over at once; one that is taken leaves all as it was.
func TestListen(t *testing.T) {
	s := NewSite()
	first, second := freeAddress(t), freeAddress(t)
	refused := func(addr string) bool {
		r, err := http.Post("http://"+addr+"/weighings", "application/json", strings.NewReader("{}"))
		if err != nil {
			return true
		}
		r.Body.Close()
		if r.StatusCode != http.StatusServiceUnavailable || r.Header.Get("Retry-After") == "" {
			t.Errorf("while it starts a weighing is answered %d", r.StatusCode)
		}
		return false
	}
	if err := s.Listen(first); err != nil || refused(first) {
		t.Errorf("first: %v", err)
	}
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	if err := s.Listen(taken.Addr().String()); err == nil || refused(first) {
		t.Errorf("a taken address: %v", err)
	}
	if err := s.Listen(second); err != nil || refused(second) || !refused(first) {
		t.Errorf("second: %v", err)
	}
	if err := s.Listen(""); err != nil || !refused(second) {
		t.Errorf("nowhere: %v", err)
	}
}

// full is a ledger on a full disk.
type full struct{ store.Store }

func (full) Write(context.Context, store.Batch) (store.Written, error) {
	return store.Written{}, fmt.Errorf("writing: %w", store.ErrFull)
}

// TestFullDisk: a refused weight is on /healthz at once, and gone from there when there is room again, though nobody tries.
func TestFullDisk(t *testing.T) {
	a := still(t, time.Now)
	good := a.store.Store
	a.store.Store = full{good}
	if code, _ := push(t, a, "tok", "", `{"w":24.6,"at":"`+time.Now().Format(time.RFC3339)+`"}`); code != http.StatusServiceUnavailable {
		t.Errorf("a weighing on a full disk is answered %d", code)
	}
	if h := a.Health(); h.OK || !strings.Contains(h.Ledger, "no space left") {
		t.Errorf("/healthz says %+v", h)
	}
	if wait, trouble := a.turn(t.Context()); wait != troubledWait || !strings.Contains(trouble, "no space left") {
		t.Errorf("turn: %v %q", wait, trouble)
	}
	a.store.Store = good
	if _, trouble := a.turn(t.Context()); trouble != "" || a.Health().Ledger != "" {
		t.Errorf("with room again: %q, %q", trouble, a.Health().Ledger)
	}
}

// push sends a weighing as a board does.
func push(t *testing.T, a *App, token, query, body string) (int, pushed) {
	t.Helper()
	return pushWith(t, a, query, body, http.Header{"Authorization": {"Bearer " + token}, "Content-Type": {"application/json"}})
}

func pushWith(t *testing.T, a *App, query, body string, h http.Header) (int, pushed) {
	t.Helper()
	s := a.opt.Site
	s.show(a)
	if s.listen == "" {
		if err := s.Listen(freeAddress(t)); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { s.Listen("") })
	}
	r, err := http.NewRequestWithContext(t.Context(), "POST", "http://"+s.listen+"/weighings"+query, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	r.Header = h
	resp, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	var p pushed
	if b, err := io.ReadAll(resp.Body); err != nil || json.Unmarshal(b, &p) != nil {
		t.Fatalf("%d %s %v", resp.StatusCode, b, err)
	}
	return resp.StatusCode, p
}

func TestPush(t *testing.T) {
	now := time.Date(2027, 3, 1, 12, 0, 0, 0, time.UTC)
	a := still(t, func() time.Time { return now })
	a.opt.Site.show(nil)
	good := `{"w":24.6,"at":"2027-03-01T11:59:00Z"}`
	for _, c := range []struct {
		what, token, query, body string
		code                     int
		stored                   bool
		says                     string
	}{
		{"without the token", "", "", good, 401, false, "want the header Authorization: Bearer"},
		{"with a wrong one", "tokk", "", good, 401, false, "want the header Authorization: Bearer"},
		{"the first", "tok", "", good, 201, true, ""},
		{"again", "tok", "?cylinder=main", good, 200, false, ""},
		{"the next", "tok", "", `{"w":24.59,"at":"2027-03-01T12:00:00Z"}`, 201, true, ""},
		{"of another cylinder", "tok", "?cylinder=other", good, 404, false, "want ?cylinder= and one that has a scale: main"},
		{"no JSON", "tok", "", "<html>", 400, false, `main: a web page: "<html>"; want JSON`},
		{"nonsense", "tok", "", `{"w":null,"at":1}`, 422, false, "main: weight is null; the sensor has no reading; is it connected?"},
		{"too heavy", "tok", "", `{"w":24600,"at":"2027-03-01T12:00:01Z"}`, 422, false, "main: weight is 24600 kg"},
		{"too long", "tok", "", strings.Repeat(" ", 65<<10), 413, false, "want at most 64 KiB"},
	} {
		code, p := push(t, a, c.token, c.query, c.body)
		if code != c.code || p.Stored != c.stored || !strings.HasPrefix(p.Error, c.says) || (c.says == "") != (p.Error == "") {
			t.Errorf("%s: %d %+v, want %d", c.what, code, p, c.code)
		}
	}
	senML := http.Header{"Authorization": {"Bearer tok"}, "Content-Type": {"application/senml+json"}}
	if code, p := pushWith(t, a, "", `[{"n":"w","u":"kg","v":24.58,"t":-20}]`, senML); code != 201 || p.GrossKG != 24.58 || p.At != "2027-03-01T11:59:40Z" {
		t.Errorf("SenML: %d %+v", code, p)
	}
	zipped := senML.Clone()
	zipped.Set("Content-Encoding", "gzip")
	if code, _ := pushWith(t, a, "", "x", zipped); code != http.StatusUnsupportedMediaType {
		t.Errorf("packed: %d", code)
	}
	if n := len(storetest.All(t, a.store)); n != 3 {
		t.Errorf("%d entries in the ledger, want 3", n)
	}
	for i := range 2 * pushBurst {
		if code, _ := push(t, a, "tok", "", good); code == http.StatusTooManyRequests {
			return
		} else if i == 2*pushBurst-1 {
			t.Error("no end to what is taken")
		}
	}
}

// TestMetrics: the names follow Prometheus' naming guide, as its own linter has it.
func TestMetrics(t *testing.T) {
	now := time.Date(2027, 3, 1, 12, 0, 0, 0, time.UTC)
	a := still(t, func() time.Time { return now })
	push(t, a, "tok", "", `{"w":24.6,"at":"2027-03-01T11:59:00Z"}`)
	push(t, a, "tok", "", "<html>")
	alarm(t, a)
	problems, err := testutil.GatherAndLint(a.opt.Site.registry)
	if err != nil || len(problems) > 0 {
		t.Error(problems, err)
	}
	r, err := http.Get("http://" + site(t, a.opt.Site) + "/metrics")
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	b, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		`tarebell_readings_total{cylinder="main",device="push"} 2`,
		`tarebell_reading_failures_total{cause="unreadable",cylinder="main",device="push"} 1`,
		`tarebell_last_weighing_timestamp_seconds{cylinder="main"} 1.80390234e+09`,
		`tarebell_gas_grams{cylinder="main"} `, `tarebell_gas_sd_grams{cylinder="main"} `,
		`tarebell_healthy 0`, `tarebell_outbox_notices `, `tarebell_outbox_failing_notices 0`,
	} {
		if !strings.Contains(string(b), "\n"+want) {
			t.Errorf("/metrics has no %s", want)
		}
	}
}
