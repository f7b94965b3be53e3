package holiday

import (
	"slices"
	"testing"
	"time"
)

// The public holidays of three countries in 2027. All lists are from memory of the laws named; Easter Sunday 2027 is 28
// March (Gregorian computus, checked in TestEaster).
var official = map[string][]string{
	// Feiertagsruhegesetz 1957 (BGBl. 153/1957), section 1.
	"at": {"2027-01-01", "2027-01-06", "2027-03-29", "2027-05-01", "2027-05-06", "2027-05-17", "2027-05-27", "2027-08-15",
		"2027-10-26", "2027-11-01", "2027-12-08", "2027-12-25", "2027-12-26"},
	// 5 U.S.C. 6103: the eleven federal holidays, with the days on which those that fall on a weekend are kept:
	// Juneteenth (a Saturday) on 18 June, 4 July (a Sunday) on the 5th, Christmas (a Saturday) on the 24th, New Year's Day of
	// 2028 (a Saturday) on 31 December.
	"us": {"2027-01-01", "2027-01-18", "2027-02-15", "2027-05-31", "2027-06-18", "2027-06-19", "2027-07-04", "2027-07-05",
		"2027-09-06", "2027-10-11", "2027-11-11", "2027-11-25", "2027-12-24", "2027-12-25", "2027-12-31"},
	// Germany: what all sixteen states keep.
	"de": {"2027-01-01", "2027-03-26", "2027-03-29", "2027-05-01", "2027-05-06", "2027-05-17", "2027-10-03", "2027-12-25",
		"2027-12-26"},
	// Bavaria: Feiertagsgesetz (BayFTG), article 1, statewide; Assumption, kept only where most are Catholic, is not among them.
	"de-by": {"2027-01-01", "2027-01-06", "2027-03-26", "2027-03-29", "2027-05-01", "2027-05-06", "2027-05-17", "2027-05-27",
		"2027-10-03", "2027-11-01", "2027-12-25", "2027-12-26"},
	// England and Wales (Banking and Financial Dealings Act 1971) with substitute days: Christmas Day 2027 is a Saturday,
	// Boxing Day a Sunday, so that Monday 27 and Tuesday 28 are kept.
	"gb": {"2027-01-01", "2027-03-26", "2027-03-29", "2027-05-03", "2027-05-31", "2027-08-30", "2027-12-25", "2027-12-26",
		"2027-12-27", "2027-12-28"},
}

func TestOfficialLists2027(t *testing.T) {
	for region, want := range official {
		c, err := For(region)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for day := time.Date(2027, 1, 1, 12, 0, 0, 0, time.UTC); day.Year() == 2027; day = day.AddDate(0, 0, 1) {
			if c.Name(day) != "" {
				got = append(got, day.Format(time.DateOnly))
			}
		}
		if !slices.Equal(got, want) {
			t.Errorf("%s 2027:\n got %v\nwant %v", region, got, want)
		}
	}
}

// TestEaster: the anonymous Gregorian algorithm (Meeus, Astronomical Algorithms, chapter 8) gives Easter Monday.
func TestEaster(t *testing.T) {
	c, err := For("at")
	if err != nil {
		t.Fatal(err)
	}
	for y := 2024; y < 2060; y++ {
		a, b, d := y%19, y/100, y%100
		e, f := b/4, b%4
		g := (8*b + 13) / 25
		h := (19*a + b - e - g + 15) % 30
		i, k := d/4, d%4
		l := (32 + 2*f + 2*i - h - k) % 7
		m := (a + 11*h + 19*l) / 433
		month := (h + l - 7*m + 90) / 25
		day := (h + l - 7*m + 33*month + 19) % 32
		monday := time.Date(y, time.Month(month), day+1, 0, 0, 0, 0, time.UTC)
		if c.Name(monday) == "" {
			t.Errorf("%s is an ordinary day, want Easter Monday", monday.Format(time.DateOnly))
		}
		if sunday := monday.AddDate(0, 0, -1); y == 2027 && sunday.Format(time.DateOnly) != "2027-03-28" {
			t.Errorf("Easter 2027 is %s", sunday.Format(time.DateOnly))
		}
	}
}

// TestRegions: every region has holidays; for another name the error says what to write.
func TestRegions(t *testing.T) {
	for r := range calendars {
		c, err := For(r)
		if err != nil {
			t.Error(err)
			continue
		}
		n := 0
		for day := time.Date(2027, 1, 1, 12, 0, 0, 0, time.UTC); day.Year() == 2027; day = day.AddDate(0, 0, 1) {
			if c.Name(day) != "" {
				n++
			}
		}
		if n < 4 || n > 40 {
			t.Errorf("%s has %d holidays in 2027", r, n)
		}
	}
	for wrong, want := range map[string]string{
		"":      "no holidays known for it; use ar, at, au, be, bg, br, ca, ch, cz, de, dk, es, fr, gb, gr, hr, ie, it, jp, lt, lv, mw, nc, nl, no, nz, pl, ro, ru, se, si, sk, ua, us or za",
		"xx":    "no holidays known for it; use ar, at, au, be, bg, br, ca, ch, cz, de, dk, es, fr, gb, gr, hr, ie, it, jp, lt, lv, mw, nc, nl, no, nz, pl, ro, ru, se, si, sk, ua, us or za",
		"au":    "want au- and one of act nsw nt qld sa tas vic wa",
		"de-xx": "want de- and one of bb be bw by hb he hh mv ni nw rp sh sl sn st th",
		"at-w":  "no such part; want at",
		"uk":    "no such country; for the United Kingdom write gb",
	} {
		if _, err := For(wrong); err == nil || err.Error() != want {
			t.Errorf("%q: %v, want %s", wrong, err, want)
		}
	}
}
