package app

import (
	"context"
	"math/rand/v2"
	"time"

	"tarebell/bot/internal/backoff"
	"tarebell/bot/internal/store"
	"tarebell/forecast"
	"tarebell/sources"
)

const (
	// Repeats and RepeatGap: a reading that stands out is repeated before anybody is alarmed.
	Repeats   = 4
	RepeatGap = 12 * time.Second
	// soonGap is until the next reading when it would tell whether a fall just seen goes on.
	soonGap = 5 * time.Minute
)

// poll reads a scale at its pace until ctx ends. The first reading comes at once.
func (a *App) poll(ctx context.Context, name string, src sources.Source) {
	every := a.opt.Every[name]
	for wait := time.Duration(0); backoff.Pause(ctx, wait); wait = gap(every, a.House.Pace(name)) {
		err := a.PollOnce(ctx, name, src)
		for i := 0; err == nil && a.House.Doubtful(name) && i < Repeats && backoff.Pause(ctx, RepeatGap); i++ {
			err = a.PollOnce(ctx, name, src)
		}
		if ctx.Err() != nil {
			return
		}
		if err != nil {
			a.House.Trouble(name, err.Error())
		}
		if a.scales.note(name, a.opt.Now(), err) { // said once per change
			if err != nil {
				a.opt.Log.Warn("scale", "cylinder", name, "err", err)
			} else {
				a.opt.Log.Info("scale answers again", "cylinder", name)
			}
		}
	}
}

// PollOnce reads a scale once and stores what it said.
func (a *App) PollOnce(ctx context.Context, name string, src sources.Source) error {
	w, err := src.Poll(ctx)
	if err != nil {
		return err
	}
	w.Cylinder = name
	_, err = a.House.Accept(ctx, store.Entry{Key: sources.Key(w.Event), Event: w.Event, Received: w.Received})
	if err == nil {
		a.wake()
	}
	return err
}

// gap is until the next reading of a scale that is usually read every so often.
func gap(every time.Duration, p forecast.Pace) time.Duration {
	wait := jitter(every)
	if p != forecast.Usual {
		wait = min(wait, soonGap)
	}
	return wait
}

// jitter spreads polls by a tenth, so that several boards are not asked in step.
func jitter(d time.Duration) time.Duration {
	return d - d/20 + time.Duration(rand.Int64N(int64(d/10)+1))
}
