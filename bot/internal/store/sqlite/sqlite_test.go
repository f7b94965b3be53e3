package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"tarebell/bot/internal/store"
	"tarebell/bot/internal/store/storetest"
	"tarebell/forecast/unit/record"
)

func open(tb testing.TB, path string) *Store {
	tb.Helper()
	s, err := Open(path)
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() { _ = s.Close() })
	return s
}

func TestStore(t *testing.T) {
	storetest.Exercise(t, func(t *testing.T, dir string) store.Store { return open(t, filepath.Join(dir, "ledger.db")) })
}

// Names that would mean something in a URI.
func TestOpenOddNames(t *testing.T) {
	for _, name := range []string{"a b.db", "100%.db", "what?mode=ro.db", "nr#1.db", "größe.db", "a&b=c.db"} {
		path := filepath.Join(t.TempDir(), name)
		_ = open(t, path).Close()
		if _, err := os.Stat(path); err != nil {
			t.Errorf("%q: %v", name, err)
		}
	}
}

// The pragmas must hold on every connection, not only on the first.
func TestPragmas(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "ledger.db"))
	check(t, s.write, "wal 2 1 5000", "SELECT journal_mode || ' ' || synchronous || ' ' || foreign_keys || ' ' || timeout "+
		"FROM pragma_journal_mode, pragma_synchronous, pragma_foreign_keys, pragma_busy_timeout")
	check(t, s.read, "wal 1 5000", "SELECT journal_mode || ' ' || query_only || ' ' || timeout "+
		"FROM pragma_journal_mode, pragma_query_only, pragma_busy_timeout")
}

// check asks every connection that db may open, all open at once.
func check(t *testing.T, db *sql.DB, want, query string) {
	t.Helper()
	for range db.Stats().MaxOpenConnections {
		conn, err := db.Conn(context.Background())
		must(t, err)
		defer func() { _ = conn.Close() }()
		var got string
		if err := conn.QueryRowContext(context.Background(), query).Scan(&got); err != nil || got != want {
			t.Errorf("%q, %v; want %q", got, err, want)
		}
	}
}

// Somebody who opens the file with a tool cannot change or remove an entry by mistake.
func TestEntriesOnlyGrow(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "ledger.db"))
	_, err := s.Write(context.Background(), store.Batch{Entries: []store.Entry{{Key: "a", Event: record.Event{Kind: record.Weighed, At: time.Unix(0, 0)}}}})
	must(t, err)
	for _, q := range []string{"UPDATE entry SET gross_g = 0", "DELETE FROM entry", "UPDATE entry SET at = 0", "UPDATE entry SET text = 'x', voided = 1"} {
		if _, err := s.write.Exec(q); err == nil || !strings.Contains(err.Error(), "cannot be") {
			t.Errorf("%s: %v, want a refusal", q, err)
		}
	}
}

func TestSecondProcessRefused(t *testing.T) {
	path := filepath.Join(t.TempDir(), "ledger.db")
	s := open(t, path)
	_, err := Open(path)
	if !errors.Is(err, store.ErrInUse) || !strings.Contains(err.Error(), path) {
		t.Fatalf("second Open: %v, want ErrInUse with the path", err)
	}
	if _, err := s.Write(context.Background(), store.Batch{Facts: map[string]string{"a": "1"}}); err != nil {
		t.Errorf("the first can no longer write: %v", err)
	}
	_ = s.Close()
	open(t, path)
}

