package sqlite

import (
	"context"
	"errors"
	"fmt"
	"os"

	"tarebell/bot/internal/store"
)

// file is a file as it was when it was opened.
type file struct {
	path string
	info os.FileInfo
}

// header is how a ledger's file begins. Only a checkpoint of the log changes the file, and SQLite's counters in it with that
// (https://sqlite.org/fileformat.html#the_database_header); in a backup it is marked otherwise than in a ledger that is in use.
type header [100]byte

func (s *Store) header() (h header) {
	_, _ = s.main.ReadAt(h[:], 0) // of a file that is cut short: another one
	return h
}

// inUse reports that the file is marked as one with a write-ahead log (versions 2 at offsets 18 and 19), as every ledger is that is in use.
func (h *header) inUse() bool { return h[18] == 2 && h[19] == 2 }

// changing is called before a change of the ledger, and what it returns after that: what this program itself does to the file is expected.
func (s *Store) changing() (done func()) {
	s.mu.Lock()
	expected := s.header() == s.head
	return func() {
		if now := s.header(); expected && now.inUse() {
			s.head = now
		}
		s.mu.Unlock()
	}
}

// Trouble is why nothing is written any more: store.ErrReplaced if the ledger's files are no longer those that were opened or hold something
// else, store.ErrDamaged if damage was found since. A file that was removed, or replaced by a restored backup or a program that synchronises
// folders, can still be written to; but nobody will read that again.
func (s *Store) Trouble() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.trouble()
}

func (s *Store) trouble() error {
	if damage := s.damage.Load(); damage != nil {
		return *damage
	}
	if err := s.gone(); err != nil {
		return err
	}
	if s.header() != s.head {
		path := s.main.Name()
		return fmt.Errorf("what is in the ledger's file %[1]s was %[2]w: nothing is noted any more; stop the program, move %[1]s-wal and %[1]s-shm away, and start it again",
			path, store.ErrReplaced)
	}
	return nil
}

// gone is store.ErrReplaced if the files are no longer those that were opened.
func (s *Store) gone() error {
	for _, f := range s.files {
		if info, err := os.Stat(f.path); err != nil || !os.SameFile(info, f.info) {
			return fmt.Errorf("the ledger's file %s was %w: nothing is noted until the program is started again", f.path, store.ErrReplaced)
		}
	}
	return nil
}

// look looks for damage beside the work: that takes seconds after years, and a start should not.
func (s *Store) look() {
	ctx, stop := context.WithCancel(context.Background())
	s.stop = stop
	s.looking.Go(func() {
		if err := sound(ctx, s.read, "quick_check"); errors.Is(err, store.ErrDamaged) {
			s.damage.Store(&err)
		}
	})
}
