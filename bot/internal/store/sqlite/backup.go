package sqlite

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"tarebell/bot/internal/store"
)

// Backup copies the ledger at path, as it stands at one moment, into a new file; a program may be working with it. The copy is on the disk and
// was read through when Backup returns; if anything goes wrong there is none. It is a ledger: put in the place of the file it is opened as ever.
func Backup(ctx context.Context, path, to string) error {
	if err := backup(ctx, path, to); err != nil {
		return fmt.Errorf("copying the ledger %q: %w", path, err)
	}
	return nil
}

func backup(ctx context.Context, path, to string) (err error) {
	if _, err := os.Stat(to); err == nil {
		return fmt.Errorf("%s is there already; name a new file", to)
	}
	abs, err := find(path)
	if err != nil {
		return err
	}
	part, err := filepath.Abs(to + ".part")
	if err != nil {
		return err
	}
	if err := os.Remove(part); err != nil && !errors.Is(err, os.ErrNotExist) { // of one that was cut short
		return err
	}
	defer func() {
		if err != nil {
			os.Remove(part)
		}
	}()
	db := connect(abs, present, "deferred")
	defer func() { _ = db.Close() }()
	if _, err := identify(ctx, db); err != nil {
		return unread(err)
	}
	if _, err := db.ExecContext(ctx, `VACUUM INTO ?`, part); err != nil { // https://sqlite.org/lang_vacuum.html
		return unread(err)
	}
	copied := connect(part, present, "deferred", "query_only(ON)")
	defer func() { _ = copied.Close() }()
	if err := sound(ctx, copied, "quick_check"); err != nil {
		return err
	}
	if err := copied.Close(); err != nil {
		return err
	}
	if err := flush(part); err != nil {
		return err
	}
	if err := os.Rename(part, to); err != nil {
		return err
	}
	return flush(filepath.Dir(to))
}

// flush waits until a file or folder is on the disk.
func flush(name string) error {
	f, err := os.Open(name)
	if err != nil {
		return err
	}
	err = f.Sync()
	if info, e := f.Stat(); e == nil && info.IsDir() {
		err = nil // not every system can do that, and a name that is lost is a backup that was never made
	}
	return errors.Join(err, f.Close())
}

// sound lets SQLite look for damage, by quick_check or integrity_check.
func sound(ctx context.Context, db querier, check string) error {
	said, err := collect(ctx, db, func(r scanner) (s string, err error) { return s, r.Scan(&s) }, `PRAGMA `+check+`(1)`)
	if err != nil {
		return explain(err)
	}
	if len(said) != 1 || said[0] != "ok" {
		return fmt.Errorf("%w: %q; put a backup in the place of the file, and keep the damaged one", store.ErrDamaged, said)
	}
	return nil
}

// Check reads the whole ledger and reports store.ErrDamaged if something in it does not read as it was written. each hears every entry.
func (s *Snapshot) Check(ctx context.Context, each func(store.Entry) error) error {
	if err := sound(ctx, s.tx, "integrity_check"); err != nil {
		return fmt.Errorf("checking the ledger: %w", err)
	}
	for e, err := range s.Entries(ctx, store.Position{}) {
		if err == nil {
			err = each(e)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// find is the absolute path of a ledger that is there.
func find(path string) (string, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return "", err
	}
	switch info, err := os.Stat(abs); {
	case err != nil:
		return "", fmt.Errorf("there is no ledger in %q: %w", filepath.Dir(path), err)
	case info.IsDir():
		return "", errors.New("this is a folder; the ledger is one file in it")
	case info.Size() == 0:
		return "", errEmpty
	}
	return abs, nil
}

// errEmpty keeps an empty file from being taken for a new ledger: none that this program makes is ever empty.
var errEmpty = fmt.Errorf("%w: the file is empty; put a backup in its place, or remove it to begin anew", store.ErrDamaged)
