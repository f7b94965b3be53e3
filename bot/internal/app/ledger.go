package app

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"tarebell/bot/internal/store"
	"tarebell/bot/internal/store/sqlite"
	"tarebell/bot/internal/transfer"
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
func Snapshot(ctx context.Context, data string) (store.Reader, error) {
	path := filepath.Join(data, ledgerFile)
	if _, err := os.Stat(path); err != nil {
		return nil, fmt.Errorf("there is no ledger in %q: %w", data, err)
	}
	return sqlite.Read(ctx, path)
}

// Transfer is what an export or import has to know of a household.
func Transfer(c *config.Config) transfer.Options {
	o := transfer.Options{Zone: c.Household.Location, US: c.Household.Units == unit.US}
	for _, spare := range []bool{false, true} {
		for _, cyl := range c.Cylinders {
			if cyl.Spare == spare {
				o.Cylinders = append(o.Cylinders, cyl.Name)
			}
		}
	}
	return o
}
