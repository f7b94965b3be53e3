package forecast

import (
	"time"

	"tarebell/forecast/unit"
)

// Day is one of the household's days in short.
type Day struct {
	Date time.Time  // midnight of the day's date, UTC
	Net  unit.Grams // mean net gas over the day's vetted readings
	Use  unit.Grams // net gas gone since the day before: use, losses and scatter; 0 after a gap or a fill
}

// keptDays is how many days are remembered.
const keptDays = 400

// days is a ring of the last days.
type days struct {
	ring  [keptDays]Day
	next  int // where the running day stands
	n     int // finished days in the ring, without the running one
	day   int
	sum   float64
	count int
	fresh bool // a fill came since the last finished day
}

// add takes one vetted net mass.
func (d *days) add(day int, net unit.Grams) {
	if day != d.day {
		d.close()
		d.day = day
	}
	d.sum += float64(net)
	d.count++
}

// close finishes the running day.
func (d *days) close() {
	if d.count == 0 {
		return
	}
	x := Day{Date: time.Unix(int64(d.day)*86400, 0).UTC(), Net: unit.Grams(d.sum / float64(d.count))}
	if d.n > 0 && !d.fresh {
		before := d.ring[(d.next+keptDays-1)%keptDays]
		if x.Date.Sub(before.Date) == 24*time.Hour {
			x.Use = before.Net - x.Net
		}
	}
	d.ring[d.next] = x
	d.next = (d.next + 1) % keptDays
	d.n = min(d.n+1, keptDays)
	d.sum, d.count, d.fresh = 0, 0, false
}

// refilled drops the running day, which belongs to two fills.
func (d *days) refilled() { d.sum, d.count, d.fresh = 0, 0, true }

// Days are the finished days remembered, oldest first, at most 400. It allocates.
func (c *Cylinder) Days() []Day {
	d := &c.days
	out := make([]Day, 0, d.n)
	for i := range d.n {
		out = append(out, d.ring[(d.next-d.n+i+keptDays)%keptDays])
	}
	return out
}
