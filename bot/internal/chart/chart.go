// Package chart draws the pictures under a notice: state in, PNG out.
//
// A picture is a card with its own light background, so that it reads the same in a dark and in a light
// chat, and is drawn for a phone: 800 by 500 pixels shown about half as wide. What a mark means is written beside
// it instead of in a legend. The same input gives the same bytes.
//
// Colours are blue and vermilion of the set by Okabe and Ito (2008, "Color Universal Design"), which people with the
// common colour vision deficiencies can tell apart, darkened where they carry text.
package chart

import (
	"errors"
	"image/color"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Size of every picture in pixels.
const (
	Width  = 800
	Height = 500
)

// ErrNothing is the error for a picture that would be empty.
var ErrNothing = errors.New("nothing to draw")

// picture is something the plot library can draw, with its axes.
type picture struct {
	title, subtitle string
	x0, x1, y1      float64 // where the axes begin and end; masses and days begin at 0
	across, up      []plot.Tick
}

// draw makes the picture of what p draws.
func (a picture) draw(p plot.Plotter) ([]byte, error) {
	k := newCard()
	room := k.heading(a.title, a.subtitle)
	f := a.frame()
	f.Add(p)
	f.Draw(room)
	return k.png()
}

// sheet is where a picture draws its marks: a canvas with the places of its axes, and what is taken there.
type sheet struct {
	c     draw.Canvas
	x, y  func(float64) vg.Length
	board board
}

// newSheet is that of a plot, with a line at every tick but that of the ground.
func newSheet(c draw.Canvas, p *plot.Plot, ticks []plot.Tick) sheet {
	s := sheet{c: c, board: board{canvas: c}}
	s.x, s.y = p.Transforms(&c)
	for _, t := range ticks[1:] {
		y := s.y(t.Value)
		c.StrokeLine2(draw.LineStyle{Color: grid, Width: 1.5}, c.Min.X, y, c.Max.X, y)
	}
	return s
}

// disc fills a circle.
func (s *sheet) disc(at vg.Point, r vg.Length, c color.Color) {
	var p vg.Path
	p.Move(vg.Point{X: at.X + r, Y: at.Y})
	p.Arc(at, r, 0, 2*math.Pi)
	p.Close()
	s.c.SetColor(c)
	s.c.Fill(p)
}
