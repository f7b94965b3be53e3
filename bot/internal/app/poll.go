package app

import (
	"context"
	"math/rand/v2"
	"time"

	"tarebell/bot/internal/backoff"
	"tarebell/bot/internal/store"
	"tarebell/forecast"
	"tarebell/forecast/unit/record"
	"tarebell/sources"
)

const (
	// Repeats and RepeatGap: a reading that stands out is repeated before anybody is alarmed.
	Repeats   = 4
	RepeatGap = 12 * time.Second
	// soonGap is until the next reading when it would tell whether a fall just seen goes on.
	soonGap = 5 * time.Minute
)

// mostAfter bounds how long a scale may ask to be left alone.
const mostAfter = time.Hour

// poll reads a scale at its pace until ctx ends. The first reading comes at once.
func (a *App) poll(ctx context.Context, name string, src sources.Source) {
	p := newPacer(a.opt.Every[name], mostAfter)
	for wait := time.Duration(0); backoff.Pause(ctx, wait); {
		err := a.PollOnce(ctx, name, src)
		for i := 0; err == nil && a.House.Doubtful(name) && i < Repeats && backoff.Pause(ctx, RepeatGap); i++ {
			err = a.PollOnce(ctx, name, src)
		}
		if ctx.Err() != nil {
			return
		}
		a.noteScale(name, "scale", err)
		wait = p.next(err, a.House.Pace(name))
	}
}

// noteScale takes down how reading a scale went.
func (a *App) noteScale(name, what string, err error) {
	if err != nil {
		a.House.Trouble(name, err.Error())
	}
	a.noteDevice(name, name, what, err)
}

// noteDevice takes down how a try went, for /healthz, /metrics and the log.
func (a *App) noteDevice(name, cylinder, what string, err error) {
	a.opt.Site.count(cylinder, what, err)
	tell, hushed := a.devices.note(name, a.opt.Now(), err)
	if !tell {
		return
	}
	log := a.opt.Log.With("cylinder", cylinder)
	if hushed > 0 {
		log = log.With("changes_not_logged", hushed)
	}
	if err != nil {
		log.Warn(what, "err", err)
	} else {
		log.Info(what + " answers again")
	}
}

// PollOnce reads a scale once and stores what it said.
func (a *App) PollOnce(ctx context.Context, name string, src sources.Source) error {
	w, err := src.Poll(ctx)
	if err != nil {
		return err
	}
	w.Cylinder = name
	_, err = a.accept(ctx, w)
	return err
}

// accept stores a weighing and reports whether it was news.
func (a *App) accept(ctx context.Context, w record.Event) (stored bool, err error) {
	e, err := a.House.Accept(ctx, store.Entry{Key: sources.Key(w), Event: w, Received: a.opt.Now()})
	if err != nil {
		return false, err
	}
	a.wake()
	return e.Seq != 0, nil
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
