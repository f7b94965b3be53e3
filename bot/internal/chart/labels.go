package chart

import (
	"image/color"
	"math"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// label is a word beside a mark. It is put at the first place where it hides nothing.
type label struct {
	text   string
	style  text.Style
	at     vg.Point // of the mark
	gap    vg.Length
	try    []place
	strict bool // never over a line or an area, rather away
	fixed  bool // never moved sideways to stay on the canvas: a place that does not fit is none
}

// place is where a label stands, as seen from its mark: -1 left or below, 0 centred, 1 right or above. One that is away
// is joined to the mark by a thin line.
type place struct {
	x, y float64
	away vg.Length
}

// board remembers what is taken by marks and words, which no label may hide, and by lines and areas, which
// none hides without need.
type board struct {
	canvas      draw.Canvas
	taken, busy []vg.Rectangle
}

// keep reserves room for a mark.
func (b *board) keep(at vg.Point, r vg.Length) { b.taken = append(b.taken, around(at, r)) }

// avoid asks labels to stay off the straight line between two points.
func (b *board) avoid(p, q vg.Point) {
	const step, r = 8, 5
	p, q = b.nearest(p), b.nearest(q)
	d := q.Sub(p)
	n := math.Ceil(math.Hypot(float64(d.X), float64(d.Y))/step) + 1
	for i := range int(n) + 1 {
		b.busy = append(b.busy, around(p.Add(d.Scale(vg.Length(float64(i)/n))), r))
	}
}

// nearest is the point of the canvas that is nearest to p.
func (b *board) nearest(p vg.Point) vg.Point {
	in := b.canvas.Rectangle
	return vg.Point{X: min(max(p.X, in.Min.X), in.Max.X), Y: min(max(p.Y, in.Min.Y), in.Max.Y)}
}

func around(at vg.Point, r vg.Length) vg.Rectangle {
	return vg.Rectangle{Min: vg.Point{X: at.X - r, Y: at.Y - r}, Max: vg.Point{X: at.X + r, Y: at.Y + r}}
}

// put writes l at its best place. When all are taken it stays away.
func (b *board) put(l label) bool {
	l.text = printable(l.text)
	for _, picky := range []bool{true, l.strict} {
		for _, p := range l.try {
			box := l.box(p)
			in := b.inside(box)
			if l.fixed && in.Min.X != box.Min.X || !free(in, b.taken) || picky && !free(in, b.busy) {
				continue
			}
			b.taken = append(b.taken, in)
			if p.away > 0 {
				b.lead(l.at, in)
			}
			b.write(l, vg.Point{X: in.Min.X, Y: (in.Min.Y + in.Max.Y) / 2})
			return true
		}
	}
	return false
}

func (l label) box(p place) vg.Rectangle {
	w, h := l.style.Width(l.text), l.style.Font.Size*1.1
	gap := l.gap + p.away
	x := l.at.X + vg.Length(p.x)*(w/2+gap) - w/2
	y := l.at.Y + vg.Length(p.y)*(h/2+gap) - h/2
	return vg.Rectangle{Min: vg.Point{X: x, Y: y}, Max: vg.Point{X: x + w, Y: y + h}}
}

// lead joins a mark with the nearest point of its label.
func (b *board) lead(at vg.Point, box vg.Rectangle) {
	x, y := min(max(at.X, box.Min.X), box.Max.X), min(max(at.Y, box.Min.Y), box.Max.Y)
	b.avoid(at, vg.Point{X: x, Y: y})
	b.canvas.StrokeLine2(draw.LineStyle{Color: soft, Width: 1.5}, at.X, at.Y, x, y)
}

func (b *board) inside(r vg.Rectangle) vg.Rectangle {
	in := b.canvas.Rectangle
	in.Min.Y += 4 // off the axis
	dx := max(in.Min.X-r.Min.X, 0) + min(in.Max.X-r.Max.X, 0)
	dy := max(in.Min.Y-r.Min.Y, 0) + min(in.Max.Y-r.Max.Y, 0)
	shift := vg.Point{X: dx, Y: dy}
	return vg.Rectangle{Min: r.Min.Add(shift), Max: r.Max.Add(shift)}
}

// free reports that r touches none of list.
func free(r vg.Rectangle, list []vg.Rectangle) bool {
	const air = 3
	for _, t := range list {
		if r.Min.X < t.Max.X+air && t.Min.X < r.Max.X+air && r.Min.Y < t.Max.Y && t.Min.Y < r.Max.Y {
			return false
		}
	}
	return true
}

// write draws text with a halo of paper, so that it can be read across lines and fills.
func (b *board) write(l label, at vg.Point) {
	s := l.style
	s.XAlign, s.YAlign = draw.XLeft, draw.YCenter
	halo := s
	halo.Color = color.NRGBA{paper.R, paper.G, paper.B, 0xd0}
	for _, d := range []vg.Point{{X: -2}, {X: 2}, {Y: -2}, {Y: 2}, {X: -1.4, Y: 1.4}, {X: 1.4, Y: 1.4}, {X: 1.4, Y: -1.4}, {X: -1.4, Y: -1.4}} {
		b.canvas.FillText(halo, at.Add(d), l.text)
	}
	b.canvas.FillText(s, at, l.text)
}