func TestFullDisk(t *testing.T) {
	path := filepath.Join(t.TempDir(), "ledger.db")
	s := open(t, path)
	if _, err := s.Write(context.Background(), store.Batch{Facts: map[string]string{"a": "1"}}); err != nil {
		t.Fatal(err)
	}
	var pages int
	if err := s.write.QueryRow("PRAGMA page_count").Scan(&pages); err != nil {
		t.Fatal(err)
	}
	if _, err := s.write.Exec("PRAGMA max_page_count = " + strconv.Itoa(pages)); err != nil {
		t.Fatal(err)
	}
	big := store.Entry{Key: "big", Event: record.Event{Kind: record.Later, At: time.Unix(0, 0)}, Text: strings.Repeat("x", 100_000)}
	_, err := s.Write(context.Background(), store.Batch{Entries: []store.Entry{big}, Facts: map[string]string{"a": "2"}})
	if !errors.Is(err, store.ErrFull) {
		t.Fatalf("Write: %v, want ErrFull", err)
	}
	if v, _, _ := s.Fact(context.Background(), "a"); v != "1" {
		t.Errorf("half a batch was stored: %q", v)
	}
	if err := sound(context.Background(), s.read, "quick_check"); err != nil {
		t.Error(err)
	}
	if _, err := s.write.Exec("PRAGMA max_page_count = 1000000"); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Write(context.Background(), store.Batch{Entries: []store.Entry{big}}); err != nil {
		t.Errorf("after room was made: %v", err)
	}
}

func TestOpenRefuses(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "file")
	must(t, os.WriteFile(file, []byte("not a database, but long enough to be looked at"), 0o600))
	other := filepath.Join(dir, "other.db")
	foreign(t, other, "CREATE TABLE t (x)")
	newer := filepath.Join(dir, "newer.db")
	_ = open(t, newer).Close()
	foreign(t, newer, "PRAGMA user_version = 99")

	for _, c := range []struct {
		name, path, say string
		is              error
	}{
		{"no folder", filepath.Join(dir, "none", "ledger.db"), "create it first", nil},
		{"folder is a file", filepath.Join(file, "ledger.db"), "not a folder", nil},
		{"a folder", dir, "one file in it", nil},
		{"not a database", file, "put a backup in its place", store.ErrDamaged},
		{"another program's", other, "another program", nil},
		{"newer", newer, "upgrade the program", nil},
	} {
		_, err := Open(c.path)
		if err == nil || !strings.Contains(err.Error(), c.say) || c.is != nil && !errors.Is(err, c.is) {
			t.Errorf("%s: %v; want %q, %v", c.name, err, c.say, c.is)
		}
	}
}

func foreign(t *testing.T, path, query string) {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	must(t, err)
	_, err = db.Exec(query)
	must(t, err)
	must(t, db.Close())
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func TestReadOnlyFolder(t *testing.T) {
	if os.Getuid() == 0 {
		t.Skip("permissions do not bind this user")
	}
	dir := t.TempDir()
	must(t, os.Chmod(dir, 0o500))
	t.Cleanup(func() { _ = os.Chmod(dir, 0o700) })
	if _, err := Open(filepath.Join(dir, "ledger.db")); err == nil || !strings.Contains(err.Error(), "must be writable") {
		t.Errorf("Open: %v, want to be told that the folder must be writable", err)
	}
}

// badBlock is a ledger of which so many bytes in the middle went bad.
func badBlock(t *testing.T, n int) (path string) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "ledger.db")
	s := open(t, path)
	storetest.Fill(t, s, 60)
	must(t, s.Close())
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	must(t, err)
	_, err = f.WriteAt([]byte(strings.Repeat("\xff", n)), 256<<10)
	must(t, errors.Join(err, f.Close()))
	return path
}

// A block in the middle of the file goes bad: opening may still work, reading says so.
func TestDamagedInTheMiddle(t *testing.T) {
	s := open(t, badBlock(t, 256<<10))
	var err error
	for _, err = range s.Entries(context.Background(), store.Position{}) {
	}
	if !errors.Is(err, store.ErrDamaged) {
		t.Errorf("Entries: %v, want ErrDamaged", err)
	}
	if err := sound(context.Background(), s.read, "quick_check"); !errors.Is(err, store.ErrDamaged) {
		t.Errorf("Check: %v, want ErrDamaged", err)
	}
}

