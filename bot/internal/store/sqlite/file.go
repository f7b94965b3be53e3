package sqlite

import (
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

// Here reports store.ErrReplaced if the ledger's files are no longer those that were opened. A file that was removed, or replaced by a
// restored backup or a program that synchronises folders, can still be written to; but nobody will read that again.
func (s *Store) Here() error {
	for _, f := range s.files {
		if info, err := os.Stat(f.path); err != nil || !os.SameFile(info, f.info) {
			return fmt.Errorf("the ledger's file %s was %w: nothing is noted until the program is started again", f.path, store.ErrReplaced)
		}
	}
	return nil
}
