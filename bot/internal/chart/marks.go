package chart

import (
	"image/color"
	"math"
	"time"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"tarebell/forecast/unit"
)

// marks draws the single moments, the most important first: a label that finds no room is left out.
func (v *view) marks() {
	if n := len(v.History); n > 0 { // its dot is drawn last, and hidden by nothing
		v.board.keep(v.point(v.History[n-1].At, v.History[n-1].Net), dotNow)
	}
	v.book()
	v.runOut()
	v.fade()
	v.now()
	v.filled()
}

func (v *view) day(t time.Time) string { return v.Voice.Around(t, v.Now) }

// dotNow is the size of the dot for now.
const dotNow = 7

// now is the present content, as a dot with its number.
func (v *view) now() {
	if len(v.History) == 0 {
		return
	}
	last := v.History[len(v.History)-1]
	at := v.point(last.At, last.Net)
	v.dot(at, dotNow, blue)
	v.board.put(label{text: v.Voice.Mass(unit.Grams(last.Net)) + " now", style: bold(style(sizeText, blue)), at: at, gap: 8,
		try: []place{{1, 1, 0}, {0.7, 1, 2}, {0.85, 1, 4}, {0.8, 1, 10}, {0.5, 1, 6}, {0, 1, 0}, {1, 0, 0}, {-1, -1, 0}, {0, -1, 0}, {-1, 1, 0}, {1, -1, 0}, {-0.5, 1, 26}, {-0.5, 1, 46}, {-1, 1, 30}, {-1, 1, 60}, {-1, 1, 90}}})
}

// runOut is a bar on the ground from the early to the late date, with a dot at the middle one.
func (v *view) runOut() {
	r := v.RunOut
	switch {
	case r.P50.IsZero() || r.P50.Sub(v.Now) < 12*time.Hour: // unknown, or the dot for now says it
		return
	case r.P50.After(v.to):
		at := vg.Point{X: v.c.Max.X, Y: v.c.Min.Y}
		v.board.put(label{text: "enough beyond " + v.to.In(v.Voice.Zone).Format("2006"), style: style(sizeMark, ink), at: at, gap: 8,
			try: []place{{-1, 1, 0}}})
		return
	}
	early, mid, late := v.point(r.P50, 0), v.point(r.P50, 0), v.point(r.P50, 0)
	if !r.P10.IsZero() {
		early.X = max(v.point(r.P10, 0).X, v.c.Min.X)
	}
	if !r.P90.IsZero() {
		late.X = min(v.point(r.P90, 0).X, v.c.Max.X)
	}
	v.c.StrokeLine2(draw.LineStyle{Color: ink, Width: 4}, early.X, mid.Y, late.X, mid.Y)
	v.dot(mid, 8, ink)
	l := label{text: "empty about " + v.day(r.P50), style: bold(style(sizeMark, ink)), at: early, gap: 10, fixed: true, try: []place{{-1, 0, 0}}}
	if !v.board.put(l) {
		l.at, l.fixed, l.try = mid, false, []place{{0, 1, 0}, {0, 1, 30}, {0, 1, 60}, {0, 1, 90}}
		v.board.put(l)
	}
}

// book is the last day to book, or the day that is booked.
func (v *view) book() {
	switch {
	case !v.Booked.IsZero():
		v.flag(v.Booked, soft, "refill "+v.day(v.Booked))
	case v.BookBy.IsZero():
	case v.BookBy.Before(v.Now):
		v.flag(v.Now, alarm, "book now")
	default:
		v.flag(v.BookBy, alarm, "book by "+v.day(v.BookBy))
	}
}

// flag is an upright line down to the middle path, with a word at its top.
func (v *view) flag(t time.Time, c color.Color, say string) {
	foot := v.point(t, v.middle(t))
	if len(v.Fan) == 0 {
		foot.Y = v.c.Min.Y // no path is known
	}
	if foot.X < v.c.Min.X || foot.X > v.c.Max.X {
		return
	}
	top := vg.Point{X: foot.X, Y: v.c.Max.Y}
	v.c.StrokeLine2(draw.LineStyle{Color: c, Width: 3}, foot.X, foot.Y, top.X, top.Y)
	v.dot(foot, 5, c)
	v.board.avoid(foot, top)
	v.board.put(label{text: say, style: bold(style(sizeMark, c)), at: vg.Point{X: top.X, Y: top.Y - 12}, gap: 9, fixed: true,
		try: []place{{1, 0, 0}, {-1, 0, 0}}})
}

// fade is where the fizz begins to fade, on the middle path.
func (v *view) fade() {
	t := v.LiquidDry
	if t.IsZero() || t.Sub(v.Now) < 12*time.Hour || t.After(v.to) { // or it fades already
		return
	}
	at := v.point(t, v.middle(t))
	v.dot(at, 5, blue)
	v.board.put(label{text: "fizz fades about " + v.day(t), style: style(sizeMark, ink), at: at, gap: 9, strict: true,
		try: []place{{1, 1, 0}, {1, 1, 22}, {1, 1, 44}, {1, 1, 66}, {1, 1, 90}, {0.5, 1, 60}, {0.5, 1, 100}, {0, 1, 30}, {0, 1, 60}, {0, 1, 90}, {-1, -1, 0}, {-1, -1, 6}, {-1, -1, 12}, {-1, -1, 18}, {-1, -1, 26}}})
}

// middle is the middle path at t, or the history before it.
func (v *view) middle(t time.Time) float64 {
	for i, b := range v.Fan {
		if i > 0 && b.At.After(t) {
			a := v.Fan[i-1]
			part := math.Max(0, float64(t.Sub(a.At))/float64(b.At.Sub(a.At)))
			return a.Net[p50] + part*(b.Net[p50]-a.Net[p50])
		}
	}
	if len(v.Fan) == 0 {
		return v.net(t)
	}
	return 0
}

// filled is the start of the present fill.
func (v *view) filled() {
	if v.Filled.Before(v.from) || v.Filled.After(v.to) {
		return
	}
	at := v.point(v.Filled, v.net(v.Filled))
	v.board.put(label{text: "filled", style: style(sizeMark, soft), at: at, gap: 6, try: []place{{-1, 0, 0}, {1, 0, 0}, {1, 1, 0}, {-1, 1, 0}, {-1, -1, 0}, {-1, -1, 12}}})
}

// dot is a round mark with a rim of paper.
func (v *view) dot(at vg.Point, r vg.Length, c color.Color) {
	v.disc(at, r+2.5, paper)
	v.disc(at, r, c)
	v.board.keep(at, r)
}
