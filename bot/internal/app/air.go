package app

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"time"

	"tarebell/bot/internal/backoff"
	"tarebell/bot/internal/store"
	"tarebell/config"
	"tarebell/forecast"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
	"tarebell/sources/scale"
)

// Monitor is a CO2 monitor beside a cylinder.
type Monitor struct {
	Cylinder string
	Source   *scale.Monitor
	Every    time.Duration
	Alarm    unit.PPM
}

// Monitors opens the CO2 monitors of a config. getenv finds their tokens; transport is nil but in tests.
func Monitors(c *config.Config, getenv func(string) string, transport http.RoundTripper) ([]Monitor, error) {
	var out []Monitor
	for _, cyl := range c.Cylinders {
		m := cyl.CO2Monitor
		if m == nil {
			continue
		}
		token, err := m.Token.Read(getenv)
		if err != nil {
			return nil, fmt.Errorf("CO2 monitor of %q: %w", cyl.Name, err)
		}
		src, err := scale.NewMonitor(scale.MonitorOptions{Item: cyl.Name, Value: m.Value,
			Endpoint: scale.Endpoint{URL: m.URL.Reveal(), Token: token.Reveal(), Header: m.Header, Timeout: m.Timeout, Transport: transport}})
		if err != nil {
			return nil, fmt.Errorf("CO2 monitor of %q: %w", cyl.Name, err)
		}
		out = append(out, Monitor{cyl.Name, src, m.Every, m.Alarm})
	}
	return out, nil
}

// The ledger keeps a level of the air when it has changed by a quarter or crossed the alarm, and once an hour; above
// the alarm every reading counts.
const (
	airChange = 0.25
	airAtMost = time.Hour
)

// mostAfterAir bounds how long a monitor may ask to be left alone: it is there for safety.
const mostAfterAir = 5 * time.Minute

// watchAir reads a monitor at its pace until ctx ends.
func (a *App) watchAir(ctx context.Context, m Monitor) {
	var kept record.Event
	p := newPacer(m.Every, mostAfterAir)
	for wait := time.Duration(0); backoff.Pause(ctx, wait); {
		l, err := m.Source.Poll(ctx)
		if err == nil && worthKeeping(kept, l, m.Alarm) {
			if err = a.noteAir(ctx, l); err == nil {
				kept = l
			}
		}
		if ctx.Err() != nil {
			return
		}
		a.noteDevice(m.Cylinder+" (CO2 monitor)", m.Cylinder, "CO2 monitor", err)
		wait = p.next(err, forecast.Usual)
	}
}

// worthKeeping reports whether the household should know of a level, given the last it knows of.
func worthKeeping(kept, now record.Event, alarm unit.PPM) bool {
	change := math.Abs(float64(now.PPM - kept.PPM))
	return now.PPM >= alarm || (kept.PPM >= alarm) || change > airChange*float64(kept.PPM) || now.At.Sub(kept.At) >= airAtMost
}

func (a *App) noteAir(ctx context.Context, l record.Event) error {
	_, err := a.House.Accept(ctx, store.Entry{Key: "air/" + l.Cylinder + "/" + l.At.UTC().Format(time.RFC3339Nano), Received: l.At, Event: l})
	if err == nil {
		a.wake()
	}
	return err
}
