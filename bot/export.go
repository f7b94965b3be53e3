package main

import (
	"fmt"

	"tarebell/bot/internal/app"
	"tarebell/bot/internal/tables"
)

// exportCommand writes the ledger into plain tables. The bot may be running.
type exportCommand struct {
	Config string `required:"" placeholder:"FILE" help:"${config_help}"`
	Data   string `default:"tarebell-data" placeholder:"DIR" help:"Folder of the ledger (${default})."`
	To     string `required:"" placeholder:"DIR" help:"Folder for weighings.csv, events.csv and history.csv."`
}

func (c *exportCommand) Run(w *world) error {
	cfg, err := loadConfig(c.Config)
	if err != nil {
		return err
	}
	ledger, err := app.Snapshot(w.ctx, c.Data)
	if err != nil {
		return alone(err)
	}
	defer ledger.Close()
	n, err := tables.Export(w.ctx, ledger, c.To, app.Tables(cfg))
	if err != nil {
		return err
	}
	fmt.Fprintf(w.out, "%s are in %s.\nbot replay and bot import read the first two; history.csv is for a spreadsheet.\n", n, c.To)
	return nil
}
