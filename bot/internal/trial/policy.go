package trial

import "math"

// bookingDay is when who knows the end books.
func (d *dweller) bookingDay() int {
	if d.planned != d.s.fills {
		d.planned, d.bookAt = d.s.fills, math.MaxInt
		for ahead := d.s.clone(); ahead.minute < d.end; ahead.tick(d.Home) {
			if ahead.drySince != never {
				d.bookAt = ahead.drySince - int((float64(d.lead)+d.margin)*day)
				break
			}
		}
	}
	return d.bookAt
}

// maker is plain arithmetic, once a day: gas left over mean use since the fill.
type maker struct {
	day, fill   int
	begun       bool
	at, gas     float64 // first of this fill
	last, lasts float64 // minute, gas
	past        float64 // g/minute of the fill before; 0: unknown
}

// see takes a weight and reports that it is time to book.
func (k *maker) see(h *Home, s *state, t int, gross, margin float64) bool {
	m, gas := float64(t), gross-h.tare-h.fit
	if gas <= -min(1000, h.net/2) || gas >= 1.15*h.net || k.begun && t/day == k.day {
		return false
	}
	k.day = t / day
	if !k.begun || k.fill != s.lastFill {
		if k.begun && k.last > k.at+day {
			k.past = (k.gas - k.lasts) / (k.last - k.at)
		}
		k.begun, k.fill, k.at, k.gas = true, s.lastFill, m, gas
	}
	k.last, k.lasts = m, gas
	use := k.past
	if m > k.at+3*day && k.gas > gas {
		use = (k.gas - gas) / (m - k.at)
	}
	return use > 0 && gas/use <= (float64(h.lead)+margin)*day
}
