package app

import (
	"fmt"
	"os"
	"path/filepath"

	"tarebell/bot/internal/store"
	"tarebell/bot/internal/store/sqlite"
	"tarebell/bot/internal/transfer"
	"tarebell/config"
)

// Ledger opens the ledger of a data folder without starting the program. make allows for one that is not there yet.
func Ledger(data string, make bool) (store.Store, error) {
	path := filepath.Join(data, "ledger.db")
	if make {
		if err := os.MkdirAll(data, 0o700); err != nil {
			return nil, fmt.Errorf("making the data folder: %w", err)
		}
	} else if _, err := os.Stat(path); err != nil {
		return nil, fmt.Errorf("there is no ledger in %q: %w", data, err)
	}
	return sqlite.Open(path)
}

// Transfer is what an export or import has to know of a household.
func Transfer(c *config.Config) transfer.Options {
	o := transfer.Options{Zone: c.Household.Location, US: c.Household.Units == config.US}
	for _, spare := range []bool{false, true} {
		for _, cyl := range c.Cylinders {
			if cyl.Spare == spare {
				o.Cylinders = append(o.Cylinders, cyl.Name)
			}
		}
	}
	return o
}
