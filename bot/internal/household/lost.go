package household

import (
	"slices"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast/unit"
)

// allLosses are those that have ended and, up to now, the one being told.
func (it *item) allLosses(now time.Time) []notice.Lost {
	all := slices.Clone(it.losses)
	if it.loss != nil {
		f := it.loss.finding
		all = append(all, notice.Lost{From: f.Since, To: now, Mass: max(0, f.Mass, f.Rate.Over(unit.Between(f.Since, now)))})
	}
	return all
}
