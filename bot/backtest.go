package main

import (
	"errors"
	"fmt"
	"iter"
	"os"

	"tarebell/bot/internal/app"
	"tarebell/bot/internal/backtest"
	"tarebell/bot/internal/chart"
	"tarebell/bot/internal/household"
	"tarebell/bot/internal/store"
	"tarebell/forecast/unit/record"
)

// backtestCommand looks back over a household's own history.
type backtestCommand struct {
	Config    string `required:"" placeholder:"FILE" help:"${config_help}"`
	Weighings string `placeholder:"CSV" help:"Recorded weighings, as for replay."`
	Events    string `placeholder:"CSV" help:"Recorded events, as for replay."`
	Data      string `placeholder:"DIR" help:"Or the folder of a ledger."`
	Chart     string `placeholder:"PNG" help:"Where a picture goes: what was said, and what happened."`
}

func (c *backtestCommand) Run(w *world) error {
	if (c.Weighings == "") == (c.Data == "") || c.Events != "" && c.Weighings == "" {
		return &hint{errors.New("one history is needed"), "give --weighings CSV, with --events CSV if there are any, or --data DIR"}
	}
	_, o, err := loadHousehold(c.Config)
	if err != nil {
		return err
	}
	history, done, err := c.history(w, o)
	if err != nil {
		return err
	}
	defer done()
	r, err := backtest.Run(o, history)
	if err != nil {
		return err
	}
	if err := r.Write(w.out, o.Voice); err != nil {
		return err
	}
	return c.draw(w, r, o)
}

// history opens the history that was named.
func (c *backtestCommand) history(w *world, o household.Options) (h iter.Seq2[record.Event, error], done func(), err error) {
	if c.Weighings != "" {
		return app.Recorded(w.ctx, o, c.Weighings, c.Events)
	}
	ledger, err := app.Snapshot(w.ctx, c.Data)
	if err != nil {
		return nil, nil, alone(err)
	}
	return store.Events(w.ctx, ledger), func() { ledger.Close() }, nil
}

// draw writes the picture, if one is wanted and there is something in it.
func (c *backtestCommand) draw(w *world, r backtest.Result, o household.Options) error {
	if c.Chart == "" {
		return nil
	}
	png, err := chart.Backtest(r.Picture(o.Voice))
	if errors.Is(err, chart.ErrNothing) {
		fmt.Fprintln(w.err, "bot: there is nothing to draw yet;", c.Chart, "was not written")
		return nil
	}
	if err != nil {
		return err
	}
	if err := os.WriteFile(c.Chart, png, 0o644); err != nil {
		return fmt.Errorf("writing the chart: %w", err)
	}
	return nil
}
