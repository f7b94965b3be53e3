package live

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"tarebell/bot/internal/store"
	"tarebell/bot/internal/store/sqlite"
)

// The program that is killed is this test binary itself, told by the environment where its ledger is.
const childEnv = "TAREBELL_TEST_LEDGER"

func TestMain(m *testing.M) {
	if path := os.Getenv(childEnv); path != "" {
		fmt.Println("error", child(path))
		os.Exit(1)
	}
	os.Exit(m.Run())
}

// child works with a ledger until it is killed: hours pass in a moment, so that a checkpoint comes with every few entries; and it copies
// the ledger all the time. It says what was acknowledged.
func child(path string) error {
	var mu sync.Mutex
	say := func(what string, about any) {
		mu.Lock()
		defer mu.Unlock()
		fmt.Println(what, about)
	}
	say("opening", path)
	s, err := sqlite.Open(path)
	if err != nil {
		return err
	}
	say("open", path)
	r := &rig{store: &flaky{Store: s}, path: path, from: &from{"a"}, status: 7 * 24 * time.Hour, now: start}
	if at, ok, err := s.Fact(ctx, FactReached); err != nil {
		return err
	} else if ok {
		if r.now, err = time.Parse(time.RFC3339Nano, at); err != nil {
			return err
		}
	}
	if err := r.open(); err != nil {
		return err
	}
	go func() {
		for i := 0; ; i++ {
			to := fmt.Sprintf("%s.copy-%d-%d", path, os.Getpid(), i)
			say("copying", to)
			if err := sqlite.Backup(ctx, path, to); err != nil {
				say("error", err)
				return
			}
			say("copied", to)
		}
	}()
	rnd := rand.New(rand.NewPCG(uint64(os.Getpid()), uint64(time.Now().UnixNano())))
	for i := 0; ; i++ {
		r.now = r.now.Add(time.Duration(1+rnd.IntN(9)) * time.Hour)
		if err := r.Advance(ctx, r.now); err != nil {
			return err
		}
		at := r.now
		if rnd.IntN(5) == 0 { // of the past
			at = at.Add(-time.Duration(rnd.IntN(200)) * time.Hour)
		}
		e, err := r.Accept(ctx, typedIn(fmt.Sprintf("%d/%d", os.Getpid(), i), at, r.now, 15_000+100*rnd.Float64()))
		if err != nil {
			return err
		}
		say("ack", e.Key)
		if rnd.IntN(6) == 0 {
			if _, err := r.Void(ctx, e.Seq); err != nil {
				return err
			}
			say("undone", e.Key)
		}
	}
}

// victim is a ledger, and what was acknowledged of it: true if it was undone.
type victim struct {
	path  string
	acked map[string]bool
	copy  map[string]map[string]bool // what was acknowledged before each copy was begun
	done  []string                   // copies that were finished
}

// run lets a child work until it is killed and hears what it says.
func (v *victim) run(t *testing.T, rnd *rand.Rand) {
	c := exec.Command(os.Args[0])
	c.Env = append(os.Environ(), childEnv+"="+v.path)
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	c.Stderr = os.Stderr
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	after, left, wait := "opening", 1, time.Duration(rnd.IntN(40))*time.Millisecond
	if len(v.acked) == 0 || rnd.IntN(3) > 0 {
		after, left = "ack", 1+rnd.IntN(12)
	}
	kill := sync.OnceFunc(func() { time.AfterFunc(wait, func() { c.Process.Kill() }) })
	lines := bufio.NewReader(out)
	stuck := time.AfterFunc(time.Minute, func() {
		t.Log("a child was at work for a minute; what it was at stands on standard error")
		c.Process.Signal(syscall.SIGQUIT)
	})
	defer stuck.Stop()
	for {
		line, err := lines.ReadString('\n')
		if err != nil { // what was not said to its end was not acknowledged
			break
		}
		what, about, _ := strings.Cut(strings.TrimSpace(line), " ")
		if what == after {
			if left--; left == 0 {
				kill()
			}
		}
		switch what {
		case "ack":
			v.acked[about] = false
		case "undone":
			v.acked[about] = true
		case "copying":
			v.copy[about] = map[string]bool{}
			for key, undone := range v.acked {
				v.copy[about][key] = undone
			}
		case "copied":
			v.done = append(v.done, about)
		case "error":
			t.Errorf("the program ended by itself: %s", about)
			kill()
		}
	}
	io.Copy(io.Discard, out)
	c.Wait()
}

// holds reports what of the acknowledged a ledger lacks, whether it is sound and how many entries it holds. An undoing that was acknowledged holds; one that was not may.
func holds(path string, acked map[string]bool) (n int, err error) {
	s, err := sqlite.Read(context.Background(), path)
	if err != nil {
		return 0, err
	}
	defer s.Close()
	there := map[string]store.Entry{}
	if err := s.Check(ctx, func(e store.Entry) error { there[e.Key] = e; return nil }); err != nil {
		return 0, err
	}
	for key, undone := range acked {
		if e, ok := there[key]; !ok || undone && !e.Voided {
			err = errors.Join(err, fmt.Errorf("%s was acknowledged (undone: %t) and is in the ledger: %t, %+v", key, undone, ok, e))
		}
	}
	return len(there), err
}

