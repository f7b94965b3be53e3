package chart

import (
	"bytes"
	"errors"
	"flag"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg/draw"
	"pgregory.net/rapid"

	"tarebell/bot/internal/notice"
	"tarebell/forecast/unit"
)

func decode(tb testing.TB, data []byte, err error) image.Image {
	tb.Helper()
	if err != nil {
		tb.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		tb.Fatal(err)
	}
	if s := img.Bounds().Size(); s != (image.Point{X: Width, Y: Height}) {
		tb.Fatalf("size %v", s)
	}
	return img
}

// near reports that a pixel has that colour up to rounding.
func near(got, want color.NRGBA) bool {
	d := func(a, b uint8) int { return max(int(a)-int(b), int(b)-int(a)) }
	return d(got.A, want.A) < 8 && d(got.R, want.R) < 8 && d(got.G, want.G) < 8 && d(got.B, want.B) < 8
}

// count is how many pixels of r have that colour.
func count(img image.Image, r image.Rectangle, c color.NRGBA) (n int) {
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			if near(at(img, x, y), c) {
				n++
			}
		}
	}
	return n
}

// at is the colour of a pixel.
func at(img image.Image, x, y int) color.NRGBA {
	return color.NRGBAModel.Convert(img.At(x, y)).(color.NRGBA)
}

var pictures = flag.String("pictures", "", "a folder to write the samples to, to be looked at")

// Every sample decodes, has its size, a card with round transparent corners, room at its border, and text in its title.
func TestSamples(t *testing.T) {
	for name, draw := range samples() {
		data, err := draw()
		img := decode(t, data, err)
		if *pictures != "" {
			if err := os.WriteFile(filepath.Join(*pictures, name+".png"), data, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		for _, p := range []image.Point{{0, 0}, {Width - 1, 0}, {0, Height - 1}, {Width - 1, Height - 1}} {
			if a := at(img, p.X, p.Y).A; a != 0 {
				t.Errorf("%s: corner %v has alpha %d, want 0", name, p, a)
			}
		}
		if got := at(img, 12, Height/2); !near(got, paper) {
			t.Errorf("%s: border %v, want paper", name, got)
		}
		border := image.Rect(6, 30, 14, Height-30)
		if n := count(img, border, paper); n != border.Dx()*border.Dy() {
			t.Errorf("%s: something is drawn into the border (%d of %d pixels are paper)", name, n, border.Dx()*border.Dy())
		}
		if n := count(img, image.Rect(20, 20, 400, 60), ink); n < 300 {
			t.Errorf("%s: %d dark pixels in the title", name, n)
		}
		if len(data) > 120_000 {
			t.Errorf("%s: %d bytes", name, len(data))
		}
	}
}

func TestSameBytes(t *testing.T) {
	d := flat(150, 45, 10000, 30)
	want, err := Cylinder(d)
	if err != nil {
		t.Fatal(err)
	}
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			if got, err := Cylinder(d); err != nil || !bytes.Equal(got, want) {
				t.Errorf("another picture from the same data (%d and %d bytes), %v", len(want), len(got), err)
			}
		})
	}
	wg.Wait()
}

// locate finds where a time and a mass lie in the picture of d, with the library's own transformation.
func locate(t *testing.T, d Data) func(at time.Time, net float64) image.Point {
	t.Helper()
	v := newView(d.finite())
	k := newCard()
	room := k.heading(d.Title, d.Subtitle)
	p := v.picture().frame()
	var probe probe
	p.Add(&probe)
	p.Draw(room)
	return func(at time.Time, net float64) image.Point {
		x, y := p.Transforms(&probe.c)
		return image.Point{X: int(x(seconds(at))), Y: Height - 1 - int(y(net))}
	}
}

type probe struct{ c draw.Canvas }

func (p *probe) Plot(c draw.Canvas, _ *plot.Plot) { p.c = c }

// What is drawn stands where the data say.
func TestCylinderPixels(t *testing.T) {
	now := sampleNow
	d := Data{Title: "t", Subtitle: "s", Now: now, Voice: notice.Voice{Zone: vienna}, BookBy: now.AddDate(0, 0, 12)}
	for i := -40; i <= 0; i++ {
		d.History = append(d.History, Point{now.AddDate(0, 0, i), 5000 - 50*float64(i)})
	}
	days := Quantiles{20, 25, 30, 35, 40}
	d.Fan = Fan(now, Quantiles{5000, 5000, 5000, 5000, 5000}, days, farthest)
	d.RunOut = Spread{in(20), in(30), in(40)}
	data, err := Cylinder(d)
	img := decode(t, data, err)
	where := locate(t, d)
	day := func(n float64) time.Time { return in(n) }
	for _, c := range []struct {
		name  string
		at    image.Point
		want  color.NRGBA
		found bool
	}{
		{"history, early", where(day(-30), 6500), blue, true},
		{"history, late", where(day(-10), 5500), blue, true},
		{"not above it", where(day(-20), 6500), blue, false},
		{"not below it", where(day(-20), 5000), blue, false},
		{"now", where(now, 5000), blue, true},
		{"inner band", where(day(15), 2350), blueMid, true},
		{"inner band, upper half", where(day(15), 2700), blueMid, true},
		{"outer band, low", where(day(15), 1600), bluePale, true},
		{"outer band, high", where(day(15), 2950), bluePale, true},
		{"beyond the fan, low", where(day(15), 900), bluePale, false},
		{"beyond the fan, high", where(day(15), 3700), bluePale, false},
		{"book by", where(day(12), 5500), alarm, true},
		{"book by, a day off", where(day(11), 5500), alarm, false},
		{"run-out", where(day(30), 0), ink, true},
		{"run-out, early end", where(day(21), 0), ink, true},
		{"run-out, late end", where(day(39), 0), ink, true},
		{"run-out, after", where(day(40.9), 0), ink, false},
	} {
		if got := count(img, image.Rectangle{Min: c.at, Max: c.at.Add(image.Pt(1, 1))}.Inset(-2), c.want) > 0; got != c.found {
			t.Errorf("%s: at %v the colour %v is there: %t, want %t; pixel %v", c.name, c.at, c.want, got, c.found, at(img, c.at.X, c.at.Y))
		}
	}
}

