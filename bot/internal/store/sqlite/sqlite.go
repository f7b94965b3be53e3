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

	"modernc.org/sqlite"

	"tarebell/bot/internal/store"
)

// Store is a ledger in a file. Its methods may be called from several goroutines.
type Store struct {
	write *sql.DB // one connection
	read  *sql.DB
	lock  *sql.DB
	once  sync.Once
	files []file // as they were opened

	// Prepared: these run at every notice.
	claim, settle, nextDue *sql.Stmt
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
	s.write = connect(path, "immediate", "journal_mode(WAL)", "synchronous(FULL)", "foreign_keys(ON)")
	s.write.SetMaxOpenConns(1)
	if err := migrate(context.Background(), s.write); err != nil {
		return err
	}
	s.read = connect(path, "deferred", "query_only(ON)")
	s.read.SetMaxOpenConns(readers)
	s.read.SetMaxIdleConns(readers)
	if err := s.prepare(); err != nil {
		return err
	}
	s.files, err = stats(path, path+"-wal")
	return err
}

func (s *Store) prepare() (err error) {
	for _, p := range []struct {
		to    **sql.Stmt
		db    *sql.DB
		query string
	}{{&s.claim, s.write, claim}, {&s.settle, s.write, settle}, {&s.nextDue, s.read, nextDue}} {
		if *p.to, err = p.db.Prepare(p.query); err != nil {
			return err
		}
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
	db := connect(path, "exclusive")
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

// connect prepares connections to path; nothing is opened before the first use.
func connect(path, txlock string, pragmas ...string) *sql.DB {
	q := url.Values{"_txlock": {txlock}, "_pragma": {fmt.Sprintf("busy_timeout(%d)", busyMS)}}
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
		for _, db := range []*sql.DB{s.read, s.write, s.lock} {
			if db != nil {
				err = errors.Join(err, db.Close())
			}
		}
	})
	return err
}
