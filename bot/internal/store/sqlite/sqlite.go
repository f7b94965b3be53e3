// Package sqlite keeps the ledger in one SQLite file.
//
// Every Write is on the disk when it returns: the journal is a write-ahead log synced at each commit
// (synchronous=FULL). One connection writes; a few read beside it. Beside the file stands an empty one named
// .lock, held as long as the ledger is open, so that two processes never share a data folder.
package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"

	"modernc.org/sqlite"

	"tarebell/bot/internal/store"
)

// Store is a ledger in a file. Its methods may be called from several goroutines.
type Store struct {
	write *sql.DB // one connection
	read  *sql.DB
	lock  *sql.DB
	once  sync.Once
	files []file   // as they were opened
	main  *os.File // to read its header; closed last, as that gives SQLite's locks on the file free
	mu    sync.Mutex
	head  header // as this program left it

	damage  atomic.Pointer[error] // what was found
	looking sync.WaitGroup        // for damage
	stop    func()                // ends that
}

var _ store.Store = (*Store)(nil)

// readers is how many reads may run at once; a read may start another from its yield.
const readers = 4

// busyMS is how long a connection waits for a lock held by another, e.g. a backup program.
const busyMS = 5000

// fast makes commits sync the data without the file's time stamps: as durable, half the wait on many
// file systems. Where the platform cannot, nothing changes.
var fast = sync.OnceFunc(func() { _, _ = sqlite.Fdatasync(true) })

// Open opens the ledger at path, creates it where there is none, and brings its tables up to date. The folder
// must exist. Errors worth telling apart: store.ErrInUse, store.ErrDamaged, store.ErrFull.
func Open(path string) (*Store, error) {
	fast()
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("opening the ledger %q: %w", path, err)
	}
	s := &Store{}
	if err := s.open(abs); err != nil {
		_ = s.Close()
		return nil, fmt.Errorf("opening the ledger %q: %w", path, explain(err))
	}
	return s, nil
}

func (s *Store) open(path string) (err error) {
	if err := usable(path); err != nil {
		return err
	}
	if s.lock, err = lock(path + ".lock"); err != nil {
		return err
	}
	if err := begin(path); err != nil {
		return err
	}
	if s.main, err = os.Open(path); err != nil {
		return err
	}
	s.write = writer(path, present)
	if err := migrate(context.Background(), s.write); err != nil {
		return err
	}
	if s.read, err = reader(path, readers); err != nil {
		return err
	}
	for _, path := range []string{path, path + "-wal"} {
		info, err := os.Stat(path)
		if err != nil {
			return err
		}
		s.files = append(s.files, file{path, info})
	}
	s.head = s.header()
	s.look()
	return nil
}

// reader is n connections that read. All are opened at once: one that is opened later could find another file at path.
func reader(path string, n int) (*sql.DB, error) {
	db := connect(path, present, "deferred", "query_only(ON)")
	db.SetMaxOpenConns(n)
	db.SetMaxIdleConns(n)
	for range n {
		c, err := db.Conn(context.Background())
		if err != nil {
			return db, err
		}
		defer func() { _ = c.Close() }()
		if _, err := identify(context.Background(), c); err != nil { // the log beside the file is opened with the first reading
			return db, err
		}
	}
	return db, nil
}

// writer is the one connection that writes.
func writer(path, mode string) *sql.DB {
	db := connect(path, mode, "immediate", "journal_mode(WAL)", "synchronous(FULL)", "foreign_keys(ON)")
	db.SetMaxOpenConns(1)
	return db
}

