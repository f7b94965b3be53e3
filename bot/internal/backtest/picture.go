package backtest

import (
	"fmt"

	"tarebell/bot/internal/chart"
	"tarebell/bot/internal/notice"
)

// Picture is the result as a chart draws it.
func (r Result) Picture(v notice.Voice) chart.BacktestData {
	d := chart.BacktestData{Title: "What was said, and what happened", Voice: v}
	if t := Sum(r.All()); t.N > 0 {
		d.Subtitle = fmt.Sprintf("%d of %d spans given as four out of five held", t.In80, t.N)
	}
	for _, f := range r.Fills {
		p := chart.Fill{From: f.From, Until: f.Until}
		for _, x := range f.Forecasts {
			p.Forecasts = append(p.Forecasts, chart.Forecast{At: x.At, P10: float64(x.Said[1]), P50: float64(x.Said[3]), P90: float64(x.Said[5]), Held: x.In80()})
		}
		d.Fills = append(d.Fills, p)
	}
	return d
}
