package main

import (
	"fmt"
	"time"

	"tarebell/bot/internal/app"
	"tarebell/bot/internal/household"
	"tarebell/bot/internal/store"
)

// previewCommand shows what would be posted, and why nothing else, without posting or writing anything.
type previewCommand struct {
	Config string `required:"" placeholder:"FILE" help:"${config_help}"`
	Data   string `default:"tarebell-data" placeholder:"DIR" help:"Folder of the ledger (${default})."`
	At     string `placeholder:"TIME" help:"As of then, for example 2027-05-16 or 2027-05-16T08:00:00+02:00; now if left out."`
	Days   int    `default:"1" help:"How many days from then on, if nothing else came in (${default})."`
}

func (c *previewCommand) Run(w *world) error {
	_, o, err := loadHousehold(c.Config)
	if err != nil {
		return err
	}
	from, err := c.from(o.Voice.Zone)
	if err != nil {
		return err
	}
	ledger, err := app.Snapshot(w.ctx, c.Data)
	if err != nil {
		return alone(err)
	}
	defer ledger.Close()
	engine := household.New(o)
	for e, err := range store.Events(w.ctx, ledger) {
		if err != nil {
			return err
		}
		if e.At.After(from) {
			break
		}
		engine.Apply(e)
	}
	if engine.Now().IsZero() {
		fmt.Fprintf(w.out, "Nothing had been entered by %s.\n", o.Voice.Moment(from, from))
		return nil
	}
	engine.Advance(from)
	show(w, o, engine, from, c.Days)
	return nil
}

// from is the moment that is asked about.
func (c *previewCommand) from(zone *time.Location) (time.Time, error) {
	if c.At == "" {
		return time.Now(), nil
	}
	for _, layout := range []string{time.RFC3339, "2006-01-02T15:04", time.DateOnly} {
		if t, err := time.ParseInLocation(layout, c.At, zone); err == nil {
			return t, nil
		}
	}
	return time.Time{}, &hint{fmt.Errorf("--at %q is not a time", c.At), "write 2027-05-16, 2027-05-16T08:00 or 2027-05-16T08:00:00+02:00"}
}

// show writes what is said in the days from then on, and why nothing else is.
func show(w *world, o household.Options, engine *household.Engine, from time.Time, days int) {
	until := from.AddDate(0, 0, days)
	said := engine.Advance(until)
	for _, n := range said {
		fmt.Fprintf(w.out, "%s, %s, %s\n%s\n\n", o.Voice.Moment(n.At, from), n.Kind, n.Severity, n.Text())
	}
	if len(said) == 0 {
		fmt.Fprintf(w.out, "Nothing would be posted until %s.\n\n", o.Voice.Moment(until, from))
	}
	for _, name := range engine.Cylinders() {
		s, _ := engine.Situation(name, until)
		fmt.Fprintf(w.out, "%s: %s.", name, s.Decision.Why)
		if why := o.Voice.Why(s); why != "" {
			fmt.Fprintf(w.out, " %s", why)
		}
		fmt.Fprintln(w.out)
	}
}
