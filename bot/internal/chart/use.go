package chart

import (
	"fmt"
	"image/color"
	"math"
	"slices"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"tarebell/bot/internal/notice"
	"tarebell/forecast/unit"
)

// Week is the gas that went in the seven days from Start.
type Week struct {
	Start time.Time
	Used  float64 // g
	Lost  float64 // g, without use
}

// UseData is what Use draws.
type UseData struct {
	Title, Subtitle string
	Now             time.Time
	Voice           notice.Voice
	Weeks           []Week // rising in time; the newest mostWeeks are drawn
}

// mostWeeks is how many bars are wide enough for a phone.
const mostWeeks = 16

// gutter is the room for words beside the newest bar, as a part of the room for the bars.
const gutter = 0.19

// Use draws the gas used per week, with what was lost on top in another colour. A week that is not over is paler.
func Use(d UseData) ([]byte, error) {
	if len(d.Weeks) == 0 {
		return nil, fmt.Errorf("the use per week: %w", ErrNothing)
	}
	d.Weeks = d.Weeks[max(0, len(d.Weeks)-mostWeeks):]
	b := newBars(d)
	n := float64(max(len(d.Weeks), 6))
	return picture{title: d.Title, subtitle: d.Subtitle, x0: -0.5, x1: n - 0.5 + n*gutter, y1: b.top, across: b.days(), up: b.ticks}.draw(b)
}

// bars is a UseData with its axis, as something the plot library can draw.
type bars struct {
	UseData
	sheet
	ticks []plot.Tick
	top   float64
}

func newBars(d UseData) *bars {
	b := &bars{UseData: d}
	b.Weeks = slices.Clone(d.Weeks)
	most := 1.0
	for i := range b.Weeks {
		w := &b.Weeks[i]
		w.Used, w.Lost = orZero(w.Used), orZero(w.Lost)
		most = math.Max(most, w.Used+w.Lost)
	}
	b.ticks, b.top = scaleFor(d.Voice.System, most).ticks(most)
	return b
}

func orZero(x float64) float64 {
	if x, ok := amount(x); ok {
		return x
	}
	return 0
}

// days names every so many weeks by their first day.
func (b *bars) days() (ticks []plot.Tick) {
	every := (len(b.Weeks) + 4) / 5
	for i := 0; i < len(b.Weeks); i += every {
		ticks = append(ticks, plot.Tick{Value: float64(i), Label: b.Voice.ShortDay(b.Weeks[i].Start)})
	}
	return ticks
}

// open reports that the week is not over.
func (b *bars) open(w Week) bool { return w.Start.In(b.Voice.Zone).AddDate(0, 0, 7).After(b.Now) }

// Plot implements plot.Plotter.
func (b *bars) Plot(c draw.Canvas, p *plot.Plot) {
	b.sheet = newSheet(c, p, b.ticks)
	for i, w := range b.Weeks {
		used := color.Color(blue)
		if b.open(w) {
			used = blueMid
		}
		b.bar(i, 0, w.Used, used)
		b.bar(i, w.Used, w.Used+w.Lost, alarm)
	}
	b.labels()
}

// bar fills one column between two masses.
func (b *bars) bar(i int, from, to float64, c color.Color) {
	if to <= from {
		return
	}
	l, r := b.sides(i)
	lo, hi := b.y(from), b.y(to)
	b.c.FillPolygon(c, []vg.Point{{X: l, Y: lo}, {X: r, Y: lo}, {X: r, Y: hi}, {X: l, Y: hi}})
}

func (b *bars) sides(i int) (left, right vg.Length) {
	const half = 0.36
	return b.x(float64(i) - half), b.x(float64(i) + half)
}

// labels names the greatest loss, the newest week, and the usual one.
func (b *bars) labels() {
	worst := 0
	for i, w := range b.Weeks {
		l, r := b.sides(i)
		mid, top := (l+r)/2, b.y(w.Used+w.Lost)
		b.board.avoid(vg.Point{X: mid, Y: b.c.Min.Y}, vg.Point{X: mid, Y: top - 6})
		if w.Lost > b.Weeks[worst].Lost {
			worst = i
		}
	}
	if w := b.Weeks[worst]; w.Lost > 0 {
		at := vg.Point{X: b.x(float64(worst)), Y: b.y(w.Used + w.Lost)}
		b.board.put(label{text: b.said(w.Lost) + " lost", style: bold(style(sizeMark, alarm)), at: at, gap: 4,
			try: []place{{0, 1, 0}, {1, 0, 16}, {-1, 0, 16}}})
	}
	usual, known := b.usual()
	if known {
		y := b.y(usual)
		b.c.StrokeLine2(draw.LineStyle{Color: ink, Width: 2, Dashes: []vg.Length{3, 5}}, b.c.Min.X, y, b.side(), y)
		b.beside(y, style(sizeMark, ink), b.said(usual), "usual")
	}
	last := b.Weeks[len(b.Weeks)-1]
	if b.open(last) {
		b.beside(b.y(last.Used), bold(style(sizeMark, blue)), b.said(last.Used), "so far")
	} else {
		b.beside(b.y(last.Used), bold(style(sizeMark, blue)), b.said(last.Used))
	}
}

func (b *bars) said(grams float64) string { return b.Voice.Small(unit.Grams(grams)) }

// side is where the bars end and the words beside them begin.
func (b *bars) side() vg.Length { return b.x(float64(len(b.Weeks)) - 0.5) }

// beside writes lines to the right of the bars at height y, moved up or down to where there is room.
func (b *bars) beside(y vg.Length, s text.Style, lines ...string) {
	h := s.Font.Size * 1.15
	block := h * vg.Length(len(lines))
	for _, shift := range []vg.Length{0, -10, 10, -20, 20, -30, 30, -45, 45, -60, 60, -75, 75} {
		top := min(max(y+shift+block/2, b.c.Min.Y+block), b.c.Max.Y+h/2)
		box := vg.Rectangle{Min: vg.Point{X: b.side(), Y: top - block}, Max: vg.Point{X: b.side() + 90, Y: top}}
		if !free(box, b.board.taken) {
			continue
		}
		for i, line := range lines {
			at := vg.Point{X: b.side() + 8, Y: top - h*(vg.Length(i)+0.5)}
			b.board.write(label{text: line, style: s}, at)
		}
		b.board.taken = append(b.board.taken, box)
		return
	}
}

// usual is the median of the weeks that are over, once there are enough of them.
func (b *bars) usual() (mid float64, ok bool) {
	const enough = 4
	var used []float64
	for _, w := range b.Weeks {
		if !b.open(w) {
			used = append(used, w.Used)
		}
	}
	if len(used) < enough {
		return 0, false
	}
	slices.Sort(used)
	return (used[len(used)/2] + used[(len(used)-1)/2]) / 2, true
}
