//go:build unix

package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"
)

// said collects what the program writes.
type said struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *said) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *said) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

// running is bot run in this process.
type running struct {
	t        *testing.T
	config   string
	in       *io.PipeWriter
	out, err said
	code     chan int
}

// runs starts bot run with a config that can be written anew.
func runs(t *testing.T, house string, in io.Reader) *running {
	t.Helper()
	dir := t.TempDir()
	r := &running{t: t, config: filepath.Join(dir, "house.yaml"), code: make(chan int, 1)}
	r.write(house)
	if in == nil {
		in, r.in = io.Pipe()
	}
	getenv := func(string) string { return "" }
	go func() {
		r.code <- run([]string{"run", "--config", r.config, "--data", filepath.Join(dir, "data")}, &world{t.Context(), in, &r.out, &r.err, getenv})
	}()
	return r
}

func (r *running) write(house string) {
	r.t.Helper()
	if err := os.WriteFile(r.config, []byte(house), 0o600); err != nil {
		r.t.Fatal(err)
	}
}

func (r *running) types(line string) {
	r.t.Helper()
	if _, err := fmt.Fprintln(r.in, line); err != nil {
		r.t.Fatal(err)
	}
}

// until waits until something has come true.
func (r *running) until(what string, done func() bool) {
	r.t.Helper()
	look, giveUp := time.NewTicker(2*time.Millisecond), time.After(time.Minute)
	defer look.Stop()
	for !done() {
		select {
		case <-look.C:
		case <-giveUp:
			r.t.Fatalf("waited a minute: %s\nstdout:\n%s\nstderr:\n%s", what, &r.out, &r.err)
		}
	}
}

func board(t *testing.T, asked *atomic.Int64) string {
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		asked.Add(1)
		fmt.Fprint(w, "24.6")
	}))
	t.Cleanup(s.Close)
	return s.URL
}

const hupHouse = `
household: {name: %s, timezone: Europe/Vienna}
cylinders: [{name: main, tare: 14.30 kg, net_fill: 10 kg, scale: {url: %q, every: 1h, unit: kg}}]
`

// TestConfigReadAnew: a hangup reads the config anew; one with mistakes changes nothing. What is typed meanwhile is heard.
func TestConfigReadAnew(t *testing.T) {
	var first, second atomic.Int64
	r := runs(t, fmt.Sprintf(hupHouse, "Before", board(t, &first)), nil)
	r.until("the scale is read", func() bool { return first.Load() > 0 })
	r.write("household: {name: Broken}\ncylinders: 7\n")
	syscall.Kill(os.Getpid(), syscall.SIGHUP)
	r.until("the mistakes are told", func() bool { return strings.Contains(r.err.String(), "all goes on as before") })
	for _, want := range []string{"house.yaml:1:12: household.timezone: missing", "house.yaml:2:12: cylinders: \"7\": want a list", "the config has 2 mistakes; nothing was changed"} {
		if !strings.Contains(r.err.String(), want) {
			t.Errorf("stderr has no %s:\n%s", want, &r.err)
		}
	}
	r.types("/made 3")
	r.until("what is typed is heard", func() bool { return strings.Contains(r.out.String(), "Noted: 3 servings") })
	r.write(fmt.Sprintf(hupHouse, "After", board(t, &second)))
	syscall.Kill(os.Getpid(), syscall.SIGHUP)
	r.types("/made 4")
	r.until("the new scale is read", func() bool { return second.Load() > 0 })
	r.until("what is typed meanwhile is heard", func() bool { return strings.Count(r.out.String(), "Noted: 4 servings") == 1 })
	r.types("/entries")
	r.until("both are in the ledger", func() bool { return strings.Contains(r.out.String(), "3 servings by me") })
	r.in.Close()
	if code := <-r.code; code != 0 {
		t.Errorf("exit %d at the end of the input\n%s", code, &r.err)
	}
	if n := first.Load(); n != 1 {
		t.Errorf("the old scale was read %d times", n)
	}
}

// TestStoppedWhileStarting: a signal to end during a long start ends it as any other time.
func TestStoppedWhileStarting(t *testing.T) {
	dir := t.TempDir()
	config := filepath.Join(dir, "house.yaml")
	if err := os.WriteFile(config, []byte("household: {name: Slow, timezone: Europe/Vienna}\ncylinders: [{name: main, tare: 14.30 kg, net_fill: 10 kg}]\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	stop()
	var out, err said
	code := run([]string{"run", "--config", config, "--data", dir}, &world{ctx, strings.NewReader(""), &out, &err, func(string) string { return "" }})
	if want := "bot: stopped while it was starting; nothing is lost, the next start begins anew\n"; code != exitFine || err.String() != want {
		t.Errorf("exit %d, %q; want %d, %q", code, &err, exitFine, want)
	}
}

// TestNobodyTypes: with standard input closed from the start a household with a scale goes on; one without says why it ends.
func TestNobodyTypes(t *testing.T) {
	typed := "household: {name: Typed, timezone: Europe/Vienna}\ncylinders: [{name: main, tare: 14.30 kg, net_fill: 10 kg}]\n"
	r := runs(t, typed, strings.NewReader(""))
	if code := <-r.code; code != exitFailed || !strings.Contains(r.err.String(), "standard input is closed, so that nobody can type a weight") || !strings.Contains(r.err.String(), "bot: hint: ") {
		t.Errorf("exit %d: %s", code, &r.err)
	}
	var asked atomic.Int64
	r = runs(t, fmt.Sprintf(hupHouse, "Scale", board(t, &asked)), strings.NewReader(""))
	r.until("it goes on", func() bool { return asked.Load() > 0 && strings.Contains(r.err.String(), "nobody can type here") })
	select {
	case code := <-r.code:
		t.Errorf("it ended with %d", code)
	default:
	}
	r.write(typed) // and with that it has nothing to do any more
	syscall.Kill(os.Getpid(), syscall.SIGHUP)
	if code := <-r.code; code != exitFailed {
		t.Errorf("exit %d: %s", code, &r.err)
	}
}
