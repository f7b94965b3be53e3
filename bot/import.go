package main

import (
	"errors"
	"fmt"
	"time"

	"tarebell/bot/internal/app"
	"tarebell/bot/internal/tables"
)

// importCommand takes recorded weighings and events into the ledger.
type importCommand struct {
	Config    string `required:"" placeholder:"FILE" help:"${config_help}"`
	Data      string `default:"tarebell-data" placeholder:"DIR" help:"Folder of the ledger (${default}); made if it is not there."`
	Weighings string `placeholder:"CSV" help:"Weighings: time,gross_kg,temp_c,source."`
	Events    string `placeholder:"CSV" help:"Events: time,event,value."`
}

func (c *importCommand) Run(w *world) error {
	if c.Weighings == "" && c.Events == "" {
		return &hint{errors.New("nothing to import"), "name --weighings, --events or both"}
	}
	cfg, err := loadConfig(c.Config)
	if err != nil {
		return err
	}
	ledger, err := app.Ledger(c.Data)
	if err != nil {
		return alone(err)
	}
	defer ledger.Close()
	o := app.Tables(cfg)
	o.Now = time.Now()
	n, err := tables.Import(w.ctx, ledger, c.Weighings, c.Events, o)
	if err != nil {
		return err
	}
	fmt.Fprintf(w.out, "%s are new in the ledger", n)
	if n.Known > 0 {
		fmt.Fprintf(w.out, "; %d were there already", n.Known)
	}
	fmt.Fprintln(w.out, ".")
	return nil
}
