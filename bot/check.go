package main

import (
	"fmt"
	"os"
	"strings"
	"time"

	"tarebell/bot/internal/app"
	"tarebell/bot/internal/household"
	"tarebell/config"
)

// checkCommand reads a config and says what it means.
type checkCommand struct {
	Config string    `required:"" placeholder:"FILE" help:"${config_help}"`
	At     time.Time `placeholder:"TIME" help:"Take this for the present (RFC 3339); now if left out."`
	Data   string    `placeholder:"DIR" help:"Read the ledger in this folder from end to end too; the bot may be running."`
}

func (c *checkCommand) Run(w *world) error {
	cfg, settings, err := loadHousehold(c.Config)
	if err != nil {
		return err
	}
	now := c.At
	if now.IsZero() {
		now = time.Now()
	}
	fmt.Fprintf(w.out, "%s: fine. This is what was understood.\n\n", c.Config)
	r := &reading{w.out, cfg, settings, now}
	r.household()
	for _, cyl := range cfg.Cylinders {
		r.cylinder(cyl)
	}
	r.refill()
	r.chat(w.getenv)
	if err := r.posts(); err != nil {
		return err
	}
	r.doubts()
	return c.ledger(w)
}

// ledger says whether the ledger reads as it was written.
func (c *checkCommand) ledger(w *world) error {
	if c.Data == "" {
		return nil
	}
	n, err := app.CheckLedger(w.ctx, c.Data)
	if err != nil {
		return alone(err)
	}
	fmt.Fprintf(w.out, "\nThe ledger in %s is sound: %s read as they were written.\n", c.Data, amount(n))
	return nil
}

// loadConfig reads a config, with advice where the file itself is the trouble.
func loadConfig(path string) (*config.Config, error) {
	cfg, err := config.Load(path)
	if os.IsNotExist(err) || (err != nil && strings.Contains(err.Error(), "no such file")) {
		return nil, &hint{err, "README.md has a config to start from"}
	}
	return cfg, err
}

// loadHousehold reads a config and makes what the engine runs on of it.
func loadHousehold(path string) (*config.Config, household.Options, error) {
	cfg, err := loadConfig(path)
	if err != nil {
		return nil, household.Options{}, err
	}
	o, err := app.Household(cfg)
	return cfg, o, err
}

// brief writes a duration without its empty parts: 10m, 6h.
func brief(d time.Duration) string {
	s := d.String()
	if m, ok := strings.CutSuffix(s, "m0s"); ok {
		s = m + "m"
	}
	if h, ok := strings.CutSuffix(s, "h0m"); ok {
		s = h + "h"
	}
	return s
}
