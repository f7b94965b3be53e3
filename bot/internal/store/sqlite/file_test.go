package sqlite

import (
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"tarebell/bot/internal/store"
	"tarebell/bot/internal/store/storetest"
	"tarebell/forecast/unit/record"
)

func copyFile(t *testing.T, from, to string) {
	t.Helper()
	b, err := os.ReadFile(from)
	must(t, err)
	must(t, os.WriteFile(to, b, 0o600))
}

// TestReplaced: nothing is taken once the ledger's files are not those that were opened, whatever became of them, and all is well when they are back.
func TestReplaced(t *testing.T) {
	for name, do := range map[string]func(t *testing.T, path string){
		"removed":      func(t *testing.T, path string) { must(t, os.Rename(path, path+".away")) },
		"log removed":  func(t *testing.T, path string) { must(t, os.Rename(path+"-wal", path+"-wal.away")) },
		"folder moved": func(t *testing.T, path string) { must(t, os.Rename(filepath.Dir(path), filepath.Dir(path)+".away")) },
		"another there": func(t *testing.T, path string) {
			copyFile(t, path, path+".copy")
			must(t, os.Rename(path, path+".away"))
			must(t, os.Rename(path+".copy", path))
		},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "data", "ledger.db")
			must(t, os.Mkdir(filepath.Dir(path), 0o700))
			s := open(t, path)
			_, err := s.Write(context.Background(), pair(0))
			must(t, errors.Join(err, s.Trouble()))
			do(t, path)
			if _, err := s.Write(context.Background(), pair(1)); !errors.Is(err, store.ErrReplaced) || !strings.Contains(err.Error(), path) {
				t.Errorf("Write: %v, want ErrReplaced with the path", err)
			}
			if known, err := s.Known(context.Background(), pair(1).Entries[0].Key); known || err != nil {
				t.Errorf("what was refused is there: %v", err)
			}
			if err := s.Trouble(); !errors.Is(err, store.ErrReplaced) {
				t.Errorf("Trouble: %v", err)
			}
			for _, p := range []string{path, path + "-wal", filepath.Dir(path)} {
				if _, err := os.Stat(p + ".away"); err == nil {
					os.Remove(p)
					must(t, os.Rename(p+".away", p))
				}
			}
			if _, err := s.Write(context.Background(), pair(1)); err != nil {
				t.Errorf("once the file is back: %v", err)
			}
		})
	}
}

// TestOverwritten: nothing is taken once something else was copied into the ledger's file, what was copied stays as it is, and all is well
// once its own content is back.
func TestOverwritten(t *testing.T) {
	for name, lay := range map[string]func(t *testing.T, path, to string){
		"backup":     func(t *testing.T, path, to string) { must(t, Backup(context.Background(), path, to)) },
		"older copy": func(t *testing.T, path, to string) { copyFile(t, path, to) },
		"nothing":    func(t *testing.T, path, to string) { must(t, os.WriteFile(to, nil, 0o600)) },
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "ledger.db")
			s := open(t, path)
			storetest.Fill(t, s, 3)
			must(t, s.Close())
			s = open(t, path)
			lay(t, path, path+".copy")
			storetest.Fill(t, s, 30)
			done := s.changing()
			_, err := s.write.Exec("PRAGMA wal_checkpoint") // as comes by itself with every thousand pages
			done()
			must(t, errors.Join(err, s.Trouble()))
			copyFile(t, path, path+".own")
			copyFile(t, path+".copy", path)
			for range 2 {
				if _, err := s.Write(context.Background(), pair(1)); !errors.Is(err, store.ErrReplaced) || !strings.Contains(err.Error(), path) {
					t.Errorf("Write: %v, want ErrReplaced with the path", err)
				}
				_, _, _ = s.Claim(context.Background(), noonOf(1))
			}
			copyFile(t, path+".own", path)
			if _, err := s.Write(context.Background(), pair(1)); err != nil {
				t.Errorf("once its content is back: %v", err)
			}
			copyFile(t, path+".copy", path)
			if err := s.Trouble(); !errors.Is(err, store.ErrReplaced) {
				t.Errorf("Trouble: %v", err)
			}
			must(t, s.Close())
			want, err := os.ReadFile(path + ".copy")
			must(t, err)
			if got, err := os.ReadFile(path); err != nil || string(got) != string(want) {
				t.Errorf("the end of the program has changed what was copied: %d bytes, %d copied, %v", len(got), len(want), err)
			}
		})
	}
}

