package chart

import (
	"bytes"
	"fmt"
	"image/color"
	"image/png"
	"math"
	"sort"
	"strings"
	"sync"

	stdfont "golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/font/liberation"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
)

// The palette. Contrast to paper after WCAG 2.2, 1.4.3: ink 14:1, soft 6:1, blue 6:1, alarm 5:1.
var (
	paper    = color.NRGBA{0xfb, 0xfa, 0xf7, 0xff}
	edge     = color.NRGBA{0xc9, 0xcf, 0xd4, 0xff}
	grid     = color.NRGBA{0xe4, 0xe6, 0xe6, 0xff}
	ink      = color.NRGBA{0x1d, 0x2a, 0x35, 0xff}
	soft     = color.NRGBA{0x55, 0x63, 0x6e, 0xff}
	blue     = color.NRGBA{0x00, 0x65, 0x9e, 0xff}
	blueMid  = color.NRGBA{0x9c, 0xc6, 0xe0, 0xff}
	bluePale = color.NRGBA{0xd3, 0xe6, 0xf1, 0xff}
	alarm    = color.NRGBA{0xb8, 0x4a, 0x00, 0xff}
)

// Sizes of text in pixels. At phone size 20 is about 10, the least that is read without effort.
const (
	sizeTitle = 30
	sizeText  = 21
	sizeMark  = 20
)

// dpi makes a point of the plot library one pixel.
const dpi = 72

const (
	margin = 26
	corner = 20
)

// fonts has the one family that is drawn with, on top of the library's own defaults.
var fonts = sync.OnceValue(func() *font.Cache { return font.NewCache(liberation.Collection()) })

func face(size float64, weight stdfont.Weight) font.Font {
	return font.Font{Typeface: "Liberation", Variant: "Sans", Size: vg.Length(size), Weight: weight}
}

func style(size float64, c color.Color) text.Style {
	return text.Style{Color: c, Font: face(size, stdfont.WeightNormal), Handler: text.Plain{Fonts: fonts()}}
}

func bold(s text.Style) text.Style {
	s.Font.Weight = stdfont.WeightBold
	return s
}

// card is a picture in the making.
type card struct {
	canvas *vgimg.Canvas
	draw.Canvas
}

func newCard() *card {
	c := vgimg.NewWith(vgimg.UseWH(Width, Height), vgimg.UseDPI(dpi), vgimg.UseBackgroundColor(color.Transparent))
	k := &card{canvas: c, Canvas: draw.New(c)}
	k.round(edge, 0)
	k.round(paper, 1.5)
	return k
}

// round fills the card up to inset from its border.
func (k *card) round(c color.Color, inset vg.Length) {
	const r = corner
	l, b, w, h := inset, inset, Width-inset, Height-inset
	var p vg.Path
	p.Move(vg.Point{X: l + r, Y: b})
	p.Line(vg.Point{X: w - r, Y: b})
	p.Arc(vg.Point{X: w - r, Y: b + r}, r, -math.Pi/2, math.Pi/2)
	p.Arc(vg.Point{X: w - r, Y: h - r}, r, 0, math.Pi/2)
	p.Arc(vg.Point{X: l + r, Y: h - r}, r, math.Pi/2, math.Pi/2)
	p.Arc(vg.Point{X: l + r, Y: b + r}, r, math.Pi, math.Pi/2)
	p.Close()
	k.SetColor(c)
	k.Fill(p)
}

// heading writes title and subtitle and returns the room below them.
func (k *card) heading(title, subtitle string) draw.Canvas {
	y := vg.Length(Height - margin)
	first, second := wrap(subtitle, style(sizeText, soft), Width-2*margin)
	for _, line := range []struct {
		text  string
		style text.Style
		gap   vg.Length
	}{{title, bold(style(sizeTitle, ink)), 8}, {first, style(sizeText, soft), 4}, {second, style(sizeText, soft), 4}} {
		if line.text == "" {
			continue
		}
		s := line.style
		s.YAlign = draw.YTop
		k.FillText(s, vg.Point{X: margin, Y: y}, shorten(line.text, s, Width-2*margin))
		y -= s.Font.Size + line.gap
	}
	return draw.Crop(k.Canvas, margin-4, -margin, margin-8, -(Height-y)-14)
}

// png encodes the picture.
func (k *card) png() ([]byte, error) {
	var b bytes.Buffer
	if err := png.Encode(&b, k.canvas.Image()); err != nil {
		return nil, fmt.Errorf("encoding the chart: %w", err)
	}
	return b.Bytes(), nil
}

// frame is an empty plot in our style.
func (a picture) frame() *plot.Plot {
	p := plot.New()
	p.X.Min, p.X.Max, p.Y.Max = a.x0, a.x1, a.y1
	p.X.Tick.Marker, p.Y.Tick.Marker = plot.ConstantTicks(a.across), plot.ConstantTicks(a.up)
	p.BackgroundColor = nil
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Padding = 0
		a.Width = 0
		a.Tick.Length, a.Tick.Width, a.Tick.Color = 7, 1, color.Transparent // room between axis and label
		a.Tick.Label = style(sizeMark, soft)
	}
	p.X.Tick.Label.XAlign, p.X.Tick.Label.YAlign = draw.XCenter, draw.YTop
	p.Y.Tick.Label.XAlign, p.Y.Tick.Label.YAlign = draw.XRight, draw.YCenter
	p.X.Width, p.X.Color = 1.5, soft
	return p
}

// wrap breaks text that is wider than a line at a blank; the second part is empty if there is none.
func wrap(s string, sty text.Style, width vg.Length) (first, second string) {
	s = printable(s)
	words := strings.Fields(s)
	for n := len(words); n > 0; n-- {
		if first = strings.Join(words[:n], " "); sty.Width(first) <= width {
			return first, strings.Join(words[n:], " ")
		}
	}
	return s, ""
}

// shorten cuts text to a width in pixels, after dropping what the font cannot show.
func shorten(s string, sty text.Style, width vg.Length) string {
	s = printable(s)
	if sty.Width(s) <= width {
		return s
	}
	r := []rune(s)
	cut := func(n int) string { return strings.TrimSpace(string(r[:n])) + "…" }
	tooLong := sort.Search(len(r), func(n int) bool { return sty.Width(cut(n)) > width })
	return cut(max(tooLong-1, 0))
}

// printable drops characters the font has no picture for, such as emoji in a cylinder's name.
func printable(s string) string {
	f := fonts().Lookup(face(sizeText, stdfont.WeightNormal), sizeText).Face
	var buf sfnt.Buffer
	kept := strings.Map(func(r rune) rune {
		if r == '\n' || r == '\t' {
			return ' '
		}
		if i, err := f.GlyphIndex(&buf, r); err != nil || i == 0 || r < ' ' {
			return -1
		}
		return r
	}, s)
	return strings.Join(strings.Fields(kept), " ")
}
