package chart

import (
	"fmt"
	"image/color"
	"math"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"tarebell/bot/internal/notice"
)

// Point is what the cylinder held at a time.
type Point struct {
	At  time.Time
	Net float64 // g
}

// Spread is an uncertain moment. Zero times are unknown or too far away to tell.
type Spread struct{ P10, P50, P90 time.Time }

// Data is what Cylinder draws: gas that can be used, in g. Zero values are left out of the picture.
type Data struct {
	Title    string // what the picture shows, short
	Subtitle string // the answer, one line
	Now      time.Time
	Voice    notice.Voice // says dates and masses in the picture as the words under it do

	History   []Point // rising in time; one a day is plenty
	Filled    time.Time
	Fan       []Band // from now on, rising in time; see Fan. Without it no date to come is drawn but that of a booked refill
	BookBy    time.Time
	Booked    time.Time // the refill is booked for that day; BookBy is then left out
	LiquidDry time.Time // the pressure, and with it the fizz, begins to fade
	RunOut    Spread
}

// farthest is how far ahead the picture looks at most.
const farthest = 4 * 365 * 24 * time.Hour

// Cylinder draws what the cylinder held so far and what it may hold until it runs out.
func Cylinder(d Data) ([]byte, error) {
	d = d.finite()
	if len(d.History)+len(d.Fan) == 0 {
		return nil, fmt.Errorf("the gas in the cylinder: %w", ErrNothing)
	}
	v := newView(d)
	return v.picture().draw(v)
}

func (v *view) picture() picture {
	return picture{title: v.Title, subtitle: v.Subtitle, x0: seconds(v.from), x1: seconds(v.to), y1: v.top,
		across: dates(v.from, v.to, v.Voice), up: v.ticks}
}

// heaviest is the most gas that has a place on the axis, g: ten times the largest cylinder a household can move.
const heaviest = 1e6

// leastTop is the least that an axis reaches to, g: an empty cylinder is drawn as empty, not as some specks of gas.
const leastTop = 100.0

// amount is x on the axis; ok is false for what is no amount of gas.
func amount(x float64) (_ float64, ok bool) {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return 0, false
	}
	return math.Min(math.Max(x, 0), heaviest), true
}

// finite leaves out what is no amount and no past, and sets what lies beyond the axis to its end.
func (d Data) finite() Data {
	history, fan := d.History, d.Fan
	d.History, d.Fan = nil, nil
	for _, p := range history {
		if net, ok := amount(p.Net); ok && !p.At.IsZero() && !p.At.After(d.Now) {
			d.History = append(d.History, Point{p.At, net})
		}
	}
	for _, b := range fan {
		all := true
		for i, q := range b.Net {
			x, ok := amount(q)
			b.Net[i], all = x, all && ok
		}
		if all {
			d.Fan = append(d.Fan, b)
		}
	}
	return d
}

// view is a Data with its axes, as something the plot library can draw.
type view struct {
	Data
	sheet
	from, to time.Time
	top      float64
	ticks    []plot.Tick
}

func newView(d Data) *view {
	if len(d.Fan) == 0 { // it is too early to say, so no date is drawn either
		d.RunOut, d.LiquidDry = Spread{}, time.Time{}
		if d.BookBy.After(d.Now) {
			d.BookBy = time.Time{}
		}
	}
	v := &view{Data: d}
	v.from, v.to = d.Now, d.Now
	for _, b := range d.Fan {
		v.include(b.At)
	}
	for _, t := range []time.Time{d.BookBy, d.Booked, d.RunOut.P90} {
		v.include(t)
	}
	v.to = v.to.Add(max(v.to.Sub(d.Now)/25, 6*time.Hour))
	v.lookBack()
	most := leastTop
	for _, h := range v.History {
		most = math.Max(most, h.Net)
	}
	for _, b := range d.Fan {
		most = math.Max(most, b.Net[p90])
	}
	v.ticks, v.top = scaleFor(d.Voice.System, most).ticks(most)
	return v
}

// include widens the time axis to t, within reason.
func (v *view) include(t time.Time) {
	if t.After(v.to) && t.Sub(v.Now) <= farthest {
		v.to = t
	}
}

// lookBack starts the time axis where the history does, but shows of the past at most twice the time ahead (and at
// least six weeks): near the end, the end is what matters.
func (v *view) lookBack() {
	const shown, span = 42 * 24 * time.Hour, 2
	first := v.Now.AddDate(0, 0, -7)
	if len(v.History) > 0 {
		first = v.History[0].At
	}
	if len(v.Fan) > 0 {
		earliest := v.Now.Add(-max(span*v.to.Sub(v.Now), shown))
		if first.Before(earliest) {
			first = earliest
		}
	}
	least := v.to.AddDate(0, 0, -7)
	if len(v.Fan) == 0 {
		least = v.to.AddDate(0, 0, -1) // nothing is seen ahead, so nothing but the past fills the axis
	}
	if first.After(least) {
		first = least
	}
	v.from = first
	for len(v.History) > 1 && v.History[1].At.Before(first) {
		v.History = v.History[1:]
	}
}

func (v *view) point(t time.Time, net float64) vg.Point {
	return vg.Point{X: v.x(seconds(t)), Y: v.y(net)}
}

// Plot implements plot.Plotter.
func (v *view) Plot(c draw.Canvas, p *plot.Plot) {
	v.sheet = newSheet(c, p, v.ticks)
	v.band(bluePale, p10, p90)
	v.band(blueMid, p25, p75)
	v.median()
	v.past()
	v.marks()
}

// band fills the fan between two quantiles.
func (v *view) band(c color.Color, from, to int) {
	n := len(v.Fan)
	if n < 2 {
		return
	}
	poly := make([]vg.Point, 2*n)
	for i, b := range v.Fan {
		poly[i], poly[2*n-1-i] = v.point(b.At, b.Net[to]), v.point(b.At, b.Net[from])
	}
	v.c.FillPolygon(c, v.c.ClipPolygonXY(poly))
}

func (v *view) median() {
	var line []vg.Point
	for _, b := range v.Fan {
		line = append(line, v.point(b.At, b.Net[p50]))
		v.board.avoid(v.point(b.At, b.Net[p10]), v.point(b.At, b.Net[p90]))
	}
	v.c.StrokeLines(draw.LineStyle{Color: blue, Width: 2.5, Dashes: []vg.Length{8, 6}}, v.c.ClipLinesXY(line)...)
}

func (v *view) past() {
	var line []vg.Point
	for _, h := range v.History {
		line = append(line, v.point(h.At, h.Net))
	}
	for _, part := range v.c.ClipLinesXY(line) {
		v.c.StrokeLines(draw.LineStyle{Color: blue, Width: 4}, part)
		for i := range part[1:] {
			v.board.avoid(part[i], part[i+1])
		}
	}
}

// net is what the history says for t.
func (v *view) net(t time.Time) float64 {
	last := 0.0
	for _, h := range v.History {
		if last = h.Net; !h.At.Before(t) {
			break
		}
	}
	return last
}