// A bar for the loss stands on that for the use; without losses the alarming colour is nowhere.
func TestUsePixels(t *testing.T) {
	all := image.Rect(0, 80, Width, Height)
	loss, err := Use(sampleWeeks(16, 0, 0, 0, 0, 0, 0, 0, 0, 580))
	img := decode(t, loss, err)
	left, right := image.Rect(100, 80, 380, Height), image.Rect(430, 80, Width, Height)
	if n := count(img, all, alarm); n < 2000 {
		t.Errorf("%d pixels of the loss", n)
	}
	if n := count(img, left.Union(right), alarm) - count(img, image.Rect(380, 80, 430, Height), alarm); n > 800 {
		t.Errorf("%d pixels of the loss outside its week", n)
	}
	none, err := Use(sampleWeeks(16))
	img = decode(t, none, err)
	if n := count(img, all, alarm); n != 0 {
		t.Errorf("%d alarming pixels without a loss", n)
	}
	if n := count(img, all, blueMid); n < 500 {
		t.Errorf("the week that goes on has %d pixels", n)
	}
}

// Contrast after WCAG 2.2, relative luminance and 1.4.3: 4.5 for text, 3 for large text and graphics; 1.4.11.
func TestContrast(t *testing.T) {
	for name, c := range map[string]color.NRGBA{"ink": ink, "soft": soft, "blue": blue, "alarm": alarm} {
		if r := contrast(c, paper); r < 4.5 {
			t.Errorf("%s on paper: %.1f, want 4.5", name, r)
		}
	}
	if r := contrast(blueMid, bluePale); r < 1.25 {
		t.Errorf("the bands differ by %.2f only", r)
	}
	if r := contrast(color.NRGBA{255, 255, 255, 255}, color.NRGBA{A: 255}); math.Abs(r-21) > 1e-9 {
		t.Errorf("white on black: %v, want 21 (WCAG's own example)", r)
	}
}

func contrast(a, b color.NRGBA) float64 {
	lum := func(c color.NRGBA) float64 {
		f := func(v uint8) float64 {
			x := float64(v) / 255
			if x <= 0.04045 {
				return x / 12.92
			}
			return math.Pow((x+0.055)/1.055, 2.4)
		}
		return 0.2126*f(c.R) + 0.7152*f(c.G) + 0.0722*f(c.B)
	}
	hi, lo := max(lum(a), lum(b)), min(lum(a), lum(b))
	return (hi + 0.05) / (lo + 0.05)
}

// TestNoDateBeforeItsTime: without a forecast no date to come is drawn, and none for what is over already; dates are no finer
// than in words.
func TestNoDateBeforeItsTime(t *testing.T) {
	same := func(why string, a, b Data) {
		t.Helper()
		x, err1 := Cylinder(a)
		y, err2 := Cylinder(b)
		if err1 != nil || err2 != nil || !bytes.Equal(x, y) {
			t.Errorf("%s: the pictures differ (%v, %v)", why, err1, err2)
		}
	}
	early := flat(100, 45, 9000, 0)
	early.Fan = nil
	bare := early
	bare.RunOut, bare.LiquidDry, bare.BookBy = Spread{}, time.Time{}, time.Time{}
	same("too early to say", early, bare)
	fading := flat(100, 45, 9000, 0)
	fading.LiquidDry = sampleNow
	bare = fading
	bare.LiquidDry = time.Time{}
	same("it fades already", fading, bare)
	v := newView(flat(100, 45, 9000, 0))
	for days, want := range map[float64]string{9: "Tue 3 Nov", 59: "Wed 23 Dec", 75: "early January 2027", 300: "August 2027"} {
		if got := v.day(in(days)); got != want {
			t.Errorf("in %v days: %q, want %q", days, got, want)
		}
	}
}