// TestOverwrittenWhileWriting: a backup is copied over the ledger just while something is written; that is not taken for the program's own change.
func TestOverwrittenWhileWriting(t *testing.T) {
	path := filepath.Join(t.TempDir(), "ledger.db")
	s := open(t, path)
	storetest.Fill(t, s, 3)
	must(t, Backup(context.Background(), path, path+".copy"))
	done := s.changing()
	copyFile(t, path+".copy", path)
	done()
	if err := s.Trouble(); !errors.Is(err, store.ErrReplaced) {
		t.Errorf("Trouble: %v", err)
	}
}

// TestReplacedWhileWriting: the file goes while a transaction is on its way.
func TestReplacedWhileWriting(t *testing.T) {
	path := filepath.Join(t.TempDir(), "ledger.db")
	s := open(t, path)
	must(t, s.write.Ping())
	conn, err := s.write.Conn(context.Background()) // the one that writes: Write waits for it
	must(t, err)
	done := make(chan error)
	go func() {
		_, err := s.Write(context.Background(), pair(0))
		done <- err
	}()
	for s.write.Stats().WaitCount == 0 {
		runtime.Gosched()
	}
	must(t, os.Rename(path, path+".away"))
	must(t, conn.Close())
	if err := <-done; !errors.Is(err, store.ErrReplaced) {
		t.Errorf("Write: %v, want ErrReplaced", err)
	}
}

// TestNotNew: what is not a ledger that was left in order is not taken for the beginning of one.
func TestNotNew(t *testing.T) {
	for name, c := range map[string]struct {
		lay func(t *testing.T, path string)
		say string
	}{
		"empty file":         {func(t *testing.T, path string) { must(t, os.WriteFile(path, nil, 0o600)) }, "the file is empty"},
		"log without ledger": {func(t *testing.T, path string) { must(t, os.WriteFile(path+"-wal", []byte("log"), 0o600)) }, "not the file that it belongs to"},
		"backup beside an old log": {func(t *testing.T, path string) {
			s := open(t, path)
			storetest.Fill(t, s, 3)
			must(t, Backup(context.Background(), path, path+".copy"))
			copyFile(t, path+"-wal", path+".log")
			must(t, s.Close())
			must(t, os.Rename(path+".copy", path))
			must(t, os.Rename(path+".log", path+"-wal"))
		}, "move ledger.db-wal and ledger.db-shm away"},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "ledger.db")
			c.lay(t, path)
			if _, err := Open(path); err == nil || !strings.Contains(err.Error(), c.say) {
				t.Errorf("Open: %v, want %q", err, c.say)
			}
			if name == "empty file" {
				if _, err := Read(context.Background(), path); !errors.Is(err, store.ErrDamaged) {
					t.Errorf("Read: %v", err)
				}
			}
		})
	}
	path := filepath.Join(t.TempDir(), "ledger.db") // a first start that was cut short
	must(t, os.WriteFile(path+".new", []byte("half"), 0o600))
	_ = open(t, path)
}

