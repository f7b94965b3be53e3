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

// Of a household that was watched for a month or more, no more use is expected in any days than twice what it ever drew in as many; of a time longer than a third of that
// watched, than twice what it drew at the same pace. Ours.
const (
	beyond  = 1.5
	monthly = 30 // days
)

// soonest is the number of days within which net grams are not used up, as far as the days remembered tell; 0 if they are too few to tell.
func (d *days) soonest(net float64) float64 {
	var used [keptDays]float64 // since the first day; what a fill hid is left out
	at := func(i int) *Day { return &d.ring[(d.next-d.n+i+keptDays)%keptDays] }
	for i := 1; i < d.n; i++ {
		used[i] = used[i-1] + max(float64(at(i-1).Net-at(i).Net), 0)
	}
	if d.n < monthly {
		return 0
	}
	span := func(i, j int) int { return int(at(j).Date.Sub(at(i).Date).Hours() / 24) }
	third := span(0, d.n-1) / 3
	for length, before := 1, 0; ; length, before = min(length+max(length/4, 1), third), length {
		most := 0.0
		for i, j := 0, 1; j < d.n; j++ {
			for span(i, j) > length {
				i++
			}
			most = max(most, used[j]-used[i])
		}
		switch {
		case beyond*most >= net:
			return float64(before)
		case length == third:
			return float64(third) * net / max(beyond*most, 1)
		}
	}
}

// Days are the finished days remembered, oldest first, at most 400. It allocates.
func (c *Cylinder) Days() []Day {
	d := &c.days
	out := make([]Day, 0, d.n)
	for i := range d.n {
		out = append(out, d.ring[(d.next-d.n+i+keptDays)%keptDays])
	}
	return out
}
