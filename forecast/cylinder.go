package forecast

import (
	"time"
)

// Cylinder is the running judgement. It uses constant memory. Feed it in order of time.
type Cylinder struct {
	opt Options
}

// New starts a judgement that has seen nothing.
func New(o Options) *Cylinder { return &Cylinder{opt: o} }

// Weigh takes one reading and returns what it revealed, if anything. The slice is valid until the next call.
// Readings must not go back in time; one that does is ignored.
func (c *Cylinder) Weigh(w Weighing) []Finding { panic("not yet") }

// Apply takes what somebody told.
func (c *Cylinder) Apply(e Event) []Finding { panic("not yet") }

// Doubtful reports that the last reading stands out and has not been explained: a scale that can be polled
// should be polled again at once.
func (c *Cylinder) Doubtful() bool { panic("not yet") }

// Outlook says what is known and expected at now, which must not lie before the last input.
func (c *Cylinder) Outlook(now time.Time) Outlook { panic("not yet") }
