package simulated

import (
	"slices"
	"time"
)

// line is wishes in order of time; those before head are done.
type line struct {
	wishes []serving
	head   int
}

func (l *line) empty() bool { return l.head == len(l.wishes) }

func (l *line) first() serving { return l.wishes[l.head] }

// sort orders what is not done yet.
func (l *line) sort() {
	slices.SortFunc(l.wishes[l.head:], func(a, b serving) int { return a.at.Compare(b.at) })
}

// nextWish is the line that holds the next wish at or before t, nil if there is none. It draws days as needed.
func (d *demand) nextWish(t time.Time) *line {
	for d.today.empty() && !d.next.After(t) {
		d.drawDay()
	}
	l := &d.today
	if !d.extra.empty() && (l.empty() || d.extra.first().at.Before(l.first().at)) {
		l = &d.extra
	}
	if l.empty() || l.first().at.After(t) {
		return nil
	}
	return l
}
