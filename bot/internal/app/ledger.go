package app

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"tarebell/bot/internal/store"
	"tarebell/bot/internal/store/sqlite"
	"tarebell/bot/internal/tables"
	"tarebell/config"
	"tarebell/forecast/unit"
)

// ledgerFile is the ledger in a data folder.
const ledgerFile = "ledger.db"

// Ledger opens the ledger of a data folder for writing, without starting the program, and makes one where there is none.
func Ledger(data string) (store.Store, error) {
	if err := os.MkdirAll(data, 0o700); err != nil {
		return nil, fmt.Errorf("making the data folder: %w", err)
	}
	return sqlite.Open(filepath.Join(data, ledgerFile))
}

// Snapshot is the ledger of a data folder as it stands now; the program may be running.
func Snapshot(ctx context.Context, data string) (*sqlite.Snapshot, error) {
	return sqlite.Read(ctx, filepath.Join(data, ledgerFile))
}

// Backup copies the ledger of a data folder into a new file; the program may be running.
func Backup(ctx context.Context, data, to string) error {
	return sqlite.Backup(ctx, filepath.Join(data, ledgerFile), to)
}

// CheckLedger reads the whole ledger of a data folder and says what it holds, struck-out entries too, or what is damaged; the program may be running.
func CheckLedger(ctx context.Context, data string) (n tables.Count, err error) {
	s, err := Snapshot(ctx, data)
	if err != nil {
		return n, err
	}
	defer s.Close()
	err = s.Check(ctx, func(e store.Entry) error {
		n.Add(e)
		if _, err := e.Kept(); err != nil && !e.Voided {
			return fmt.Errorf("%w: entry %d: %w", store.ErrDamaged, e.Seq, err)
		}
		return nil
	})
	return n, err
}

// Tables is what an export or import has to know of a household.
func Tables(c *config.Config) tables.Options {
	o := tables.Options{Zone: c.Household.Location, US: c.Household.Units == unit.US}
	for _, cyl := range inUseFirst(c) {
		o.Cylinders = append(o.Cylinders, cyl.Name)
	}
	return o
}
