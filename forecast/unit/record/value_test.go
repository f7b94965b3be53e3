package record

import (
	"maps"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"tarebell/forecast/unit"
)

// TestHouseholdValues: what the household's own events say is read, and written back as it was.
func TestHouseholdValues(t *testing.T) {
	for _, c := range []struct {
		kind  Kind
		value string
		want  func(Event) bool
	}{
		{Filled, "9.070 kg price 42.50 EUR", func(e Event) bool { return e.Net == 9070 && e.Price.String() == "42.50 EUR" }},
		{Filled, "9.070 kg tare 14.300 kg price 5000 JPY", func(e Event) bool { return e.Tare == 14300 && e.Price.String() == "5000 JPY" }},
		{Filled, "price 7.125 KWD", func(e Event) bool { return e.Net == 0 && e.Price.Code() == "KWD" }},
		{Serving, "6.1 g 0.84 L", func(e Event) bool { return e.CO2 == 6.1 && e.Litres == unit.Litres(0.84) }},
		{Serving, "6 g", func(e Event) bool { return e.CO2 == 6 && e.Litres == 0 }},
		{InUse, "main", func(e Event) bool { return e.Instead == "main" }},
		{InUse, "", func(e Event) bool { return e.Instead == "" }},
		{Answer, "lost about 2027-03-05T02:10:00Z", func(e Event) bool { return e.Cause == "lost" && e.About.Minute() == 10 }},
		{Answer, "moved", func(e Event) bool { return e.About.IsZero() }},
		{Calibrated, "", func(Event) bool { return true }},
		{Afresh, "24.600 kg", func(e Event) bool { return e.Gross == 24_600 }},
		{Air, "5200 ppm", func(e Event) bool { return e.PPM == 5200 && e.Origin == Scale }},
		{Air, "0 ppm", func(e Event) bool { return e.PPM == 0 }},
		{Absent, "2027-03-05T18:00:00Z", func(e Event) bool { return e.Until.Hour() == 18 }},
	} {
		e, err := Read(c.kind, c.value)
		if err != nil || !c.want(e) {
			t.Errorf("%s %q: %+v, %v", c.kind, c.value, e, err)
		}
		if got := e.Value(); got != c.value {
			t.Errorf("%s %q is written as %q", c.kind, c.value, got)
		}
	}
	for kind, values := range map[Kind][]string{
		Filled:     {"9 kg price", "9 kg price 42", "price 42.5 eur", "price -3 EUR", "price 42 EUR tare 14 kg", "price 42.505 EUR", "price 42 XQX"},
		Serving:    {"", "6.1", "6.1 kg", "-6 g", "NaN g", "6 g 0.84", "6 g -1 L", "6 g 0.84 L more", "9999 g"},
		Calibrated: {"yes"},
		Answer:     {"", "maybe", "lost about noon", "lost about "},
		Absent:     {"", "soon", "2027-13-01"},
		Booked:     {"", "soon", "05.03.2027"},
		Valve:      {"", "shut"},
		InUse:      {strings.Repeat("x", 201)},
		Afresh:     {"", "24.6", "-1 kg"},
		Air:        {"", "5200", "-1 ppm", "2000000 ppm", "NaN ppm"},
		Weighed:    {"24.6 kg"},
		"drunk":    {"3"},
	} {
		for _, v := range values {
			if e, err := Read(kind, v); err == nil {
				t.Errorf("%s %q is taken for %+v", kind, v, e)
			}
		}
	}
}

