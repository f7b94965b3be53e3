package chart

import (
	"strings"
	"testing"
	"time"

	"gonum.org/v1/plot"

	"tarebell/bot/internal/notice"
	"tarebell/forecast/unit"
)

func labelsOf(ticks []plot.Tick) string {
	var s []string
	for _, t := range ticks {
		s = append(s, t.Label)
	}
	return strings.Join(s, "|")
}

func TestMassTicks(t *testing.T) {
	for _, c := range []struct {
		in   unit.System
		most float64
		want string
	}{
		{unit.Metric, 10000, "0|2|4|6|8|10 kg"},
		{unit.Metric, 9400, "0|2|4|6|8|10 kg"},
		{unit.Metric, 2100, "0.0|0.5|1.0|1.5|2.0 kg"},
		{unit.Metric, 425, "0|100|200|300|400 g"},
		{unit.Metric, 30000, "0|10|20|30 kg"},
		{unit.US, 9071.8474, "0|5|10|15|20 lb"}, // 20 lb
		{unit.US, 22679.6185, "0|10|20|30|40|50 lb"},
		{unit.US, 340.194, "0|5|10 oz"}, // 12 oz
		{unit.Metric, 1, "0.0|0.2|0.4|0.6|0.8|1.0 g"},
	} {
		s := scaleFor(c.in, c.most)
		ticks, end := s.ticks(c.most)
		if got := labelsOf(ticks); got != c.want || end < c.most {
			t.Errorf("%v g: %s to %v, want %s", c.most, got, end, c.want)
		}
	}
}

func TestDates(t *testing.T) {
	utc := func(y, m, d int) time.Time { return time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC) }
	for _, c := range []struct {
		name     string
		from, to time.Time
		in       unit.System
		want     string
	}{
		{"a week", utc(2026, 10, 19), utc(2026, 10, 26), unit.Metric, "19 Oct|21 Oct|23 Oct|25 Oct"},
		{"a month, on Mondays", utc(2026, 10, 1), utc(2026, 10, 31), unit.US, "Oct 5|Oct 12|Oct 19|Oct 26"},
		{"over the year's end", utc(2026, 11, 3), utc(2027, 3, 20), unit.Metric, "Dec 2026|Jan 2027|Feb|Mar"},
		{"years", utc(2026, 5, 1), utc(2030, 5, 1), unit.Metric, "2027|2028|2029|2030"},
		{"decades", utc(2026, 5, 1), utc(2080, 5, 1), unit.Metric, "2040|2060|2080"},
	} {
		if got := labelsOf(dates(c.from, c.to, notice.Voice{Zone: time.UTC, System: c.in})); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

// Ticks stand on the household's midnights, also where a clock change lies between them.
func TestDatesInZone(t *testing.T) {
	for _, tick := range dates(sampleNow.AddDate(0, 0, -10), sampleNow.AddDate(0, 0, 20), notice.Voice{Zone: vienna}) {
		at := time.UnixMilli(int64(tick.Value * 1000)).In(vienna)
		if at.Hour() != 0 || at.Weekday() != time.Monday || at.Format("2 Jan") != tick.Label {
			t.Errorf("tick %q at %v", tick.Label, at)
		}
	}
}

func TestPrintable(t *testing.T) {
	for in, want := range map[string]string{
		"main":              "main",
		"basement 🫧 rack":   "basement rack",
		"Küche\n“groß”":     "Küche “groß”",
		"\x00\x1b[31mred":   "[31mred",
		"Ελλάδα Кухня 台所 |": "Ελλάδα Кухня |",
	} {
		if got := printable(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}

func TestFit(t *testing.T) {
	s := style(sizeText, ink)
	long := strings.Repeat("very long ", 30)
	got := shorten(long, s, 300)
	if s.Width(got) > 300 || !strings.HasSuffix(got, "…") || len(got) < 20 {
		t.Errorf("%q", got)
	}
	if got := shorten("short", s, 300); got != "short" {
		t.Errorf("%q", got)
	}
}

func BenchmarkCylinder(b *testing.B) {
	d := flat(200, 45, 10000, 160)
	for b.Loop() {
		if _, err := Cylinder(d); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkUse(b *testing.B) {
	d := sampleWeeks(16, 0, 0, 300)
	for b.Loop() {
		if _, err := Use(d); err != nil {
			b.Fatal(err)
		}
	}
}