// TestOlderTables: a ledger of every earlier version is brought up to date and keeps what it holds, also when it is only to be read; and what people
// entered is found without going through what the scale said.
func TestOlderTables(t *testing.T) {
	for version := 1; version <= len(steps); version++ {
		path := filepath.Join(t.TempDir(), "ledger.db")
		older(t, path, steps[:version])
		if version%2 == 0 {
			r, err := Read(context.Background(), path)
			must(t, err)
			must(t, r.Check(context.Background(), func(store.Entry) error { return nil }))
			must(t, r.Close())
		}
		s := open(t, path)
		got, err := s.Recent(context.Background(), "", 2)
		if err != nil || len(got) != 2 || got[1].Key != "a" || got[1].Gross != 24_600.5 || !got[1].HasTemp || got[1].Temp != 19.25 || got[1].Account != "" || got[1].By != "Ines" || !got[1].Voided || got[0].Text != "24,6" {
			t.Errorf("version %d: what was in it: %+v, %v", version, got, err)
		}
		if v, ok, err := s.Fact(context.Background(), "reached"); v != "then" || !ok || err != nil {
			t.Errorf("version %d: %q, %v", version, v, err)
		}
		w, err := s.Write(context.Background(), pair(9))
		if err != nil || w.Entries[0].Seq != 3 {
			t.Errorf("version %d: written on: %+v, %v", version, w, err)
		}
		if _, err := s.write.Exec("UPDATE entry SET gross_g = 0"); err == nil {
			t.Errorf("version %d: an entry can be changed", version)
		}
		var plan string
		var skip any
		must(t, s.read.QueryRow("EXPLAIN QUERY PLAN "+recent, "", "", 1).Scan(&skip, &skip, &skip, &plan))
		if !strings.Contains(plan, "entry_told") {
			t.Errorf("version %d: plan of Recent: %q", version, plan)
		}
	}
}

// older makes a ledger as a program that knew only some steps left it.
func older(t *testing.T, path string, steps []string) {
	t.Helper()
	for i, name := range steps {
		text, err := migrations.ReadFile(name)
		must(t, err)
		foreign(t, path, fmt.Sprintf("%s; PRAGMA application_id = %d; PRAGMA user_version = %d;", text, applicationID, i+1))
	}
	foreign(t, path, `PRAGMA journal_mode = WAL; INSERT INTO fact VALUES ('reached', 'then');
		INSERT INTO entry (key, kind, cylinder, at, received, by_id, by_name, origin, gross_g, temp_c, name, value, text, voided)
		VALUES ('a', 'weighing', 'main', 1000, 2000, '', 'Ines', 'manual', 24600.5, 19.25, '', '', '', 1),
			('b', 'weighing', 'main', 1000, 2000, '', 'Ines', 'manual', 24600, NULL, '', '', '24,6', 0)`)
}

func BenchmarkEntriesYear(b *testing.B)       { benchEntries(b, 365) }
func BenchmarkEntriesSevenYears(b *testing.B) { benchEntries(b, 2557) }

func benchEntries(b *testing.B, days int) {
	s := open(b, filepath.Join(b.TempDir(), "ledger.db"))
	want := storetest.Fill(b, s, days)
	b.ReportAllocs()
	for b.Loop() {
		n := 0
		for _, err := range s.Entries(context.Background(), store.Position{}) {
			if n++; err != nil {
				b.Fatal(err)
			}
		}
		if n != want {
			b.Fatal(n)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*want), "ns/entry")
}

func BenchmarkWriteOne(b *testing.B) {
	s := open(b, filepath.Join(b.TempDir(), "ledger.db"))
	t := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	for b.Loop() {
		t = t.Add(time.Minute)
		e := store.Entry{Key: t.String(), Event: record.Event{Kind: record.Weighed, At: t}, Received: t}
		if _, err := s.Write(context.Background(), store.Batch{Entries: []store.Entry{e}}); err != nil {
			b.Fatal(err)
		}
	}
}
