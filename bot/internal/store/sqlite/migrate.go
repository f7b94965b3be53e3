package sqlite

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"io/fs"
	"strings"
)

//go:embed migrations/*.sql
var migrations embed.FS

// steps are the files in migrations, by number.
var steps = func() []string {
	names, err := fs.Glob(migrations, "migrations/*.sql") // sorted by name
	if err != nil {
		panic("sqlite: " + err.Error())
	}
	return names
}()

// applicationID marks the file as a ledger of ours ("Tare" in ASCII), so that another program's database is
// never taken for one: PRAGMA application_id, https://sqlite.org/pragma.html#pragma_application_id.
const applicationID = 0x54617265

// migrate brings the tables from the version noted in the file (PRAGMA user_version) to the newest, each step in
// one transaction.
func migrate(ctx context.Context, db *sql.DB) error {
	version, err := identify(ctx, db)
	if err != nil {
		return err
	}
	for i, name := range steps[version:] {
		if err := step(ctx, db, name, version+i+1); err != nil {
			return fmt.Errorf("changing the tables with %q: %w", strings.TrimPrefix(name, "migrations/"), err)
		}
	}
	return nil
}

// identify returns the version of the tables, 0 for a new file, and refuses what is not ours or of a newer program.
func identify(ctx context.Context, db interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}) (version int, err error) {
	var app, tables int
	err = db.QueryRowContext(ctx, `SELECT application_id, user_version, (SELECT count(*) FROM sqlite_schema)
		FROM pragma_application_id, pragma_user_version`).Scan(&app, &version, &tables)
	if err != nil {
		return 0, err
	}
	if app != applicationID && (app != 0 || version != 0 || tables != 0) {
		return 0, fmt.Errorf("this is a database of another program (application id %#x, %d tables): choose another file", app, tables)
	}
	if version > len(steps) {
		return 0, fmt.Errorf("it was written by a newer Tarebell (its tables have version %d, this program knows %d): upgrade the program", version, len(steps))
	}
	return version, nil
}

func step(ctx context.Context, db *sql.DB, name string, version int) error {
	text, err := migrations.ReadFile(name)
	if err != nil {
		return err
	}
	mark := fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = %d", applicationID, version)
	return transaction(ctx, db, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, string(text))
		if err == nil {
			_, err = tx.ExecContext(ctx, mark)
		}
		return err
	})
}
