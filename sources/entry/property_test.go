package entry

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

var zones = []string{"UTC", "Europe/Vienna", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu", "America/St_Johns", "Pacific/Apia"}

func loadZones(t testing.TB) []*time.Location {
	var locs []*time.Location
	for _, z := range zones {
		locs = append(locs, zone(t, z))
	}
	return locs
}

// String is u in full, such as "main: 61.4 kg gross, 2026-11-25T18:00:00+01:00". Parse reads it back.
func (u Understood) String() string {
	s := u.mass() + " " + u.kind() + ", " + u.At.Format("2006-01-02T15:04:05-07:00")
	if u.Cylinder != "" {
		s = u.Cylinder + ": " + s
	}
	return s
}

func (u Understood) kind() string {
	if u.Net {
		return "net"
	}
	return "gross"
}

// anyContext draws a household.
func anyContext(t *rapid.T, locs []*time.Location) Context {
	sec := rapid.Int64Range(1_600_000_000, 2_200_000_000).Draw(t, "now")
	ctx := Context{
		Now:   time.Unix(sec, 0).In(rapid.SampledFrom(locs).Draw(t, "zone")),
		Units: rapid.SampledFrom([]unit.System{unit.Metric, unit.US}).Draw(t, "units"),
		Asked: rapid.Bool().Draw(t, "asked"),
	}
	names := rapid.SliceOfNDistinct(rapid.SampledFrom([]string{"main", "Spare 2", "10 kg", "2", "25", "bar-left", "Küche", "CO2 B"}), 0, 3,
		rapid.ID[string]).Draw(t, "names")
	for _, n := range names {
		empty := rapid.Float64Range(800, 70_000).Draw(t, "empty")
		c := Cylinder{Cylinder: record.Cylinder{Name: n, Tare: unit.Grams(empty), NetFill: unit.Grams(empty*1.6) - unit.Grams(empty)}}
		if rapid.Bool().Draw(t, "seen") {
			c.Last, c.LastAt = unit.Grams(empty*rapid.Float64Range(1, 1.6).Draw(t, "last")), ctx.Now.AddDate(0, 0, -3)
		}
		ctx.Cylinders = append(ctx.Cylinders, c)
	}
	return ctx
}

// checkReading holds what every reading must hold: what was understood prints and reads back as itself,
// what is doubtful has a question, and its candidates are not lost when written out.
func checkReading(t interface{ Fatalf(string, ...any) }, text string, ctx Context) {
	switch r := Parse(text, ctx).(type) {
	case Understood:
		if got := Parse(r.String(), ctx); !cmp.Equal(got, Reading(r)) {
			t.Fatalf("%q was read as %q; that was read as %#v", text, r, got)
		}
		if r.At.After(ctx.Now) || r.Gross < 0 || r.Gross > mostGross*1.1 {
			t.Fatalf("%q was read as %q", text, r)
		}
	case Doubtful:
		if !strings.HasSuffix(r.Question, "?") || strings.Count(r.Question, "?") != 1 {
			t.Fatalf("%q: question %q", text, r.Question)
		}
		if len(r.Candidates) == 0 && r.Reason != Unreadable && r.Reason != TwoWeights {
			t.Fatalf("%q: %s without candidates", text, r.Reason)
		}
		for _, c := range r.Candidates {
			checkCandidate(t, text, c, ctx)
		}
	case NotAWeight:
		if ctx.Asked {
			t.Fatalf("%q was asked for and left alone", text)
		}
	}
}

func checkCandidate(t interface{ Fatalf(string, ...any) }, text string, c Understood, ctx Context) {
	ctx.Asked = true
	switch r := Parse(c.String(), ctx).(type) {
	case Understood:
		if !cmp.Equal(r, c) {
			t.Fatalf("%q: candidate %q was read as %q", text, c, r)
		}
	case Doubtful:
		if len(r.Candidates) == 0 {
			t.Fatalf("%q: candidate %q was read as %+v", text, c, r)
		}
	}
}

// TestPrintedReadsBack puts messages together from the words the parser knows and some it does not.
func TestPrintedReadsBack(t *testing.T) {
	locs := loadZones(t)
	pieces := strings.Fields(`61.4 61,4 24.85 1.605 1605 135 6 1/2 7 18:00 7pm 7:15 18h 2026-02-28 29.02. 11/24 1.234,5 -3
		kg lb oz g st stone kilos pounds net gross left of gas main spare 2 co2 at @ on last this yesterday today tomorrow
		morning evening night monday sun nov 24th ago hours days half past quarter to midnight noon and or , . : ; - ? ~ = ( )
		scale says about maybe it's pizzas € %`)
	rapid.Check(t, func(t *rapid.T) {
		ctx := anyContext(t, locs)
		words := rapid.SliceOfN(rapid.SampledFrom(pieces), 1, 8).Draw(t, "words")
		sep := rapid.SampledFrom([]string{" ", " ", "", "\u00a0"}).Draw(t, "sep")
		checkReading(t, strings.Join(words, sep), ctx)
	})
}

// TestWeightsReadBack prints plausible weighings and reads them.
func TestWeightsReadBack(t *testing.T) {
	locs := loadZones(t)
	rapid.Check(t, func(t *rapid.T) {
		ctx := anyContext(t, locs)
		u := Understood{
			Unit: rapid.SampledFrom([]Unit{Kilograms, Grams, Pounds, PoundsOunces}).Draw(t, "unit"),
			Net:  rapid.Bool().Draw(t, "net"),
			At:   ctx.Now.Add(-time.Duration(rapid.Int64Range(0, 90*86400).Draw(t, "age")) * time.Second),
		}
		kg := rapid.Float64Range(20, 25).Draw(t, "kg")
		u.Gross = grams(map[Unit]float64{Kilograms: kg, Grams: kg * 1000, Pounds: kg * 2.2, PoundsOunces: kg * 2.2}[u.Unit], u.Unit)
		ctx.Cylinders = nil
		if got := Parse(u.String(), ctx); !cmp.Equal(got, Reading(u)) {
			t.Fatalf("%q was read as %v", u, got)
		}
	})
}

// TestStatedUnitsMeanTheSameEverywhere: a unit that is written beats the household's.
func TestStatedUnitsMeanTheSameEverywhere(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[1-9][0-9]\.[0-9] (kg|lb|pounds)`).Draw(t, "text")
		now := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
		a, b := Parse(text, Context{Now: now}), Parse(text, Context{Now: now, Units: unit.US})
		if !cmp.Equal(a, b) {
			t.Fatalf("%q: %v and %v", text, a, b)
		}
	})
}

// TestLocal: the moment found for a local time shows that time, and is never later than the latest one that
// is past.
func TestLocal(t *testing.T) {
	locs := loadZones(t)
	rapid.Check(t, func(t *rapid.T) {
		loc := rapid.SampledFrom(locs).Draw(t, "zone")
		at := time.Unix(rapid.Int64Range(0, 2_200_000_000).Draw(t, "at"), 0).In(loc)
		now := at.Add(time.Duration(rapid.Int64Range(0, 7200).Draw(t, "later")) * time.Second)
		got := local(dateOf(at), clock{h: at.Hour(), m: at.Minute(), s: at.Second()}, loc, now)
		const wall = "2006-01-02 15:04:05"
		if got.Format(wall) != at.Format(wall) || got.Before(at) || got.After(now) {
			t.Fatalf("%s was found as %s", at, got)
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"61.4 kg", "135 lb 6 oz this morning", "yesterday 18:00 60.9", "spare 2: 24.1", "1.234,5 g", "12½ lb net", "-3", "at 7 24.85",
		"2026-11-20T18:05:30+01:00 60.9", "9 stone 9", "co2 24", "10 kg: 24.8", "61\u202f405 g", "٦١٫٤ kg"} {
		f.Add(s, false, false)
		f.Add(s, true, true)
	}
	vienna := zone(f, "Europe/Vienna")
	f.Fuzz(func(t *testing.T, text string, us, asked bool) {
		ctx := Context{Now: time.Date(2026, 11, 25, 19, 30, 0, 0, vienna), Asked: asked, Cylinders: []Cylinder{
			{Cylinder: record.Cylinder{Name: "main", Tare: 15_400, NetFill: 25_400 - 15_400}, Last: 24_950}, {Cylinder: record.Cylinder{Name: "10 kg", Tare: 38_700, NetFill: 61_400 - 38_700}}}}
		if us {
			ctx.Units = unit.US
		}
		checkReading(t, text, ctx)
		ctx.Cylinders = nil
		checkReading(t, text, ctx)
		if i, ok := Choose(text, []string{"24.85 kg", "24.9 lb net"}, us); ok && (i < -1 || i > 1) {
			t.Fatalf("%q chose %d", text, i)
		}
		if m, ok := Mass(text, ctx.Units); ok && !(m > 0 && m < 1e11) {
			t.Fatalf("%q is a mass of %v", text, m)
		}
		TakesBack(text)
	})
}
