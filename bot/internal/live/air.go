package live

import (
	"context"
	"math"
	"time"

	"tarebell/bot/internal/store"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// The ledger keeps a level of the air when it has changed by a quarter or crossed the alarm, and once an hour; above the alarm every reading
// counts.
const (
	airChange = 0.25
	airAtMost = time.Hour
)

// AcceptAir takes what the CO2 monitor of a cylinder says, if the household should know of it.
func (h *House) AcceptAir(ctx context.Context, cylinder string, at time.Time, ppm unit.PPM) error {
	h.mu.Lock()
	kept := h.air[cylinder]
	h.mu.Unlock()
	now := record.Event{Cylinder: cylinder, At: at, Kind: record.Air, Origin: record.Scale, PPM: ppm}
	if !worthKeeping(kept, now, h.alarm(cylinder)) {
		return nil
	}
	_, err := h.Accept(ctx, store.Entry{Key: "air/" + cylinder + "/" + at.UTC().Format(time.RFC3339Nano), Received: at, Event: now})
	if err == nil {
		h.mu.Lock()
		defer h.mu.Unlock()
		h.air[cylinder] = now
	}
	return err
}

// worthKeeping reports whether the household should know of a level, given the last it knows of.
func worthKeeping(kept, now record.Event, alarm unit.PPM) bool {
	change := math.Abs(float64(now.PPM - kept.PPM))
	return now.PPM >= alarm || kept.PPM >= alarm || change > airChange*float64(kept.PPM) || now.At.Sub(kept.At) >= airAtMost
}

// alarm is the level from which on the household is told of the air.
func (h *House) alarm(cylinder string) unit.PPM {
	for _, c := range h.opt.Household.Cylinders {
		if c.Name == cylinder {
			return c.AirAlarm
		}
	}
	return 0
}
