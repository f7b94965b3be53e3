package household

import (
	"slices"
	"time"

	"tarebell/forecast"
)

// pending are findings that are told only if they last: what is put on or taken off the platform for a while is nobody's business.
type pending []lasting

type lasting struct {
	finding forecast.Finding
	until   time.Time // when it is told
}

var patience = map[forecast.FindingKind]time.Duration{
	forecast.Lifted:   6 * time.Hour,  // it is away to be filled, or put back after cleaning
	forecast.ObjectOn: 48 * time.Hour, // nobody has to do anything about it
}

// awayForRefill is how long a cylinder may be off its scale from the eve of the booked day on.
const awayForRefill = 3 * 24 * time.Hour

// ends names the finding that makes another one moot.
var ends = map[forecast.FindingKind]forecast.FindingKind{
	forecast.Returned:  forecast.Lifted,
	forecast.ObjectOff: forecast.ObjectOn,
	forecast.FillSeen:  forecast.Lifted,
}

// take keeps a finding for later, and drops those that it ends. It reports whether there is nothing to tell now. leaves: the cylinder is
// expected to be away for its refill.
func (p *pending) take(f forecast.Finding, leaves bool) bool {
	if over, ok := ends[f.Kind]; ok {
		p.drop(over)
	}
	wait, ok := patience[f.Kind]
	if !ok {
		return false
	}
	if leaves && f.Kind == forecast.Lifted {
		wait = awayForRefill // whether the refill came is asked anyway
	}
	p.drop(f.Kind)
	*p = append(*p, lasting{f, f.At.Add(wait)})
	return true
}

func (p *pending) drop(kind forecast.FindingKind) {
	*p = slices.DeleteFunc(*p, func(l lasting) bool { return l.finding.Kind == kind })
}

// next is when something is to be told; zero: nothing.
func (p pending) next() (next time.Time) {
	for _, l := range p {
		next = earlier(next, l.until)
	}
	return next
}

// lasted are the findings that have lasted; they are told now.
func (p *pending) lasted(now time.Time) (out []forecast.Finding) {
	*p = slices.DeleteFunc(*p, func(l lasting) bool {
		if l.until.After(now) {
			return false
		}
		out = append(out, l.finding)
		return true
	})
	return out
}
