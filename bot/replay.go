package main

import (
	"fmt"
	"io"
	"os"

	"tarebell/bot/internal/app"
	"tarebell/bot/internal/replay"
)

// replayCommand runs the engine over recorded data.
type replayCommand struct {
	Config    string `required:"" placeholder:"FILE" help:"${config_help}"`
	Weighings string `required:"" placeholder:"CSV" help:"Weighings: time,gross_kg,temp_c,source."`
	Events    string `placeholder:"CSV" help:"Events: time,event,value."`
	Out       string `placeholder:"JSONL" help:"Where the records go; standard output if left out."`
}

func (c *replayCommand) Run(w *world) (err error) {
	_, settings, err := loadHousehold(c.Config)
	if err != nil {
		return err
	}
	events, done, err := app.Recorded(w.ctx, settings, c.Weighings, c.Events)
	if err != nil {
		return err
	}
	defer done()
	out := io.Writer(w.out)
	if c.Out != "" {
		f, err := os.Create(c.Out)
		if err != nil {
			return fmt.Errorf("making the output file: %w", err)
		}
		defer func() {
			if e := f.Close(); err == nil {
				err = e
			}
		}()
		out = f
	}
	return replay.Run(w.ctx, settings, events, out)
}
