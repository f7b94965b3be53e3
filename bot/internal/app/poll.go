package app

import (
	"context"
	"errors"
	"math/rand/v2"
	"time"

	"tarebell/bot/internal/backoff"
	"tarebell/bot/internal/store"
	"tarebell/forecast"
	"tarebell/forecast/unit/record"
	"tarebell/sources"
)

const (
	// repeats and repeatGap: a reading that stands out is repeated before anybody is alarmed.
	repeats   = 4
	repeatGap = 12 * time.Second
	// soonGap is until the next reading when it would tell whether a fall just seen goes on.
	soonGap = 5 * time.Minute
)

// mostAfter bounds how long a scale may ask to be left alone.
const mostAfter = time.Hour

// poll reads a scale at its pace until ctx ends. The first reading comes at once.
func (a *App) poll(ctx context.Context, name string, src sources.Source) {
	p := newPacer(a.opt.Every[name], mostAfter)
	for wait := time.Duration(0); backoff.Pause(ctx, wait); {
		err := a.Poll(ctx, name, src, func(d time.Duration) bool { return backoff.Pause(ctx, d) })
		if ctx.Err() != nil {
			return
		}
		a.noteScale(name, "scale", err)
		wait = p.next(err, a.House.Pace(name))
	}
}

// mostAfterAir bounds how long a monitor may ask to be left alone: it is there for safety.
const mostAfterAir = 5 * time.Minute

// watchAir reads a monitor at its pace until ctx ends.
func (a *App) watchAir(ctx context.Context, m Monitor) {
	p := newPacer(m.Every, mostAfterAir)
	for wait := time.Duration(0); backoff.Pause(ctx, wait); {
		l, err := m.Source.Poll(ctx)
		if err == nil {
			err = a.House.AcceptAir(ctx, m.Cylinder, l.At, l.PPM)
		}
		if ctx.Err() != nil {
			return
		}
		a.noteDevice(m.Cylinder+" (CO2 monitor)", m.Cylinder, "CO2 monitor", err)
		wait = p.next(err, forecast.Usual)
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

// Poll reads a scale and stores what it said, several times if it stands out, as long as pause waits and reports true.
func (a *App) Poll(ctx context.Context, name string, src sources.Source, pause func(time.Duration) bool) error {
	for i := 0; ; i++ {
		w, err := src.Poll(ctx)
		if err != nil {
			return err
		}
		w.Cylinder = name
		if _, err = a.accept(ctx, w); err != nil || i == repeats || !a.House.Doubtful(name) || !pause(repeatGap) {
			return err
		}
	}
}

// accept stores a weighing and reports whether it was news.
func (a *App) accept(ctx context.Context, w record.Event) (stored bool, err error) {
	e, err := a.House.Accept(ctx, store.Entry{Key: sources.Key(w), Event: w, Received: a.opt.Now()})
	return err == nil && e.Seq != 0, err
}

// pacer says when a device is asked again. After a failure that is sooner than usual at first, and later where the device asked for it.
type pacer struct {
	every  time.Duration
	most   time.Duration // that a device may ask for
	gaps   backoff.Gaps
	failed int // tries in a row
}

// firstAgain is until a device that failed is asked again, if it is not asked more often anyway.
const firstAgain = 5 * time.Second

func newPacer(every, most time.Duration) *pacer {
	return &pacer{every: every, most: max(most, every), gaps: backoff.Gaps{First: min(firstAgain, every), Most: every}}
}

// next is how long to wait after a try that ended with err. A ledger that takes nothing gets no more tries than usual: each reads it
// from one end to the other.
func (p *pacer) next(err error, pace forecast.Pace) time.Duration {
	var f *sources.Failure
	if !errors.As(err, &f) {
		if err == nil {
			p.failed = 0
		}
		return gap(p.every, pace)
	}
	p.failed++
	wait := min(jitter(p.gaps.After(p.failed)), gap(p.every, pace))
	return max(wait, min(f.After, p.most))
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
