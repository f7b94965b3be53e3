package main

import (
	"fmt"
	"os"
	"time"

	"golang.org/x/term"

	"tarebell/bot/internal/demo"
)

// demoCommand runs the demo.
type demoCommand struct {
	Pace  time.Duration `default:"0s" help:"Pause after each message, for reading along, such as 1s."`
	Seed  uint64        `default:"4" help:"Another number is another course of events."`
	Weeks int           `default:"17" help:"How long, 1 to 104 weeks."`
}

func (c *demoCommand) Run(w *world) error {
	if c.Weeks < 1 || c.Weeks > 104 || c.Pace < 0 || c.Pace > time.Minute {
		return &hint{fmt.Errorf("--weeks %d, --pace %s: out of range", c.Weeks, c.Pace), "1 to 104 weeks, a pace of 0s to 1m"}
	}
	o := demo.Options{Out: w.out, Seed: c.Seed, Weeks: c.Weeks, Pace: c.Pace}
	if f, ok := w.out.(*os.File); !ok || !term.IsTerminal(int(f.Fd())) {
		o.Progress = w.err
	}
	return demo.Run(w.ctx, o)
}