func TestNothing(t *testing.T) {
	if _, err := Cylinder(Data{}); !errors.Is(err, ErrNothing) {
		t.Errorf("Cylinder: %v", err)
	}
	if _, err := Cylinder(Data{History: []Point{{sampleNow, math.NaN()}}}); !errors.Is(err, ErrNothing) {
		t.Errorf("Cylinder of NaN: %v", err)
	}
	if _, err := Use(UseData{}); !errors.Is(err, ErrNothing) {
		t.Errorf("Use: %v", err)
	}
}

// Whatever comes in, a picture comes out.
func TestAnything(t *testing.T) {
	checks := flag.Lookup("rapid.checks").Value
	if checks.String() == "100" { // the default, of pictures that take a while
		defer func() { _ = checks.Set("100") }()
		_ = checks.Set("25")
	}
	number := rapid.OneOf(rapid.Float64Range(-1, 5e4), rapid.SampledFrom([]float64{0, math.NaN(), math.Inf(1), math.Inf(-1), 1e300, -1e300}))
	rapid.Check(t, func(t *rapid.T) {
		moment := func(name string) time.Time {
			if rapid.Bool().Draw(t, name) {
				return time.Time{}
			}
			return sampleNow.Add(time.Duration(rapid.Int64Range(-1e18, 1e18).Draw(t, name)))
		}
		d := Data{Title: rapid.String().Draw(t, "title"), Subtitle: strings.Repeat(rapid.String().Draw(t, "subtitle"), 9), Now: sampleNow,
			Voice: notice.Voice{Zone: time.UTC, System: rapid.SampledFrom([]unit.System{unit.Metric, unit.US}).Draw(t, "units")}, BookBy: moment("book"), Booked: moment("booked"),
			Filled: moment("fill"), LiquidDry: moment("dry"), RunOut: Spread{moment("p10"), moment("p50"), moment("p90")}}
		for range rapid.IntRange(0, 3).Draw(t, "points") {
			d.History = append(d.History, Point{moment("at"), number.Draw(t, "net")})
		}
		q := func() Quantiles {
			return Quantiles{number.Draw(t, "a"), number.Draw(t, "b"), number.Draw(t, "c"), number.Draw(t, "d"), number.Draw(t, "e")}
		}
		d.Fan = Fan(d.Now, q(), q(), farthest)
		if data, err := Cylinder(d); err == nil {
			if _, err := png.Decode(bytes.NewReader(data)); err != nil {
				t.Fatal(err)
			}
		} else if !errors.Is(err, ErrNothing) {
			t.Fatal(err)
		}
	})
}

func TestFan(t *testing.T) {
	net, days := Quantiles{4900, 4950, 5000, 5050, 5100}, Quantiles{50, 60, 70, 80, 100}
	fan := Fan(sampleNow, net, days, farthest)
	first, last := fan[0], fan[len(fan)-1]
	if first.Net != net || !first.At.Equal(sampleNow) {
		t.Errorf("begins with %+v", first)
	}
	if !last.At.Equal(in(100)) || last.Net != (Quantiles{}) {
		t.Errorf("ends with %+v", last)
	}
	for _, b := range fan {
		if !slices.IsSorted(b.Net[:]) {
			t.Errorf("the quantiles cross: %+v", b)
		}
	}
	// The middle path is at its middle half way.
	if got := path(5000, 70, 35); math.Abs(got-2500) > 1e-9 {
		t.Errorf("half way: %v", got)
	}
	inf := math.Inf(1)
	fan = Fan(sampleNow, net, Quantiles{inf, inf, inf, inf, inf}, 48*time.Hour)
	if last := fan[len(fan)-1]; !last.At.Equal(in(2)) || last.Net[p50] != 5000 {
		t.Errorf("nobody drinks: %+v", last)
	}
	if Fan(sampleNow, net, Quantiles{}, farthest) != nil {
		t.Error("a fan for an empty cylinder")
	}
}

// TestFewData: the first weights fill the picture: no empty week, no axis of specks, a long subtitle in two lines, no word over the dot.
func TestFewData(t *testing.T) {
	d := Data{Title: "Gas", Now: sampleNow, Voice: notice.Voice{Zone: vienna}, History: []Point{{sampleNow, 9_600}}, Booked: in(1)}
	if v := newView(d.finite()); v.Now.Sub(v.from) > 26*time.Hour {
		t.Errorf("shows %v before the only weight", v.Now.Sub(v.from))
	}
	d.History = []Point{{in(-2), 20}, {sampleNow, 0.5}}
	if v := newView(d.finite()); v.top < 100 {
		t.Errorf("the axis of an empty cylinder ends at %v g", v.top)
	}
	long := "Enough until about mid March, if your guess of 1.5 litres a day is right; how you really drink is known after some weights"
	first, second := wrap(long, style(sizeText, soft), Width-2*margin)
	if first+" "+second != long || second == "" {
		t.Errorf("broken into %q and %q", first, second)
	}
	b := board{}
	b.canvas.Rectangle.Max.X, b.canvas.Rectangle.Max.Y = 800, 400
	b.busy = append(b.busy, b.canvas.Rectangle) // all of it is fan
	strict := label{text: "fizz fades", style: style(sizeMark, ink), strict: true, try: []place{{1, 1, 0}}}
	if b.put(strict) {
		t.Error("a label was written over the fan")
	}
}
