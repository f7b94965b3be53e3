package main

import (
	"errors"
	"fmt"
	"time"

	"tarebell/bot/internal/app"
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
	secrets := cfg.Secrets
	missing := unread(secrets, w.getenv)
	verdict := "fine"
	if missing != nil {
		verdict = "can be read, but bot run would not start, see the end"
	}
	fmt.Fprintf(w.out, "%s: %s. This is what was understood.\n\n", c.Config, verdict)
	r := &reading{w.out, cfg.Household.Units, cfg, settings, now, w.getenv}
	r.household()
	for _, cyl := range cfg.Cylinders {
		r.cylinder(cyl)
	}
	r.refill()
	r.listen()
	r.chat()
	if err := r.posts(); err != nil {
		return err
	}
	r.doubts(secrets)
	if err := c.ledger(w); err != nil {
		return err
	}
	if missing != nil {
		return &hint{missing, "if only the user that bot run has may read the file, check as that user"}
	}
	return nil
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
	fmt.Fprintf(w.out, "\nThe ledger in %s is sound: %s read as they were written.\n", c.Data, n)
	return nil
}

// unread tells of the files of tokens that cannot be read, or hold none. What the environment holds here need not be what it holds for
// bot run.
func unread(secrets []config.Place, getenv func(string) string) error {
	var errs []error
	for _, s := range secrets {
		if _, err := s.Source.Read(getenv); err != nil && s.Source.File != "" {
			errs = append(errs, fmt.Errorf("%s.token_file: %w", s.Path, err))
		}
	}
	return errors.Join(errs...)
}
