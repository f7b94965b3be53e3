package backtest

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"tarebell/bot/internal/chart"
	"tarebell/bot/internal/notice"
	"tarebell/forecast/unit"
)

// Write tells the result: in plain words first, then as tables.
func (r Result) Write(w io.Writer, v notice.Voice) error {
	var b strings.Builder
	for _, line := range r.words() {
		b.WriteString(line + "\n")
	}
	if len(r.All()) > 0 {
		b.WriteString("\n")
		r.fills(&b, v)
		b.WriteString("\n")
		r.stages(&b)
		b.WriteString("\n" + legend)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

const legend = `4 of 5, 9 of 10: forecasts that fell into the span given with that chance.
loss: quantile loss over the time left, of seven quantiles; smaller is better, 0 is a date known exactly.
of arithmetic: that loss as a part of the loss of gas left over mean use since the fill; below 1 is better than it.
`

// words is the answer, for reading aloud.
func (r Result) words() []string {
	all := r.All()
	if len(all) == 0 {
		return []string{fmt.Sprintf("There is no forecast to judge yet: it takes a fill of which %.0f %% is gone, over %.0f days at least.", 100*leastUsed, float64(leastDays))}
	}
	t := Sum(all)
	lo80, hi80 := Honest(t.N, 0.8)
	lo90, hi90 := Honest(t.N, 0.9)
	out := []string{
		fmt.Sprintf("Of %s over %s, %d fell into the span given as four out of five (honest: %s), %d into that given as nine out of ten (honest: %s).",
			count(t.N, "forecast"), count(len(r.Fills), "fill"), t.In80, fromTo(lo80, hi80), t.In90, fromTo(lo90, hi90)),
		verdict(t.N, t.In80, lo80, hi80, t.In90, lo90, hi90),
		fmt.Sprintf("The middle date was off by %s as a rule, %.0f %% of the time that was left.", days(t.Miss), 100*t.MissPart),
	}
	if t.Compared > 0 && !math.IsNaN(t.OverMaker) && !math.IsInf(t.OverMaker, 0) {
		out = append(out, fmt.Sprintf("The maker's arithmetic (gas left over mean use since the fill) was off by %s. Spans and dates together, the forecasts erred %.2f times as much as it did.",
			days(t.MakerMiss), t.OverMaker))
	}
	if dry := r.dry(); dry > 0 {
		out = append(out, count(dry, "fill")+" ran dry; for the others it is the level that counts at which they were refilled, or stand now.")
	} else {
		out = append(out, "No fill ran dry, so what counts is the level at which each was refilled, or stands now.")
	}
	if r.Short > 0 {
		out = append(out, fmt.Sprintf("%s left out: too little is gone.", count(r.Short, "fill")))
	}
	return out
}

// enough is the number of forecasts from which on a count inside the honest range says something.
const enough = 12

func verdict(n, in80, lo80, hi80, in90, lo90, hi90 int) string {
	switch {
	case in80 < lo80 || in90 < lo90:
		return "That is too few: the spans are too narrow for this household."
	case in80 > hi80 || in90 > hi90:
		return "That is more than there should be: the spans are wider than they need to be."
	}
	if n < enough {
		return "That is too few forecasts to tell whether the spans mean what they say."
	}
	return "That is what spans do that mean what they say."
}

func (r Result) dry() (n int) {
	for _, f := range r.Fills {
		if f.RanDry {
			n++
		}
	}
	return n
}

// fills is one line a fill and one for all.
func (r Result) fills(w io.Writer, v notice.Voice) {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "cylinder\tfrom\tdays\tused\tforecasts\t4 of 5\t9 of 10\tloss\tof arithmetic")
	used := unit.Grams(0)
	for _, f := range r.Fills {
		what := v.Mass(f.Used())
		if f.RanDry {
			what += ", dry"
		}
		fmt.Fprintf(t, "%s\t%s\t%.0f\t%s\t%s\n", f.Cylinder, f.From.In(v.Zone).Format(time.DateOnly), float64(unit.Between(f.From, f.Until)), what, Sum(f.Forecasts).cells())
		used += f.Used()
	}
	fmt.Fprintf(t, "all\t\t\t%s\t%s\n", v.Mass(used), Sum(r.All()).cells())
	t.Flush()
}

// stages is one line for each part of the way still to go.
func (r Result) stages(w io.Writer) {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "gas to go\tforecasts\t4 of 5\t9 of 10\tloss\tof arithmetic\tmiddle off by\tarithmetic off by\tspan of 4 of 5")
	for _, stage := range Stages {
		if fs := r.Stage(stage); len(fs) > 0 {
			s := Sum(fs)
			fmt.Fprintf(t, "%.0f %%\t%s\t%s\t%s\t%s\n", 100*stage, s.cells(), short(s.Miss), short(s.MakerMiss), short(s.Width))
		}
	}
	t.Flush()
}

// cells are the columns both tables share.
func (t Tally) cells() string {
	if t.N == 0 {
		return "0\t-\t-\t-\t-"
	}
	return fmt.Sprintf("%d\t%d\t%d\t%.3f\t%s", t.N, t.In80, t.In90, t.Loss, number(t.OverMaker, 2))
}

// number is x with a fixed number of digits, a dash for none.
func number(x float64, digits int) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return "-"
	}
	return strconv.FormatFloat(x, 'f', digits, 64)
}

func short(d float64) string {
	if math.IsNaN(d) {
		return "-"
	}
	return strings.Replace(strings.Replace(days(d), " days", " d", 1), " day", " d", 1)
}

// days is a span to about two digits.
func days(d float64) string {
	if d < 9.95 {
		return strings.Replace(fmt.Sprintf("%.1f days", d), "1.0 days", "1 day", 1)
	}
	return fmt.Sprintf("%.0f days", d)
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

func fromTo(lo, hi int) string {
	if lo == hi {
		return strconv.Itoa(lo)
	}
	return fmt.Sprintf("%d to %d", lo, hi)
}

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
