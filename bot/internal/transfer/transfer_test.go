package transfer

import (
	"bytes"
	"encoding/csv"
	"strings"
	"testing"
	"time"

	"tarebell/bot/internal/store"
)

// TestHistoryIsNoProgram: a spreadsheet takes nothing that somebody typed for a formula (OWASP, CSV injection).
func TestHistoryIsNoProgram(t *testing.T) {
	at := time.Date(2027, 5, 16, 16, 0, 0, 0, time.UTC)
	vienna, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		t.Fatal(err)
	}
	temp := 19.44
	all := []store.Entry{
		{Seq: 1, Kind: store.Weighing, Cylinder: "=main", At: at, ByName: "@Ines", Origin: "manual", GrossG: 24_600, TempC: &temp, Text: "=HYPERLINK(\"http://a.example\")"},
		{Seq: 2, Kind: store.Event, Cylinder: "main", At: at, ByName: "-1+1", Origin: "manual", Name: "made", Value: "3", Text: "+3, \"thanks\"", Voided: true},
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
