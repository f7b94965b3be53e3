package tables

import (
	"bytes"
	"encoding/csv"
	"strings"
	"testing"
	"time"

	"tarebell/bot/internal/store"
	"tarebell/forecast/unit/record"
)

// TestHistoryIsNoProgram: a spreadsheet takes nothing that somebody typed for a formula (OWASP, CSV injection).
func TestHistoryIsNoProgram(t *testing.T) {
	at := time.Date(2027, 5, 16, 16, 0, 0, 0, time.UTC)
	vienna, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		t.Fatal(err)
	}
	all := []store.Entry{
		{Seq: 1, Text: "=HYPERLINK(\"http://a.example\")", Event: record.Event{Kind: record.Weighed, Cylinder: "=main", At: at, By: "@Ines", Origin: record.Manual, Gross: 24_600, Temp: 19.44, HasTemp: true}},
		{Seq: 2, Text: "+3, \"thanks\"", Voided: true, Event: record.Event{Kind: record.Made, Cylinder: "main", At: at, By: "-1+1", Origin: record.Manual, Count: 3}},
	}
	for _, us := range []bool{false, true} {
		var b bytes.Buffer
		if err := history(&b, func(yield func(store.Entry, error) bool) { _ = yield(all[0], nil) && yield(all[1], nil) }, Options{Zone: vienna, US: us}); err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(&b).ReadAll()
		if err != nil || len(rows) != 3 {
			t.Fatalf("%d rows, %v", len(rows), err)
		}
		for _, row := range rows[1:] {
			for i, cell := range row {
				if cell != "" && strings.ContainsAny(cell[:1], "=+-@") {
					t.Errorf("%s: cell %q", rows[0][i], cell)
				}
			}
		}
		want := map[bool]string{false: "24.600", true: "54.234"}[us]
		if rows[1][4] != want || rows[1][1] != "2027-05-16T18:00:00+02:00" || rows[1][5] != "19.4" || rows[2][10] != "yes" {
			t.Errorf("rows %q", rows)
		}
	}
}
