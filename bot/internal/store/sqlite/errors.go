package sqlite

import (
	"errors"
	"fmt"

	"modernc.org/sqlite"

	"tarebell/bot/internal/store"
)

// Primary result codes of SQLite, https://sqlite.org/rescode.html.
const (
	codeBusy     = 5
	codeReadOnly = 8
	codeIOErr    = 10
	codeCorrupt  = 11
	codeFull     = 13
	codeCantOpen = 14
	codeNotADB   = 26
)

// primary is SQLite's primary result code in err, 0 if there is none.
func primary(err error) int {
	if e, ok := errors.AsType[*sqlite.Error](err); ok {
		return e.Code() & 0xff
	}
	return 0
}

// explain adds to an error of SQLite what it means for the ledger and what to do.
func explain(err error) error {
	switch primary(err) {
	case codeFull:
		return fmt.Errorf("%w on the disk: nothing was stored by this step, what was stored before is intact; make room: %w", store.ErrFull, err)
	case codeCorrupt, codeNotADB:
		return fmt.Errorf("%w: the file is not (or no longer) a ledger; put a backup in its place, and keep the damaged file: %w", store.ErrDamaged, err)
	case codeReadOnly, codeCantOpen:
		return fmt.Errorf("the folder and the files in it must be writable for this program's user: %w", err)
	case codeIOErr:
		return fmt.Errorf("the disk reports an error; nothing was stored by this step: %w", err)
	case codeBusy:
		return fmt.Errorf("another program holds the file locked: %w", err)
	}
	return err
}
