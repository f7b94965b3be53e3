package chart

import (
	"fmt"
	"image/color"
	"math"
	"slices"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"tarebell/bot/internal/notice"
)

// Forecast is one of the days to go, made at a time: quantiles, rising.
type Forecast struct {
	At            time.Time
	P10, P50, P90 float64
	Held          bool // what happened lies between P10 and P90
}

// Fill is one that is over: its days to go fell steadily to 0 at Until.
type Fill struct {
	From, Until time.Time
	Forecasts   []Forecast
}

// BacktestData is what Backtest draws.
type BacktestData struct {
	Title, Subtitle string
	Voice           notice.Voice
	Fills           []Fill // rising in time; the newest mostFills are drawn
}

// mostFills is how many fills there is room for.
const mostFills = 8

// Backtest draws the days that were still to go as a line that falls to nothing with each fill, and each forecast as an
// upright span: one that the line crosses has held, one that it misses has another colour.
func Backtest(d BacktestData) ([]byte, error) {
	v := newHistory(d)
	if len(v.forecasts) == 0 {
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

	forecasts []Forecast // of all fills
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
		v.forecasts = append(v.forecasts, f.Forecasts...)
	}
	late := 0.0 // spans may stick out by half of the longest fill, no more
	for _, s := range v.forecasts {
		late = math.Max(late, s.P90)
	}
	most = math.Max(most, math.Min(late, 1.5*most))
	v.top = math.Max(1, 1.04*most)
	v.ticks = ticksTo(v.top, math.Max(1, roundStep(most/5)), 1, "days")
	v.to = v.to.Add(time.Duration(0.02 * float64(v.to.Sub(v.from))))
	return v
}

// drawable leaves out fills that took no time and forecasts that are no numbers.
func drawable(fills []Fill) (out []Fill) {
	for _, f := range fills {
		if !f.Until.After(f.From) {
			continue
		}
		f.Forecasts = slices.DeleteFunc(slices.Clone(f.Forecasts), func(s Forecast) bool { return math.IsNaN(s.P10 + s.P50 + s.P90) })
		out = append(out, f)
	}
	return out
}

// left is how many days were to go at t.
func (f Fill) left(t time.Time) float64 { return f.Until.Sub(t).Hours() / 24 }

func (v *history) point(t time.Time, days float64) vg.Point {
	return vg.Point{X: v.x(seconds(t)), Y: v.y(math.Min(math.Max(days, 0), v.top))}
}

// Plot implements plot.Plotter.
func (v *history) Plot(c draw.Canvas, p *plot.Plot) {
	v.sheet = newSheet(c, p, v.ticks)
	for _, s := range v.forecasts {
		v.span(s)
	}
	for _, f := range v.Fills {
		v.line(f)
	}
	for _, s := range v.forecasts {
		v.middle(s)
	}
	v.labels()
}

// line is what happened.
func (v *history) line(f Fill) {
	a, b := v.point(f.From, f.left(f.From)), v.point(f.Until, 0)
	v.c.StrokeLine2(draw.LineStyle{Color: ink, Width: 2.5}, a.X, a.Y, b.X, b.Y)
	v.board.avoid(a, b)
}

func (s Forecast) colour() color.NRGBA {
	if s.Held {
		return blue
	}
	return alarm
}

// span is what was said: a bar from the early to the late date.
func (v *history) span(s Forecast) {
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
func (v *history) middle(s Forecast) {
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
	for _, s := range v.forecasts {
		l := label{text: text, style: bold(style(sizeMark, s.colour())), at: v.point(s.At, s.P90), gap: 6, try: around}
		if s.Held == held && v.board.put(l) {
			return
		}
	}
}