func TestRead(t *testing.T) {
	for in, want := range map[string]Event{
		"filled,9.07 kg":                   {Kind: Filled, Net: 9070},
		"filled,20 lb":                     {Kind: Filled, Net: 20 * 453.59237},
		"filled,20 lb 8 oz":                {Kind: Filled, Net: 20.5 * 453.59237},
		"filled,":                          {Kind: Filled},
		"filled,9.07 kg tare 14.30 kg":     {Kind: Filled, Net: 9070, Tare: 14300},
		"filled,tare 14300g":               {Kind: Filled, Tare: 14300},
		"made,3":                           {Kind: Made, Count: 3},
		"made, 2.5 ":                       {Kind: Made, Count: 2.5},
		"away,2027-01-09T18:00:00+01:00":   {Kind: Away, Until: time.Date(2027, 1, 9, 17, 0, 0, 0, time.UTC)},
		"away,2027-01-09":                  {Kind: Away, Until: time.Date(2027, 1, 9, 0, 0, 0, 0, time.UTC)},
		"valve,open":                       {Kind: Valve, Open: true},
		"valve,closed":                     {Kind: Valve},
		"booked,2027-01-09":                {Kind: Booked, Day: time.Date(2027, 1, 9, 12, 0, 0, 0, time.UTC)},
		"booked,2027-01-09T23:00:00-08:00": {Kind: Booked, Day: time.Date(2027, 1, 9, 12, 0, 0, 0, time.UTC)},
		"ran-dry,":                         {Kind: RanDry},
		"unbooked,":                        {Kind: Unbooked},
		"mine,":                            {Kind: Mine},
		"later,":                           {Kind: Later},
		"answer,moved":                     {Kind: Answer, Cause: "moved"},
	} {
		kind, value, _ := strings.Cut(in, ",")
		got, err := Read(Kind(kind), value)
		want.Origin = Manual
		near := cmp.Comparer(func(a, b unit.Grams) bool { return a-b < 1e-6 && b-a < 1e-6 })
		if d := cmp.Diff(want, got, near, cmpopts.EquateComparable(unit.Money{})); err != nil || d != "" {
			t.Errorf("%s: %v %s", in, err, d)
		}
	}
}

// TestKept: an event that was kept reads back from its text as the same event; the second time nothing changes.
func TestKept(t *testing.T) {
	price, err := unit.ParseMoney("42.50", "EUR")
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		at := time.Unix(0, rapid.Int64Range(7e17, 4e18).Draw(t, "ns"))
		e := Event{At: at, Kind: rapid.SampledFrom(append(slices.Collect(maps.Keys(codecs)), Weighed)).Draw(t, "kind"), Cylinder: "main", By: "Ida", Origin: Manual}
		mass := func(name string) unit.Grams { return unit.Grams(rapid.Float64Range(1, 100_000).Draw(t, name)) }
		e.Net, e.Tare, e.Gross, e.CO2 = mass("net"), mass("tare"), mass("gross"), unit.Grams(rapid.Float64Range(0.1, 100).Draw(t, "co2"))
		e.Temp, e.HasTemp, e.Open = unit.Celsius(rapid.Float64Range(-50, 80).Draw(t, "temp")), true, rapid.Bool().Draw(t, "open")
		e.Count, e.Until, e.Day, e.About = rapid.Float64Range(0.25, 100).Draw(t, "count"), at.Add(time.Hour), at.Add(48*time.Hour), at.Add(-time.Hour)
		e.Cause, e.Price, e.Instead = Cause(rapid.SampledFrom(causes).Draw(t, "cause")), price, "spare"
		e.Litres, e.PPM = unit.Litres(rapid.Float64Range(0.1, 5).Draw(t, "litres")), unit.PPM(rapid.IntRange(0, 90_000).Draw(t, "ppm"))
		kept, err := e.Kept()
		if err != nil {
			t.Fatal(err)
		}
		if again, err := kept.Kept(); err != nil || again != kept {
			t.Fatalf("%+v\nis kept as\n%+v, %v", kept, again, err)
		}
		if d := kept.Gross - e.Gross; kept.Kind == Weighed && (d > 1e-6 || d < -1e-6) || !kept.At.Equal(at.Truncate(time.Millisecond)) || kept.At.Location() != time.UTC {
			t.Fatalf("%+v is kept as %+v", e, kept)
		}
		if d := kept.Net - e.Net; kept.Kind == Filled && (d > 1e-3 || d < -1e-3 || kept.Price != price) {
			t.Fatalf("%+v is kept as %+v", e, kept)
		}
	})
}

