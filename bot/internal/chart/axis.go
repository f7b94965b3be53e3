package chart

import (
	"math"
	"strconv"
	"time"

	"gonum.org/v1/plot"

	"tarebell/bot/internal/notice"
	"tarebell/forecast/unit"
)

// scale is the unit of a mass axis.
type scale struct {
	grams float64
	unit  string
}

// scaleFor picks the unit in which most, in g, is a number of ordinary size.
func scaleFor(system unit.System, most float64) scale {
	switch {
	case system == unit.US && most < 2*unit.GramsPerPound:
		return scale{unit.GramsPerOunce, "oz"}
	case system == unit.US:
		return scale{unit.GramsPerPound, "lb"}
	case most <= 1000:
		return scale{1, "g"}
	}
	return scale{1000, "kg"}
}

// ticks are three to six round values from 0, in g, and the end of an axis with some air above most. The highest
// names the unit.
func (s scale) ticks(most float64) (ticks []plot.Tick, end float64) {
	const air = 1.08
	end = air * most
	return ticksTo(end, s.grams*roundStep(most/s.grams/5), s.grams, s.unit), end
}

// ticksTo are the multiples of step from 0 to end, in a unit of some size that the highest names.
func ticksTo(end, step, size float64, unit string) (ticks []plot.Tick) {
	for x := 0.0; x <= end/size; x += step / size {
		ticks = append(ticks, plot.Tick{Value: x * size, Label: strconv.FormatFloat(x, 'f', decimals(step/size), 64)})
	}
	ticks[len(ticks)-1].Label += " " + unit
	return ticks
}

// roundStep is the next of 1, 2, 5 times a power of ten that is not below x.
func roundStep(x float64) float64 {
	if !(x > 0) {
		return 1
	}
	p := math.Pow(10, math.Floor(math.Log10(x)))
	for _, m := range []float64{1, 2, 5} {
		if m*p >= x*(1-1e-9) {
			return m * p
		}
	}
	return 10 * p
}

func decimals(step float64) int { return max(0, -int(math.Floor(math.Log10(step)+1e-9))) }

// calendar is a way to divide a time axis: a number of days (from a Monday), months or years.
type calendar struct{ days, months int }

var calendars = []calendar{{days: 1}, {days: 2}, {days: 7}, {days: 14}, {months: 1}, {months: 2}, {months: 3}, {months: 6},
	{months: 12}, {months: 24}, {months: 60}, {months: 120}, {months: 240}}

// dates are at most five ticks from a to b on midnights of the household's zone, on the finest division that allows it.
func dates(a, b time.Time, v notice.Voice) []plot.Tick {
	const most = 5
	for _, c := range calendars {
		if list := c.between(a.In(v.Zone), b.In(v.Zone), most); list != nil {
			return c.label(list, v)
		}
	}
	return nil
}

// between lists the divisions in [a, b], nil if they are more than most.
func (c calendar) between(a, b time.Time, most int) (list []time.Time) {
	y, m, d := a.Date()
	monday, month := d-(int(a.Weekday())+6)%7, y*12+int(m)-1
	for i := 0; len(list) <= most; i++ {
		t := time.Date(y, m, monday+i*c.days, 0, 0, 0, 0, a.Location())
		if c.months > 0 {
			t = time.Date(0, time.Month((month/c.months+i)*c.months+1), 1, 0, 0, 0, 0, a.Location())
		}
		if t.After(b) {
			return list
		}
		if !t.Before(a) {
			list = append(list, t)
		}
	}
	return nil
}

// label names the divisions; the first, and the first of a year, carries the year where months are named.
func (c calendar) label(list []time.Time, v notice.Voice) (ticks []plot.Tick) {
	for i, t := range list {
		label := v.ShortDay(t)
		switch {
		case c.months >= 12:
			label = strconv.Itoa(t.Year())
		case c.months > 0 && (i == 0 || t.Year() != list[i-1].Year()):
			label = t.Format("Jan 2006")
		case c.months > 0:
			label = t.Format("Jan")
		}
		ticks = append(ticks, plot.Tick{Value: seconds(t), Label: label})
	}
	return ticks
}

// seconds places a time on an axis.
func seconds(t time.Time) float64 { return float64(t.UnixMilli()) / 1000 }