// begin makes a new ledger where there is none, under another name first: a file at path that is empty or has no tables was not left by a start that
// was cut short.
func begin(path string) error {
	switch info, err := os.Stat(path); {
	case err == nil && info.Size() == 0:
		return errEmpty
	case err == nil:
		return stale(path)
	case !errors.Is(err, os.ErrNotExist):
		return err
	}
	part := path + ".new"
	for _, suffix := range []string{"", "-wal", "-shm"} {
		if err := os.Remove(part + suffix); err != nil && !errors.Is(err, os.ErrNotExist) {
			return err
		}
		if _, err := os.Stat(path + suffix); err == nil {
			return fmt.Errorf("%w: there is %s%s, but not the file that it belongs to; put both or a backup in their place, or move them away to begin anew",
				store.ErrDamaged, filepath.Base(path), suffix)
		}
	}
	db := writer(part, create)
	if err := migrate(context.Background(), db); err != nil {
		return errors.Join(err, db.Close())
	}
	if err := db.Close(); err != nil {
		return err
	}
	if err := os.Rename(part, path); err != nil {
		return err
	}
	return flush(filepath.Dir(path))
}

// stale refuses a backup that was put in place beside the log of the file that was there before: SQLite would write that log over it. A ledger in use is
// marked as having such a log, a backup is not (https://sqlite.org/fileformat.html#file_format_version_numbers).
func stale(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	head := make([]byte, 20)
	if _, err := f.ReadAt(head, 0); err != nil {
		return nil // SQLite says what is wrong
	}
	if info, err := os.Stat(path + "-wal"); err == nil && info.Size() > 0 && head[18] == 1 {
		name := filepath.Base(path)
		return fmt.Errorf("a backup was put in place, but %[1]s-wal is still that of the file before; move %[1]s-wal and %[1]s-shm away", name)
	}
	return nil
}

// usable says in plain words why path cannot hold a ledger, before SQLite says it in its own.
func usable(path string) error {
	dir := filepath.Dir(path)
	switch info, err := os.Stat(dir); {
	case errors.Is(err, os.ErrNotExist):
		return fmt.Errorf("there is no folder %q: create it first", dir)
	case err != nil:
		return err
	case !info.IsDir():
		return fmt.Errorf("%q is a file, not a folder", dir)
	}
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		return errors.New("this is a folder; the ledger is one file in it")
	}
	return nil
}

// lock holds path for this process until the result is closed or the process ends, however it ends.
func lock(path string) (*sql.DB, error) {
	db := connect(path, create, "exclusive")
	db.SetMaxOpenConns(1)
	if _, err := db.Exec("PRAGMA busy_timeout = 0; BEGIN EXCLUSIVE"); err != nil {
		_ = db.Close()
		if primary(err) == codeBusy {
			return nil, fmt.Errorf("%w: another Tarebell works with this folder; stop it, or give this one a folder of its own",
				store.ErrInUse)
		}
		return nil, err
	}
	return db, nil
}

// What a connection does where there is no file: it fails, or makes one (https://sqlite.org/uri.html#urimode).
const present, create = "rw", "rwc"

// connect prepares connections to path; nothing is opened before the first use.
func connect(path, mode, txlock string, pragmas ...string) *sql.DB {
	q := url.Values{"mode": {mode}, "_txlock": {txlock}, "_pragma": {fmt.Sprintf("busy_timeout(%d)", busyMS)}}
	q["_pragma"] = append(q["_pragma"], pragmas...)
	slash := filepath.ToSlash(path)
	if !strings.HasPrefix(slash, "/") {
		slash = "/" + slash
	}
	u := url.URL{Scheme: "file", OmitHost: true, Path: slash, RawQuery: q.Encode()}
	db, err := sql.Open("sqlite", u.String())
	if err != nil {
		panic("sqlite: the driver registers itself: " + err.Error())
	}
	return db
}

// Close ends the work with the ledger and lets others open it. Closing twice is safe.
func (s *Store) Close() (err error) {
	s.once.Do(func() {
		if s.stop != nil {
			s.stop()
			s.looking.Wait()
		}
		all := []*sql.DB{s.read, s.write, s.lock}
		if s.main != nil && s.head != (header{}) && s.header() != s.head {
			all = all[1:] // the last connection would write its log into what was put there
		}
		for _, db := range all {
			if db != nil {
				err = errors.Join(err, db.Close())
			}
		}
		if len(all) == 3 && s.main != nil {
			err = errors.Join(err, s.main.Close())
		}
	})
	return err
}
