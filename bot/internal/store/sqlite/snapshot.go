package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"iter"

	"tarebell/bot/internal/store"
)

// Snapshot is the ledger as it stood at one moment, read beside whoever writes it: a write-ahead log lets one reader keep the
// past while another process goes on (https://sqlite.org/isolation.html). While it is open the log of the writer cannot be cut
// short, so it should not stay open for long.
type Snapshot struct {
	db *sql.DB
	tx *sql.Tx
}

var _ store.Reader = (*Snapshot)(nil)

// Read takes a snapshot of the ledger at path, which must be there. It does not matter whether a program works with it. Tables of an
// older version are brought up to date first, which does need the ledger to itself: store.ErrInUse.
func Read(ctx context.Context, path string) (*Snapshot, error) {
	s, err := read(ctx, path)
	if err != nil {
		return nil, fmt.Errorf("reading the ledger %q: %w", path, unread(err))
	}
	return s, nil
}

// unread says what to do when a ledger cannot be read beside its writer.
func unread(err error) error {
	if c := primary(err); c == codeReadOnly || c == codeCantOpen {
		return fmt.Errorf("even who only reads must be able to write in its folder, on a disk of this machine; else stop the bot, copy the folder to where that is so, and read the copy: %w", err)
	}
	return explain(err)
}

func read(ctx context.Context, path string) (*Snapshot, error) {
	abs, err := find(path)
	if err != nil {
		return nil, err
	}
	s := &Snapshot{db: connect(abs, present, "deferred", "query_only(ON)")}
	s.db.SetMaxOpenConns(1)
	if err := s.begin(ctx, abs); err != nil {
		_ = s.Close()
		return nil, err
	}
	return s, nil
}

// begin brings the tables up to date if need be, and holds on to the moment: a deferred transaction does so at its first reading.
func (s *Snapshot) begin(ctx context.Context, path string) error {
	version, err := identify(ctx, s.db)
	if err != nil {
		return err
	}
	if version < len(steps) {
		up, err := Open(path)
		if err != nil {
			return err
		}
		if err := up.Close(); err != nil {
			return err
		}
	}
	if s.tx, err = s.db.BeginTx(ctx, nil); err != nil {
		return err
	}
	var n int64
	return s.tx.QueryRowContext(ctx, `SELECT count(*) FROM fact`).Scan(&n)
}

// Entries is as that of Store; the snapshot must not be used meanwhile.
func (s *Snapshot) Entries(ctx context.Context, after store.Position) iter.Seq2[store.Entry, error] {
	return eachEntry(ctx, s.tx, after)
}

// Close lets go of the moment.
func (s *Snapshot) Close() error {
	var err error
	if s.tx != nil {
		if err = s.tx.Rollback(); errors.Is(err, sql.ErrTxDone) {
			err = nil
		}
	}
	return errors.Join(err, s.db.Close())
}
