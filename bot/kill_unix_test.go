//go:build unix

package main

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"tarebell/bot/internal/app"
	"tarebell/bot/internal/store/storetest"
	"tarebell/forecast/unit/record"
)

// reloading is a program that reads its config anew again and again until it is killed, and what became of the servings typed meanwhile, by their number.
type reloading struct {
	config, data string
	typed, acked map[string]int
	reloads      int // how often the config was read anew
}

// servings is an answer as it is shown at first; what a crash may have kept from the screen is shown again.
var servings = regexp.MustCompile(`(?m)^.*\bNoted: (\d+) servings`)

// run lets it work for a while.
func (r *reloading) run(t *testing.T, rnd *rand.Rand) {
	c := exec.Command(os.Args[0], "run", "--config", r.config, "--data", r.data)
	c.Env = append(os.Environ(), childEnv+"=1")
	var out, log said
	c.Stdout, c.Stderr = &out, &log
	in, err := c.StdinPipe()
	if err == nil {
		err = c.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	var end <-chan time.Time
	if rnd.IntN(5) == 0 { // while it still starts
		end = time.After(time.Duration(rnd.IntN(500)) * time.Millisecond)
	}
	for alive := true; alive; {
		if end == nil && out.String() != "" {
			end = time.After(time.Duration(rnd.IntN(800)) * time.Millisecond)
		}
		select {
		case <-end:
			alive = false
		case <-time.After(time.Duration(rnd.IntN(20)) * time.Millisecond):
			if rnd.IntN(2) == 0 && out.String() != "" { // it hears the signal by then
				c.Process.Signal(syscall.SIGHUP)
				continue
			}
			n := strconv.Itoa(2 + rnd.IntN(20))
			if _, err := fmt.Fprintln(in, "/made", n); err != nil {
				t.Errorf("it ended by itself: %v\n%s", err, &log)
				alive = false
			}
			r.typed[n]++
		}
	}
	c.Process.Kill()
	in.Close()
	if err := c.Wait(); err == nil {
		t.Errorf("it ended before it was killed:\n%s", &log)
	}
	for _, m := range servings.FindAllStringSubmatch(out.String(), -1) {
		if !strings.Contains(m[0], "repeated after a restart") {
			r.acked[m[1]]++
		}
	}
	r.reloads += strings.Count(log.String(), "was read again and counts from now on")
	if strings.Contains(log.String(), "bot: error") {
		t.Errorf("it says:\n%s", &log)
	}
}

// judge compares the ledger with what was typed and acknowledged.
func (r *reloading) judge(t *testing.T) {
	t.Helper()
	if _, err := app.CheckLedger(t.Context(), r.data); errors.Is(err, os.ErrNotExist) && len(r.acked) == 0 {
		return
	} else if err != nil {
		t.Fatal(err)
	}
	ledger, err := app.Snapshot(t.Context(), r.data)
	if err != nil {
		t.Fatal(err)
	}
	defer ledger.Close()
	stored := map[string]int{}
	for _, e := range storetest.All(t, ledger) {
		if e.Kind == record.Made {
			stored[fmt.Sprint(e.Count)]++
		}
	}
	for n := range r.typed {
		if stored[n] < r.acked[n] || stored[n] > r.typed[n] {
			t.Errorf("%s servings: typed %d times, acknowledged %d times, in the ledger %d times", n, r.typed[n], r.acked[n], stored[n])
		}
	}
}

// TestKill kills the program with SIGKILL at random moments while it reads its config anew and people type: nothing that was acknowledged is
// lost, nothing is noted twice, and what is left can be opened. TAREBELL_KILLS says how often.
func TestKill(t *testing.T) {
	kills := 4
	if n, err := strconv.Atoi(os.Getenv("TAREBELL_KILLS")); err == nil {
		kills = n
	}
	seed := uint64(time.Now().UnixNano())
	rnd := rand.New(rand.NewPCG(seed, 5))
	var asked atomic.Int64
	dir := t.TempDir()
	r := &reloading{config: filepath.Join(dir, "house.yaml"), data: filepath.Join(dir, "data"), typed: map[string]int{}, acked: map[string]int{}}
	if err := os.WriteFile(r.config, fmt.Appendf(nil, hupHouse, "Kill", board(t, &asked)), 0o600); err != nil {
		t.Fatal(err)
	}
	for i := range kills {
		r.run(t, rnd)
		if r.judge(t); t.Failed() {
			t.Fatalf("seed %d, kill %d", seed, i)
		}
	}
	acked := 0
	for _, n := range r.acked {
		acked += n
	}
	t.Logf("seed %d: %d kills; %d times the config was read anew; %d entries acknowledged, 0 lost", seed, kills, r.reloads, acked)
	if acked < kills/2 || r.reloads < kills/4 {
		t.Error("too little happened to show anything")
	}
}
