// Package replay runs the household engine over recorded data on a virtual clock, as fast as it can, and
// writes what it believed and said as JSON lines.
//
// Records: "forecast" once per day of virtual time from one day after the first weighing, and after the last one;
// "notice" as it happens; "follow-up" for what repeats or continues a notice told before (a reminder, an alert
// that goes on or has ended), in the same form. Time does not stop with the last weighing: what would be said next,
// if no other weighing came, is said until every cylinder is believed to be empty (its run-out at 95 % is past), but for
// afterlife at most. The same input gives the same output, byte for byte.
package replay

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"io"
	"iter"
	"math"
	"time"

	"tarebell/bot/internal/household"
	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/runout"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// horizon is how far ahead a forecast is written as a date.
const horizon unit.Days = 20 * 365.25

// afterlife is how long time goes on at most after the last weighing or event.
const afterlife = 60 * 24 * time.Hour

// Run feeds events, in order of time, and writes the records, until ctx ends.
func Run(ctx context.Context, o household.Options, events iter.Seq2[record.Event, error], w io.Writer) error {
	r := &runner{engine: household.New(o), out: bufio.NewWriterSize(w, 1<<16), zone: o.Voice.Zone, ctx: ctx}
	for e, err := range events {
		if err != nil {
			return err
		}
		r.feed(e)
		if r.err != nil {
			return r.err
		}
	}
	r.finish()
	if r.err != nil {
		return r.err
	}
	return r.out.Flush()
}

type runner struct {
	engine *household.Engine
	out    *bufio.Writer
	zone   *time.Location
	ctx    context.Context
	next   time.Time // of the next forecast
	last   time.Time
	err    error
}

// feed lets time pass to the event, with a forecast at each day on the way, and gives it to the engine.
func (r *runner) feed(e record.Event) {
	for r.err == nil && !r.next.IsZero() && r.next.Before(e.At) {
		r.notices(r.engine.Advance(r.next))
		r.forecast(r.next)
		r.next = r.next.Add(24 * time.Hour)
	}
	r.last = e.At
	if e.Kind == record.Weighed && r.next.IsZero() {
		r.next = e.At.Add(24 * time.Hour)
	}
	r.notices(r.engine.Apply(e))
}

// finish writes what is expected after the last event, and lets the days go on while there is something to say.
func (r *runner) finish() {
	if r.next.IsZero() {
		return
	}
	r.forecast(r.last)
	for end := r.last.Add(afterlife); !r.next.After(end) && r.lasting(r.next); r.next = r.next.Add(24 * time.Hour) {
		r.notices(r.engine.Advance(r.next))
	}
}

// lasting reports whether some cylinder may still hold gas at t, by the forecast of the moment reached.
func (r *runner) lasting(t time.Time) bool {
	for _, name := range r.engine.Cylinders() {
		s, _ := r.engine.Situation(name, r.engine.Now())
		if s.Outlook.RunOut.Known() && s.Outlook.RunOut.Quantile(0.95) > unit.Between(s.Now, t) {
			return true
		}
	}
	return false
}

func (r *runner) notices(ns []notice.Notice) {
	for _, n := range ns {
		r.write(noticeRecord(n))
	}
}

func (r *runner) write(line any) {
	if r.err = errors.Join(r.err, r.ctx.Err()); r.err != nil {
		return
	}
	b, err := json.Marshal(line)
	if err != nil {
		r.err = err
		return
	}
	r.out.Write(b)
	r.err = r.out.WriteByte('\n')
}

type noticeJSON struct {
	Record   string `json:"record"`
	At       string `json:"at"`
	Cylinder string `json:"cylinder"`
	Kind     string `json:"kind"`
	Severity string `json:"severity"`
	Text     string `json:"text"`
}

func noticeRecord(n notice.Notice) noticeJSON {
	name := "notice"
	if n.Follows != "" {
		name = "follow-up"
	}
	return noticeJSON{name, stamp(n.At), n.Cylinder, string(n.Kind), n.Severity.String(), n.Text()}
}

type forecastJSON struct {
	Record    string     `json:"record"`
	At        string     `json:"at"`
	Cylinder  string     `json:"cylinder"`
	Gas       *normal    `json:"gas_kg"`
	Use       *normal    `json:"use_g_per_day"`
	Loss      *normal    `json:"loss_g_per_h"`
	LiquidDry *quantiles `json:"liquid_dry"`
	RunOut    *quantiles `json:"run_out"`
	BookBy    *string    `json:"book_by"`
}

type normal struct {
	Mean float64 `json:"mean"`
	SD   float64 `json:"sd"`
}

type quantiles struct {
	P05 *string `json:"p05"`
	P10 *string `json:"p10"`
	P25 *string `json:"p25"`
	P50 *string `json:"p50"`
	P75 *string `json:"p75"`
	P90 *string `json:"p90"`
	P95 *string `json:"p95"`
}

// forecast writes what is expected of the first cylinder, and of the others with their names.
func (r *runner) forecast(at time.Time) {
	for _, name := range r.engine.Cylinders() {
		s, _ := r.engine.Situation(name, at)
		r.write(r.forecastRecord(s))
	}
}

func (r *runner) forecastRecord(s notice.Situation) forecastJSON {
	o := s.Outlook
	f := forecastJSON{Record: "forecast", At: stamp(s.Now), Cylinder: s.Cylinder,
		LiquidDry: dates(o.LiquidDry, s.Now), RunOut: dates(o.RunOut, s.Now)}
	if o.Known {
		f.Gas = rounded(o.Gas, 1000, 4)
		f.Use = rounded(o.Use, 1, 3)
		f.Loss = rounded(o.Loss, 1, 3)
	}
	if !s.Plan.RemindBy.IsZero() { // as people act on a reminder some days later
		day := s.Plan.RemindBy.In(r.zone).Format(time.DateOnly)
		f.BookBy = &day
	}
	return f
}

func rounded(n forecast.Normal, per float64, digits int) *normal {
	p := math.Pow10(digits)
	return &normal{math.Round(n.Mean/per*p) / p, math.Round(n.SD/per*p) / p}
}

func dates(d runout.Distribution, now time.Time) *quantiles {
	q := func(p float64) *string {
		if !d.Known() {
			return nil
		}
		days := d.Quantile(p)
		if days > horizon {
			return nil
		}
		at, ok := days.After(now)
		if !ok {
			return nil
		}
		s := stamp(at)
		return &s
	}
	return &quantiles{q(.05), q(.10), q(.25), q(.50), q(.75), q(.90), q(.95)}
}

func stamp(t time.Time) string { return t.UTC().Truncate(time.Second).Format(time.RFC3339) }
