package chart

import (
	"bytes"
	"errors"
	"image/color"
	"image/png"
	"math"
	"testing"
	"time"

	"tarebell/bot/internal/notice"
)

// lookBack is an invented history of n fills; the forecasts of every second one missed.
func lookBack(n int) BacktestData {
	d := BacktestData{Title: "What was said, and what happened", Subtitle: "9 of 18 spans given as four out of five held", Voice: notice.Voice{Zone: vienna}}
	for i := range n {
		f := Fill{From: sampleNow.AddDate(0, 0, 100*(i-n)), Until: sampleNow.AddDate(0, 0, 100*(i-n)+97)}
		for _, left := range []float64{0.8, 0.6, 0.4, 0.25, 0.15, 0.08} {
			at := f.Until.Add(-time.Duration(left * float64(f.Until.Sub(f.From))))
			days := f.left(at)
			s := Forecast{At: at, P10: 0.8 * days, P50: 0.95 * days, P90: 1.25 * days, Held: true}
			if i%2 == 1 {
				s = Forecast{At: at, P10: 0.5 * days, P50: 0.6 * days, P90: 0.9 * days}
			}
			f.Forecasts = append(f.Forecasts, s)
		}
		d.Fills = append(d.Fills, f)
	}
	return d
}

// countColour is how many pixels of a picture have a colour.
func countColour(t *testing.T, picture []byte, c color.NRGBA) (n int) {
	t.Helper()
	img, err := png.Decode(bytes.NewReader(picture))
	if err != nil {
		t.Fatal(err)
	}
	b := img.Bounds()
	if b.Dx() != Width || b.Dy() != Height {
		t.Errorf("size %v", b)
	}
	for y := range b.Dy() {
		for x := range b.Dx() {
			if at(img, x, y) == c {
				n++
			}
		}
	}
	return n
}

// TestBacktestShowsMisses: a span that held is blue, one that missed is not, and each has the area of what was said: 10 pixels
// wide, and as high as the axis makes it.
func TestBacktestShowsMisses(t *testing.T) {
	one, err := Backtest(lookBack(1))
	if err != nil {
		t.Fatal(err)
	}
	if n := countColour(t, one, alarmMid); n > 0 {
		t.Errorf("%d pixels of a miss where all held", n)
	}
	two, err := Backtest(lookBack(2))
	if err != nil {
		t.Fatal(err)
	}
	held, missed := countColour(t, two, blueMid), countColour(t, two, alarmMid)
	if held < 1000 || missed < 700 || missed > held {
		t.Errorf("held %d, missed %d pixels", held, missed)
	}
	again, err := Backtest(lookBack(2))
	if err != nil || !bytes.Equal(again, two) {
		t.Errorf("another picture of the same: %v", err)
	}
}

// TestBacktestOfNothing: no forecasts, fills of no length and quantiles that are no numbers are no picture and no panic; a
// late quantile far beyond the axis is one.
func TestBacktestOfNothing(t *testing.T) {
	empty := lookBack(1)
	empty.Fills[0].Forecasts = nil
	point := lookBack(1)
	point.Fills[0].Until = point.Fills[0].From
	nan := lookBack(1)
	for i := range nan.Fills[0].Forecasts {
		nan.Fills[0].Forecasts[i].P90 = math.NaN()
	}
	for i, d := range []BacktestData{{}, empty, point, nan} {
		if _, err := Backtest(d); !errors.Is(err, ErrNothing) {
			t.Errorf("case %d: %v", i, err)
		}
	}
	far := lookBack(1)
	far.Fills[0].Forecasts[0].P90 = math.Inf(1)
	far.Fills[0].Forecasts[1].P50, far.Fills[0].Forecasts[1].P90 = 1e9, 1e9
	if _, err := Backtest(far); err != nil {
		t.Error(err)
	}
}
