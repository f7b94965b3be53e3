package entry

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"golang.org/x/text/language"
	"golang.org/x/text/message"
	cldr "golang.org/x/text/number"

	"tarebell/forecast/unit"
)

var noon = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)

// TestNumbersOfManyLanguages reads weights as the Unicode CLDR writes them (through golang.org/x/text): other
// digits, decimal commas, and points, apostrophes or thin spaces between thousands.
func TestNumbersOfManyLanguages(t *testing.T) {
	for _, tag := range []string{"en", "de", "de-CH", "de-AT", "fr", "fr-CH", "es", "it", "pt", "pl", "cs", "fi", "sv", "nb", "da", "nl",
		"ru", "uk", "tr", "el", "hu", "ro", "bg", "ja", "zh", "ko", "hi", "th", "ar-EG", "fa", "ur", "mr", "ne", "bn", "my"} {
		p := message.NewPrinter(language.MustParse(tag))
		for text, want := range map[string]float64{
			p.Sprint(cldr.Decimal(61.4)) + " kg":                            61_400,
			p.Sprint(cldr.Decimal(24.85, cldr.MinFractionDigits(2))) + "kg": 24_850,
			p.Sprint(cldr.Decimal(61405.5)) + " g":                          61_405.5,
			p.Sprint(cldr.Decimal(61405)) + " g":                            61_405,
		} {
			u, ok := Parse(text, Context{Now: noon}).(Understood)
			if !ok || math.Abs(float64(u.Gross)-want) > 1e-6 {
				t.Errorf("%s: %q was read as %v, want %v g", tag, text, u, want)
			}
		}
	}
}

// TestPoundsAndOunces: 1 lb = 0.45359237 kg and 1 oz = 1/16 lb, exact (NIST SP 811, appendix B.8; international
// agreement of 1959); 1 stone = 14 lb (Weights and Measures Act 1985; from memory).
func TestPoundsAndOunces(t *testing.T) {
	for text, kg := range map[string]float64{
		"1 lb":        0.45359237,
		"100 lb":      45.359237,
		"16 oz":       0.45359237,
		"135 lb 6 oz": 135.375 * 0.45359237,
		"12 1/2 lb":   12.5 * 0.45359237,
		"9 stone":     126 * 0.45359237,
		"9 stone 4":   130 * 0.45359237,
		"9st 4.5lb":   130.5 * 0.45359237,
	} {
		u, _ := Parse(text, Context{Now: noon, Units: unit.US}).(Understood)
		if math.Abs(u.Gross.Kilograms()-kg) > 1e-9 {
			t.Errorf("%q was read as %v kg, want %v", text, u.Gross.Kilograms(), kg)
		}
	}
}

// TestAgainstConversionTable reads one pound and one ounce and compares them with the table handed to the
// project, if it is at hand.
func TestAgainstConversionTable(t *testing.T) {
	f, err := os.Open(filepath.Join("..", "..", "..", "shared", "reference", "unit_conversions.csv"))
	if err != nil {
		t.Skip("conversion table not at hand")
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	checked := 0
	for _, row := range rows {
		text, grams := map[string]string{"lb (avoirdupois)": "1 lb", "oz (avoirdupois)": "16 oz"}[row[0]], 1000.0
		if text == "" {
			continue
		}
		if row[1] == "g" {
			grams = 16
		}
		factor, err := strconv.ParseFloat(row[2], 64)
		if err != nil {
			t.Fatal(err)
		}
		u, _ := Parse(text, Context{Now: noon}).(Understood)
		if math.Abs(float64(u.Gross)-factor*grams) > 1e-9 {
			t.Errorf("%s: read %v g, want %v", text, float64(u.Gross), factor*grams)
		}
		checked++
	}
	if checked != 2 {
		t.Errorf("%d units found in the table, want 2", checked)
	}
}

// TestClockChanges: dates of the changes after the IANA time zone database (2026: Vienna 29 March and 25
// October, New York 8 March and 1 November, Lord Howe by half an hour on 5 April and 4 October).
func TestClockChanges(t *testing.T) {
	for _, c := range []struct{ rule, zone, now, text, want string }{
		{"twice: the later", "Europe/Vienna", "2026-10-25T12:00:00+01:00", "02:30 61.4", "2026-10-25T02:30:00+01:00"},
		{"twice: the later still to come", "Europe/Vienna", "2026-10-25T02:40:00+02:00", "02:30 61.4", "2026-10-25T02:30:00+02:00"},
		{"twice: just past for the second time", "Europe/Vienna", "2026-10-25T02:31:00+01:00", "02:30 61.4", "2026-10-25T02:30:00+01:00"},
		{"twice: with offset", "Europe/Vienna", "2026-10-25T12:00:00+01:00", "2026-10-25T02:30:00+02:00 61.4", "2026-10-25T02:30:00+02:00"},
		{"not at all", "Europe/Vienna", "2026-03-29T12:00:00+02:00", "02:30 61.4", "2026-03-29T03:30:00+02:00"},
		{"twice", "America/New_York", "2026-11-01T12:00:00-05:00", "1:30 am 61.4", "2026-11-01T01:30:00-05:00"},
		{"not at all", "America/New_York", "2026-03-08T12:00:00-04:00", "2:30am 61.4", "2026-03-08T03:30:00-04:00"},
		{"half an hour", "Australia/Lord_Howe", "2026-04-05T12:00:00+10:30", "01:45 61.4", "2026-04-05T01:45:00+10:30"},
		{"half an hour, not at all", "Australia/Lord_Howe", "2026-10-04T12:00:00+11:00", "02:15 61.4", "2026-10-04T02:45:00+11:00"},
		{"yesterday noon on a day of 23 hours", "Europe/Vienna", "2026-03-30T08:00:00+02:00", "yesterday 61.4", "2026-03-29T12:00:00+02:00"},
		{"hours ago are elapsed ones", "Europe/Vienna", "2026-03-29T04:00:00+02:00", "2 hours ago 61.4", "2026-03-29T01:00:00+01:00"},
		{"days ago keep the clock", "Europe/Vienna", "2026-03-29T18:00:00+02:00", "1 day ago 61.4", "2026-03-28T18:00:00+01:00"},
	} {
		now, err := time.Parse(time.RFC3339, c.now)
		if err != nil {
			t.Fatal(err)
		}
		got := Parse(c.text, Context{Now: now.In(zone(t, c.zone))})
		if u, ok := got.(Understood); !ok || u.At.Format(time.RFC3339) != c.want {
			t.Errorf("%s, %s: %q was read as %v, want %s", c.zone, c.rule, c.text, got, c.want)
		}
	}
}

func BenchmarkParse(b *testing.B) {
	ctx := contexts(b)["home"]
	for _, text := range []string{"24.85", "main 24.85kg yesterday at 7 pm", "I ordered two pizzas, they come at half past eight"} {
		b.Run(text, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				Parse(text, ctx)
			}
		})
	}
}
