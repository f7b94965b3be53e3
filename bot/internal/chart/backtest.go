package chart

import (
	"fmt"
	"image/color"
	"math"
	"slices"
	"strconv"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"tarebell/bot/internal/notice"
)

// Said is a forecast of the days to go, made at a time: quantiles, rising.
type Said struct {
	At            time.Time
	P10, P50, P90 float64
	Held          bool // what happened lies between P10 and P90
}

// Past is one fill: its days to go fell steadily to 0 at Until.
type Past struct {
	From, Until time.Time
	Said        []Said
}

// BacktestData is what Backtest draws.
type BacktestData struct {
	Title, Subtitle string
	Voice           notice.Voice
	Fills           []Past // rising in time; the newest mostFills are drawn
}

// mostFills is how many fills there is room for.
const mostFills = 8

// Backtest draws the days that were still to go as a line that falls to nothing with each fill, and each forecast as an
// upright span: one that the line crosses has held, one that it misses has another colour.
func Backtest(d BacktestData) ([]byte, error) {
	v := newHistory(d)
	if v.forecasts() == 0 {
		return nil, fmt.Errorf("forecasts and what happened: %w", ErrNothing)
	}
	return picture{title: d.Title, subtitle: d.Subtitle, x0: seconds(v.from), x1: seconds(v.to), y1: v.top,
		across: dates(v.from, v.to, d.Voice), up: v.ticks}.draw(v)
}

// history is a BacktestData with its axes, as something the plot library can draw.
type history struct {
	BacktestData
	sheet
	from, to time.Time
	top      float64 // days
	ticks    []plot.Tick
}

func newHistory(d BacktestData) *history {
	v := &history{BacktestData: d}
	v.Fills = drawable(v.Fills)
	v.Fills = v.Fills[max(0, len(v.Fills)-mostFills):]
	most := 0.0
	for i, f := range v.Fills {
		if i == 0 || f.From.Before(v.from) {
			v.from = f.From
		}
		if f.Until.After(v.to) {
			v.to = f.Until
		}
		most = math.Max(most, f.left(f.From))
	}
	late := 0.0 // spans may stick out by half of the longest fill, no more
	for _, f := range v.Fills {
		for _, s := range f.Said {
			late = math.Max(late, s.P90)
		}
	}
	v.days(math.Max(most, math.Min(late, 1.5*most)))
	v.to = v.to.Add(time.Duration(0.02 * float64(v.to.Sub(v.from))))
	return v
}

// drawable leaves out fills that took no time and forecasts that are no numbers.
func drawable(fills []Past) (out []Past) {
	for _, f := range fills {
		if !f.Until.After(f.From) {
			continue
		}
		f.Said = slices.DeleteFunc(slices.Clone(f.Said), func(s Said) bool { return math.IsNaN(s.P10 + s.P50 + s.P90) })
		out = append(out, f)
	}
	return out
}

// days are three to six round numbers from 0, the highest with its name, and the end of the axis.
func (v *history) days(most float64) {
	step := math.Max(1, roundStep(most/5))
	v.top = math.Max(1, 1.04*most)
	for x := 0.0; x <= v.top; x += step {
		v.ticks = append(v.ticks, plot.Tick{Value: x, Label: strconv.FormatFloat(x, 'f', 0, 64)})
	}
	v.ticks[len(v.ticks)-1].Label += " days"
}

func (v *history) forecasts() (n int) {
	for _, f := range v.Fills {
		n += len(f.Said)
	}
	return n
}

// left is how many days were to go at t.
func (f Past) left(t time.Time) float64 { return f.Until.Sub(t).Hours() / 24 }

func (v *history) point(t time.Time, days float64) vg.Point {
	return vg.Point{X: v.x(seconds(t)), Y: v.y(math.Min(math.Max(days, 0), v.top))}
}

// Plot implements plot.Plotter.
func (v *history) Plot(c draw.Canvas, p *plot.Plot) {
	v.sheet = newSheet(c, p, v.ticks)
	for _, f := range v.Fills {
		for _, s := range f.Said {
			v.span(s)
		}
	}
	for _, f := range v.Fills {
		v.line(f)
	}
	for _, f := range v.Fills {
		for _, s := range f.Said {
			v.middle(s)
		}
	}
	v.labels()
}

// line is what happened.
func (v *history) line(f Past) {
	a, b := v.point(f.From, f.left(f.From)), v.point(f.Until, 0)
	v.c.StrokeLine2(draw.LineStyle{Color: ink, Width: 2.5}, a.X, a.Y, b.X, b.Y)
	v.board.avoid(a, b)
}

func (s Said) colour() color.NRGBA {
	if s.Held {
		return blue
	}
	return alarm
}

// span is what was said: a bar from the early to the late date.
func (v *history) span(s Said) {
	lo, hi := v.point(s.At, s.P10), v.point(s.At, s.P90)
	c := blueMid
	if !s.Held {
		c = alarmMid
	}
	const half = 5
	v.c.FillPolygon(c, []vg.Point{{X: lo.X - half, Y: lo.Y}, {X: lo.X + half, Y: lo.Y}, {X: hi.X + half, Y: hi.Y}, {X: hi.X - half, Y: hi.Y}})
	v.board.avoid(lo, hi)
}

// alarmMid is for areas, which need less contrast than words.
var alarmMid = color.NRGBA{0xe8, 0xb3, 0x8c, 0xff}

// middle is the middle date.
func (v *history) middle(s Said) {
	if s.P50 > v.top {
		return
	}
	at := v.point(s.At, s.P50)
	v.disc(at, 5, s.colour())
	v.board.keep(at, 5)
}

// labels says what the marks are, beside the first of each kind.
func (v *history) labels() {
	around := []place{{1, 1, 0}, {1, 1, 14}, {1, 1, 30}, {1, 0, 10}, {1, 1, 50}, {0, 1, 10}, {-1, 1, 10}, {-1, 0, 10}, {0, -1, 10}, {-1, -1, 10}, {1, -1, 10}}
	v.mark(true, "said, 4 of 5", around)
	v.mark(false, "missed", around)
	for _, f := range v.Fills {
		mid := f.From.Add(f.Until.Sub(f.From) / 2)
		l := label{text: "what happened", style: style(sizeMark, ink), at: v.point(mid, f.left(mid)), gap: 6, try: append([]place{{-1, -1, 0}, {-1, -1, 12}, {-1, -1, 30}, {-1, -1, 55}}, around...)}
		if v.board.put(l) {
			return
		}
	}
}

// mark puts a word at the upper end of the first span that held or not, where there is room.
func (v *history) mark(held bool, text string, around []place) {
	for _, f := range v.Fills {
		for _, s := range f.Said {
			if s.Held != held {
				continue
			}
			l := label{text: text, style: bold(style(sizeMark, s.colour())), at: v.point(s.At, s.P90), gap: 6, try: around}
			if v.board.put(l) {
				return
			}
		}
	}
}
