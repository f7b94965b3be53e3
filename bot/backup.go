package main

import (
	"fmt"

	"tarebell/bot/internal/app"
)

// backupCommand copies the ledger. The bot may be running.
type backupCommand struct {
	Data string `default:"tarebell-data" placeholder:"DIR" help:"Folder of the ledger (${default})."`
	File string `arg:"" placeholder:"FILE" help:"Where the copy goes; it must not be there yet."`
}

func (c *backupCommand) Run(w *world) error {
	if err := app.Backup(w.ctx, c.Data, c.File); err != nil {
		return err
	}
	fmt.Fprintf(w.out, "The ledger is copied to %s.\nTo go back to it: stop the bot, move the files ledger.db* in %s away, and put the copy there as ledger.db.\n", c.File, c.Data)
	return nil
}
