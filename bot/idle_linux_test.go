package main

import (
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// TestIdle measures what the program costs while nothing happens but a poll a minute, for as long as TAREBELL_IDLE says (10m). It builds
// the program, or takes the one that TAREBELL_BOT names, so that two versions can be compared.
func TestIdle(t *testing.T) {
	span, err := time.ParseDuration(os.Getenv("TAREBELL_IDLE"))
	if err != nil {
		t.Skip("a measurement: set TAREBELL_IDLE=10m")
	}
	r := rand.New(rand.NewPCG(1, 1))
	board := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		fmt.Fprintf(w, `{"weight": %.3f}`, 24.6+0.004*r.NormFloat64())
	}))
	defer board.Close()
	dir := t.TempDir()
	house := fmt.Sprintf("household: {name: Idle kitchen, timezone: Europe/Vienna}\ncylinders:\n  - {name: main, tare: 14.30 kg, net_fill: 10 kg, scale: {url: %q, every: 1m, weight: /weight, unit: kg}}\n", board.URL)
	if err := os.WriteFile(filepath.Join(dir, "house.yaml"), []byte(house), 0o600); err != nil {
		t.Fatal(err)
	}
	bot := os.Getenv("TAREBELL_BOT")
	if bot == "" {
		bot = filepath.Join(dir, "bot")
		if out, err := exec.Command("go", "build", "-o", bot, ".").CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
	}
	c := exec.Command(bot, "run", "--config", "house.yaml", "--data", "data", "--health", "127.0.0.1:0")
	c.Dir, c.Stdout, c.Stderr = dir, io.Discard, os.Stderr
	in, err := c.StdinPipe() // held open: nobody types
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	settled := time.After(30 * time.Second)
	<-settled
	cpu, written := processCost(t, c.Process.Pid)
	<-time.After(span)
	cpu2, written2 := processCost(t, c.Process.Pid)
	t.Logf("%s: in %v %v of CPU, %d KiB written; %d MiB resident", filepath.Base(bot), span, cpu2-cpu, (written2-written)>>10, status(t, c.Process.Pid, "VmRSS")>>10)
	c.Process.Signal(syscall.SIGTERM)
	if err := c.Wait(); err != nil {
		t.Error(err)
	}
}

// processCost is the processor time of a process and the bytes it had written to storage, see proc(5).
func processCost(t *testing.T, pid int) (cpu time.Duration, written int64) {
	t.Helper()
	stat := proc(t, pid, "stat")
	f := strings.Fields(stat[strings.LastIndex(stat, ")")+1:]) // from field 3, the state
	user, _ := strconv.ParseInt(f[11], 10, 64)
	system, _ := strconv.ParseInt(f[12], 10, 64)
	const tick = 10 * time.Millisecond // USER_HZ is 100 on every architecture of Linux that Go knows
	m := regexp.MustCompile(`(?m)^write_bytes: (\d+)`).FindStringSubmatch(proc(t, pid, "io"))
	written, err := strconv.ParseInt(m[1], 10, 64)
	if err != nil {
		t.Fatal(err)
	}
	return time.Duration(user+system) * tick, written
}

// status is a line of /proc/PID/status, in KiB.
func status(t *testing.T, pid int, name string) int64 {
	t.Helper()
	m := regexp.MustCompile(`(?m)^` + name + `:\s+(\d+) kB`).FindStringSubmatch(proc(t, pid, "status"))
	n, err := strconv.ParseInt(m[1], 10, 64)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func proc(t *testing.T, pid int, name string) string {
	t.Helper()
	b, err := os.ReadFile(fmt.Sprintf("/proc/%d/%s", pid, name))
	if err != nil {
		t.Fatal(err)
	}
	return string(bytes.TrimSpace(b))
}
