package forecast

import (
	"math"
	"time"

	"tarebell/forecast/unit"
)

// Day is one of the household's days in short.
type Day struct {
	Date time.Time  // midnight of the day's date, UTC
	Net  unit.Grams // mean net gas over the day's vetted readings
	Use  unit.Grams // net gas gone since the day before: use, losses and scatter; 0 after a gap or a fill

	filled bool // since the day remembered before it
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
	x := Day{Date: time.Unix(int64(d.day)*86400, 0).UTC(), Net: unit.Grams(d.sum / float64(d.count)), filled: d.fresh}
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

// Of a household that was watched for a month or more, no more use is expected in any days than half as much again as it ever drew in as many, and no less than two
// thirds of the least; of a time longer than a third of that watched, the same at the pace of the third. Ours.
const (
	beyond  = 1.5
	monthly = 30 // days
)

// lasts is within how many days net grams are not used up, and within how many they are, as far as the days remembered tell: 0 and +Inf if they are too few.
func (d *days) lasts(net float64) (least, most float64) {
	if d.n < monthly || net <= 0 {
		return 0, math.Inf(1)
	}
	var date [keptDays]int
	var falls, used [keptDays]float64 // since the first day, without what a fill hid: all falls, and what is left of them by the rises; scatter makes both
	for i := range d.n {
		x := &d.ring[(d.next-d.n+i+keptDays)%keptDays]
		date[i] = int(x.Date.Unix() / 86400)
		if i > 0 && !x.filled {
			fell := float64(d.ring[(d.next-d.n+i-1+keptDays)%keptDays].Net - x.Net)
			falls[i], used[i] = falls[i-1]+max(fell, 0), used[i-1]+fell
		} else if i > 0 {
			falls[i], used[i] = falls[i-1], used[i-1]
		}
	}
	last := d.n - 1
	third := (date[last] - date[0]) / 3
	early := false // least is known
	for length, before := 1, 0; ; length, before = min(length+max(length/4, 1), third), length {
		much, little := 0.0, math.Inf(1)
		for i, j := 0, 0; date[i]+length <= date[last]; i++ {
			for j < last && date[j+1] <= date[i]+length {
				j++
			}
			much, little = max(much, falls[j]-falls[i]), min(little, used[j]-used[i])
		}
		if !early && beyond*much >= net {
			least, early = float64(before), true
		}
		if little >= beyond*net {
			return least, float64(length)
		}
		if length == third {
			if !early {
				least = float64(third) * net / max(beyond*much, 1)
			}
			return least, float64(third) * net * beyond / max(little, 0)
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
