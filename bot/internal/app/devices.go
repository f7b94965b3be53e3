package app

import (
	"errors"
	"sync"
	"time"

	"golang.org/x/time/rate"

	"tarebell/sources"
)

// A device that cannot make up its mind is logged this often, once it has used up the first lines.
const (
	logBurst = 5
	logEvery = 30 * time.Minute
)

// devices keeps how scales and monitors do.
type devices struct {
	mu sync.Mutex
	by map[string]*device
}

type device struct {
	answered time.Time // zero: never
	err      string    // of the last try; "" it went well
	cause    string    // its kind
	said     string    // the kind that the log knows
	log      *rate.Limiter
	hushed   int // changes of kind that the log was spared
}

// ledgerCause is the cause of a reading that came and could not be stored.
const ledgerCause = "ledger"

// causeOf is the kind of a failure; "" for none.
func causeOf(err error) string {
	var f *sources.Failure
	switch {
	case err == nil:
		return ""
	case errors.As(err, &f):
		return string(f.Kind)
	}
	return ledgerCause
}

// note takes down how a try went and reports whether the log should hear of it: when the kind of the failure has changed, if the log
// did not hear enough lately. hushed is how many changes it was spared before.
func (d *devices) note(name string, at time.Time, err error) (tell bool, hushed int) {
	d.mu.Lock()
	defer d.mu.Unlock()
	v := d.by[name]
	if v == nil {
		v = &device{log: rate.NewLimiter(rate.Every(logEvery), logBurst)}
		if d.by == nil {
			d.by = map[string]*device{}
		}
		d.by[name] = v
	}
	before := v.cause
	if v.cause, v.err = causeOf(err), ""; err != nil {
		v.err = err.Error()
	} else {
		v.answered = at
	}
	if v.cause == v.said || !v.log.AllowN(at, 1) {
		if v.cause != before {
			v.hushed++
		}
		return false, 0
	}
	hushed, v.hushed, v.said = v.hushed, 0, v.cause
	return true, hushed
}

// health is what /healthz says of them.
func (d *devices) health() map[string]scaleHealth {
	d.mu.Lock()
	defer d.mu.Unlock()
	out := map[string]scaleHealth{}
	for name, v := range d.by {
		out[name] = scaleHealth{Answered: stampOf(v.answered), Error: v.err}
	}
	return out
}