// judge opens what a killed program left.
func (v *victim) judge(t *testing.T) (entries int) {
	t.Helper()
	if _, err := os.Stat(v.path); errors.Is(err, os.ErrNotExist) && len(v.acked) == 0 {
		return 0
	}
	s, err := sqlite.Open(v.path)
	if err != nil {
		t.Fatal(err)
	}
	r := &rig{t: t, store: &flaky{Store: s}, path: v.path, from: &from{"a"}, status: 7 * 24 * time.Hour, now: time.Date(2099, 1, 1, 0, 0, 0, 0, time.UTC)}
	r.reopen()
	whole := r.rebuilt()
	if !bytes.Equal(r.bits(), whole.bits()) {
		t.Error("the state from a checkpoint is not what the ledger leads to")
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	if entries, err = holds(v.path, v.acked); err != nil {
		t.Error(err)
	}
	for _, c := range v.done {
		if _, err := holds(c, v.copy[c]); err != nil {
			t.Errorf("copy %s: %v", c, err)
		}
		os.Remove(c)
	}
	v.done = nil
	for c := range v.copy { // one whose end was not told may be there, but then as a whole
		if _, err := os.Stat(c); err == nil {
			if _, err := holds(c, v.copy[c]); err != nil {
				t.Errorf("copy %s: %v", c, err)
			}
			os.Remove(c)
		}
	}
	clear(v.copy)
	return entries
}

// oldLedger is a ledger of the first version, with what it holds.
func oldLedger(t *testing.T, path string) map[string]bool {
	t.Helper()
	s, err := sqlite.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	var b store.Batch
	acked := map[string]bool{}
	for i := range 4000 {
		at := start.Add(time.Duration(i) * 10 * time.Minute)
		w := scaled(at, 15_800-float64(i%300))
		b.Entries = append(b.Entries, w)
		acked[w.Key] = false
	}
	b.Facts = map[string]string{FactReached: start.Add(4000 * 10 * time.Minute).Format(time.RFC3339Nano)}
	if _, err := s.Write(ctx, b); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	run(t, path, `DROP TRIGGER entry_past; DROP TRIGGER entry_voided; DROP TABLE checkpoint; ALTER TABLE entry DROP COLUMN sum; DROP INDEX entry_told; PRAGMA user_version = 1`)
	return acked
}

// TestKill kills a program with SIGKILL at random moments while it opens or makes a ledger, brings an old one up to date, takes and undoes entries, keeps
// checkpoints and copies the ledger: nothing that was acknowledged is lost, everything can be opened, what a checkpoint restores is what the ledger leads to, and
// whatever stands under a copy's name is a whole ledger. TAREBELL_KILLS says how often.
func TestKill(t *testing.T) {
	kills := 5
	if testing.Short() {
		kills = 3
	}
	if n, err := strconv.Atoi(os.Getenv("TAREBELL_KILLS")); err == nil {
		kills = n
	}
	seed := uint64(time.Now().UnixNano())
	rnd := rand.New(rand.NewPCG(seed, 3))
	dir := t.TempDir()
	template := filepath.Join(dir, "old.db")
	old := oldLedger(t, template)
	var v *victim
	acked, copies, made, migrated := 0, 0, 0, 0
	i := 0
	for ; i < kills || acked < kills/2 && i < 20*kills; i++ { // all of a few may strike before anything is acknowledged
		if v == nil || rnd.IntN(4) == 0 {
			v = &victim{path: filepath.Join(dir, strconv.Itoa(i), "ledger.db"), acked: map[string]bool{}, copy: map[string]map[string]bool{}}
			if err := os.Mkdir(filepath.Dir(v.path), 0o700); err != nil {
				t.Fatal(err)
			}
			if made++; rnd.IntN(2) == 0 {
				migrated++
				for key := range old {
					v.acked[key] = false
				}
				b, err := os.ReadFile(template)
				if err == nil {
					err = os.WriteFile(v.path, b, 0o600)
				}
				if err != nil {
					t.Fatal(err)
				}
			}
		}
		before := len(v.acked)
		v.run(t, rnd)
		acked += len(v.acked) - before
		copies += len(v.done)
		v.judge(t)
		if t.Failed() {
			t.Fatalf("seed %d, kill %d", seed, i)
		}
	}
	if acked < kills/2 {
		t.Errorf("seed %d: %d entries acknowledged in %d kills show little", seed, acked, i)
	}
	t.Logf("seed %d: %d kills of %d ledgers, %d of them brought up to date; %d entries acknowledged, 0 lost; %d copies, all whole", seed, i, made, migrated, acked, copies)
}