// TestBackup: a copy made while somebody writes is a ledger as it stood at one moment, and can be put in place.
func TestBackup(t *testing.T) {
	dir := t.TempDir()
	path, to := filepath.Join(dir, "ledger.db"), filepath.Join(dir, "copy.db")
	s := open(t, path)
	before := storetest.Fill(t, s, 20)
	stop, done := make(chan bool), make(chan int)
	go func() {
		n := 0
		for {
			select {
			case <-stop:
				done <- n
				return
			default:
			}
			if _, err := s.Write(context.Background(), pair(1000+n)); err != nil {
				t.Error(err)
			}
			n++
		}
	}()
	must(t, os.WriteFile(to+".part", []byte("of one that was cut short"), 0o600))
	must(t, Backup(context.Background(), path, to))
	close(stop)
	after := before + 2*<-done
	if err := Backup(context.Background(), path, to); err == nil || !strings.Contains(err.Error(), "is there already") {
		t.Errorf("over another: %v", err)
	}
	c := open(t, to)
	if n := len(storetest.All(t, c)); n < before || n > after || (n-before)%2 != 0 {
		t.Errorf("%d entries in the copy, want %d to %d and no half of a pair", n, before, after)
	}
	if _, err := c.Write(context.Background(), pair(9000)); err != nil {
		t.Error(err)
	}
	left, _ := filepath.Glob(to + ".part*")
	if len(left) > 0 {
		t.Errorf("left %q", left)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if err := Backup(ctx, path, to+"2"); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
	if _, err := os.Stat(to + "2"); err == nil {
		t.Error("half a copy is left")
	}
}

// TestDamagedRecord: one wrong bit in what an entry holds is noticed, though SQLite finds nothing wrong with it.
func TestDamagedRecord(t *testing.T) {
	path := filepath.Join(t.TempDir(), "ledger.db")
	s := open(t, path)
	storetest.Fill(t, s, 2)
	odd := store.Entry{Key: "odd", Received: noonOf(9),
		Event: record.Event{Kind: record.Weighed, Cylinder: "main", At: noonOf(9), Origin: record.Scale, Gross: 24_321.7}}
	_, err := s.Write(context.Background(), store.Batch{Entries: []store.Entry{odd}})
	must(t, err)
	must(t, s.Close())
	b, err := os.ReadFile(path)
	must(t, err)
	was := []byte{0, 0, 0, 0, 0, 0, 0, 0}
	for i, x := 7, math.Float64bits(float64(odd.Gross)); i >= 0; i, x = i-1, x>>8 {
		was[i] = byte(x)
	}
	if n := strings.Count(string(b), string(was)); n != 1 {
		t.Fatalf("the weight stands in the file %d times", n)
	}
	b[strings.Index(string(b), string(was))+3] ^= 1
	must(t, os.WriteFile(path, b, 0o600))

	r, err := Read(context.Background(), path)
	must(t, err)
	defer r.Close()
	if err := sound(context.Background(), r.tx, "integrity_check"); err != nil {
		t.Fatalf("SQLite found it: %v", err)
	}
	if err := r.Check(context.Background(), func(store.Entry) error { return nil }); !errors.Is(err, store.ErrDamaged) || !strings.Contains(err.Error(), "does not read as it was written") {
		t.Errorf("Check: %v, want ErrDamaged", err)
	}
}

// TestDamageIsFound: whoever opens a ledger with a bad block is told before anything more is written into it.
func TestDamageIsFound(t *testing.T) {
	s := open(t, badBlock(t, 64<<10))
	s.looking.Wait()
	if _, err := s.Write(context.Background(), pair(1)); !errors.Is(err, store.ErrDamaged) {
		t.Errorf("Write: %v, want ErrDamaged", err)
	}
}

func noonOf(day int) time.Time { return time.Date(2027, 1, day, 12, 0, 0, 0, time.UTC) }

// TestDamagedCheckpoint: one that does not read as it was written is passed over for an older one.
func TestDamagedCheckpoint(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "ledger.db"))
	keep := func(day int) store.Checkpoint {
		return store.Checkpoint{Position: store.Position{At: noonOf(day)}, Slot: day, Print: "p", State: []byte{byte(day), 0}}
	}
	_, err := s.Write(context.Background(), store.Batch{Checkpoints: []store.Checkpoint{keep(1), keep(2)}})
	must(t, err)
	_, err = s.write.Exec("UPDATE checkpoint SET state = x'0201' WHERE slot = 2")
	must(t, err)
	if c, ok, err := s.Checkpoint(context.Background(), "p", time.Time{}); !ok || err != nil || c.State[0] != 1 {
		t.Errorf("%v, %t, %v; want that of the day before", c.State, ok, err)
	}
}
