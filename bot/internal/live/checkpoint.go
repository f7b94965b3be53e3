package live

import (
	"context"
	"fmt"
	"time"

	"tarebell/bot/internal/checkpoint"
	"tarebell/bot/internal/household"
	"tarebell/bot/internal/store"
)

// state is what the entries have led to. Checkpoints of it are kept in the ledger, and save going through all entries again.
type state struct {
	Engine    *household.Engine
	Strangers map[string]int // how many entries of cylinders that are not in the config were left out
}

func (h *House) fresh() *state {
	return &state{Engine: household.New(h.opt.Household), Strangers: map[string]int{}}
}

// There is a checkpoint for each of the last days and one for each of the last weeks, in slots that are used in turn. So one lies shortly
// before whatever is entered or undone of the last two months.
const (
	daySlots  = 8
	weekSlots = 9
)

func dayOf(t time.Time) int64 { return t.Unix() / (24 * 60 * 60) }

func weekOf(day int64) int64 { return day / 7 }

// printOf is what checkpoints are bound to; empty: none are kept.
func (h *House) printOf() string {
	if h.opt.From == nil {
		return ""
	}
	print, err := checkpoint.Print(h.fresh(), h.opt.From, h.opt.Household.Voice.Zone)
	if err != nil {
		h.opt.Log.Warn("no checkpoints are kept; the program will take long to start", "err", err)
	}
	return print
}

// daily adds a checkpoint to the first batch of a day.
func (h *House) daily(b *store.Batch) {
	day := dayOf(h.now.Engine.Now())
	if day == h.saved {
		return
	}
	b.Checkpoints = append(b.Checkpoints, h.checkpoints(h.now, true, weekOf(day) != weekOf(h.saved))...)
	h.saved = day
}

// passed are the checkpoints to be kept of a past state, when the next entry is of another day.
func (h *House) passed(now *state, next, reached time.Time) []store.Checkpoint {
	day, last := dayOf(now.Engine.Now()), dayOf(reached)
	week := weekOf(day) != weekOf(dayOf(next)) && weekOf(last)-weekOf(day) < weekSlots
	return h.checkpoints(now, last-day < daySlots, week)
}

func (h *House) checkpoints(now *state, ofDay, ofWeek bool) (out []store.Checkpoint) {
	if h.print == "" || !ofDay && !ofWeek {
		return nil
	}
	kept, err := checkpoint.Encode(now, h.opt.Household.Voice.Zone)
	if err != nil {
		h.opt.Log.Warn("no checkpoint was kept; the program will take longer to start", "err", err)
		return nil
	}
	at := now.Engine.Now()
	c := store.Checkpoint{Position: store.Position{At: at}, Print: h.print, State: kept}
	if ofDay {
		c.Slot = int(dayOf(at) % daySlots)
		out = append(out, c)
	}
	if ofWeek {
		c.Slot = daySlots + int(weekOf(dayOf(at))%weekSlots)
		out = append(out, c)
	}
	return out
}

// restored is the newest state that was kept before a time (zero: at all), and where it stands; a fresh one if there is none, or none that
// is beyond doubt.
func (h *House) restored(ctx context.Context, before, reached time.Time) (*state, store.Position, error) {
	for h.print != "" {
		c, ok, err := h.opt.Store.Checkpoint(ctx, h.print, before)
		if err != nil {
			return nil, c.Position, err
		}
		if !ok {
			break
		}
		now := h.fresh()
		if err = checkpoint.Decode(c.State, now, h.opt.Household.Voice.Zone); err == nil {
			if !now.Engine.Now().After(reached) {
				return now, c.Position, nil
			}
			err = fmt.Errorf("the ledger stands at %s only", reached)
		}
		h.opt.Log.Warn("a checkpoint is passed over", "at", c.At, "err", err)
		before = c.At
	}
	return h.fresh(), store.Position{}, nil
}
