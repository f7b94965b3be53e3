package sqlite

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"tarebell/bot/internal/store"
	"tarebell/bot/internal/store/storetest"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

func pair(i int) store.Batch {
	at := time.UnixMilli(int64(i) * 1000)
	return store.Batch{Entries: []store.Entry{
		{Key: fmt.Sprintf("%d/a", i), Event: record.Event{Kind: record.Weighed, At: at, Gross: unit.Grams(i)}},
		{Key: fmt.Sprintf("%d/b", i), Event: record.Event{Kind: record.Made, At: at, Count: 1}},
	}}
}

// keys are those of all entries, of two readings of the same moment.
func keys(t *testing.T, r store.Reader) (n int, all string) {
	t.Helper()
	var b strings.Builder
	for _, e := range storetest.All(t, r) {
		n++
		b.WriteString(e.Key + " ")
	}
	return n, b.String()
}

// A snapshot beside a writer holds whole writes only and does not change while it is open; the writer never waits for it.
func TestSnapshotBesideWriter(t *testing.T) {
	path := filepath.Join(t.TempDir(), "ledger.db")
	s := open(t, path)
	_, err := s.Write(context.Background(), pair(0))
	must(t, err)
	stop, wrote, failed := make(chan struct{}), make(chan int), make(chan error, 1)
	go func() {
		i := 1
		for ; ; i++ {
			select {
			case <-stop:
				wrote <- i
				return
			default:
			}
			if _, err := s.Write(context.Background(), pair(i)); err != nil {
				failed <- err
				return
			}
		}
	}()
	most := 0
	for most < 40 && len(failed) == 0 {
		r, err := Read(context.Background(), path)
		must(t, err)
		n, first := keys(t, r)
		_, second := keys(t, r)
		if n%2 != 0 || first != second {
			t.Errorf("%d entries, want whole writes of two; read twice the same: %v", n, first == second)
		}
		if n < most {
			t.Errorf("%d entries after %d", n, most)
		}
		most = n
		must(t, r.Close())
	}
	close(stop)
	select {
	case err := <-failed:
		t.Fatal(err)
	case n := <-wrote:
		if 2*n < most {
			t.Errorf("%d writes, %d entries", n, most)
		}
	}
}

// What cannot be read says why, and makes no file.
func TestSnapshotRefused(t *testing.T) {
	dir := t.TempDir()
	if _, err := Read(context.Background(), filepath.Join(dir, "none.db")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("no file: %v", err)
	}
	if _, err := Read(context.Background(), dir); err == nil || !strings.Contains(err.Error(), "folder") {
		t.Errorf("a folder: %v", err)
	}
	text := filepath.Join(dir, "text.db")
	must(t, os.WriteFile(text, []byte(strings.Repeat("no database ", 100)), 0o600))
	if _, err := Read(context.Background(), text); !errors.Is(err, store.ErrDamaged) {
		t.Errorf("a text: %v", err)
	}
	path := filepath.Join(dir, "newer.db")
	s := open(t, path)
	_, err := s.write.Exec("PRAGMA user_version = 99")
	must(t, err)
	if _, err := Read(context.Background(), path); err == nil || !strings.Contains(err.Error(), "newer") {
		t.Errorf("of a newer program: %v", err)
	}
	if _, err := s.write.Exec("PRAGMA user_version = 0"); err != nil {
		t.Fatal(err)
	}
	if _, err := Read(context.Background(), path); !errors.Is(err, store.ErrInUse) {
		t.Errorf("of an older program that is running: %v", err)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, "none*")); len(left) > 0 {
		t.Errorf("made %q", left)
	}
}

// Where nothing may be written beside the ledger it cannot be read either, and the error says what to do.
func TestSnapshotInAReadOnlyFolder(t *testing.T) {
	if os.Getuid() <= 0 {
		t.Skip("everything may be written by this user")
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "ledger.db")
	s := open(t, path)
	_, err := s.Write(context.Background(), pair(0))
	must(t, err)
	must(t, s.Close())
	must(t, os.Chmod(path, 0o400))
	must(t, os.Chmod(dir, 0o500))
	defer os.Chmod(dir, 0o700)
	if _, err := Read(context.Background(), path); err == nil || !strings.Contains(err.Error(), "copy the folder") {
		t.Errorf("%v, want advice", err)
	}
}
