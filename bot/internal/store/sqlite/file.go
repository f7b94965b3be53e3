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

func stats(paths ...string) (out []file, err error) {
	for _, path := range paths {
		info, err := os.Stat(path)
		if err != nil {
			return nil, err
		}
		out = append(out, file{path, info})
	}
	return out, nil
}

// Trouble is why nothing is written any more: store.ErrReplaced if the ledger's files are no longer those that were opened, store.ErrDamaged
// if damage was found since. A file that was removed, or replaced by a restored backup or a program that synchronises folders, can still be
// written to; but nobody will read that again.
func (s *Store) Trouble() error {
	if damage := s.damage.Load(); damage != nil {
		return *damage
	}
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