func TestWhatCannotBeKept(t *testing.T) {
	at := time.Date(2027, 1, 4, 6, 0, 0, 0, time.UTC)
	for want, e := range map[string]Event{
		"weighed has no time":                {Kind: Weighed, Gross: 1},
		"gross NaN g at 0 °C is no weighing": {Kind: Weighed, At: at, Gross: unit.Grams(math.NaN())},
		`event "drunk", value "": unknown event; use filled, made, away, valve, booked or ran-dry`: {Kind: "drunk", At: at},
		`event "made", value "0": want how many servings, for example 3`:                           {Kind: Made, At: at},
	} {
		if kept, err := e.Kept(); err == nil || err.Error() != want {
			t.Errorf("%+v, %v; want %s", kept, err, want)
		}
	}
}

// TestTimes: the examples of RFC 3339 section 5.8, and what its section 5.6 and 5.7 allow and forbid.
func TestTimes(t *testing.T) {
	for in, want := range map[string]int64{ // Unix milliseconds
		"1985-04-12T23:20:50.52Z":      482196050520,
		"1996-12-19T16:39:57-08:00":    time.Date(1996, 12, 20, 0, 39, 57, 0, time.UTC).UnixMilli(),
		"1990-12-31T23:59:60Z":         time.Date(1991, 1, 1, 0, 0, 0, 0, time.UTC).UnixMilli(),
		"1990-12-31T15:59:60-08:00":    time.Date(1991, 1, 1, 0, 0, 0, 0, time.UTC).UnixMilli(),
		"1937-01-01T12:00:27.87+00:20": -1041337172130,
		"1996-12-19t16:39:57z":         time.Date(1996, 12, 19, 16, 39, 57, 0, time.UTC).UnixMilli(),
		"2027-01-04T06:50:00-00:00":    time.Date(2027, 1, 4, 6, 50, 0, 0, time.UTC).UnixMilli(),
	} {
		got, err := ParseTime(in)
		if err != nil || got.UnixMilli() != want {
			t.Errorf("%s: %v (%d), %v", in, got, got.UnixMilli(), err)
		}
	}
	for _, in := range []string{"", "2027-01-04", "2027-01-04 06:50:00Z", "2027-01-04T06:50Z", "2027-01-04T06:50:60Z", "2027-13-04T06:50:00Z", "2027-01-04T06:50:00+1:00", "2027-02-30T23:59:60Z", "ſ027-01-04T06:50:60Z"} {
		if got, err := ParseTime(in); err == nil {
			t.Errorf("%q was read as %v", in, got)
		}
	}
}

func TestCylinderOnTheScale(t *testing.T) {
	c := Cylinder{Tare: 14_300, Fittings: 1_100, NetFill: 10_000}
	if c.Empty() != 15_400 || c.Full() != 25_400 {
		t.Errorf("empty %v, full %v", c.Empty(), c.Full())
	}
	if v := (Event{Kind: Weighed, Gross: 24_600}).Value(); v != "" {
		t.Errorf("a weighing has columns of its own, not %q", v)
	}
}

func TestFormatTime(t *testing.T) {
	at := time.Date(2027, 3, 5, 3, 10, 0, 0, time.FixedZone("", 3600))
	for want, in := range map[string]time.Time{"2027-03-05T02:10:00Z": at, "2027-03-05T02:10:00.250Z": at.Add(250 * time.Millisecond)} {
		if got := FormatTime(in); got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
}

func TestCurrency(t *testing.T) {
	price, err := unit.ParseMoney("42", "EUR")
	if got := (Refill{Outlay: price}).Currency(); err != nil || got != "EUR" || (Refill{}).Currency() != "" {
		t.Errorf("%q, %v", got, err)
	}
}
