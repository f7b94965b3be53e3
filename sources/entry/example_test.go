package entry_test

import (
	"fmt"
	"time"

	"tarebell/forecast/unit/record"
	"tarebell/sources/entry"
)

// An invented household: a cylinder that stands on the scale with 38.7 kg empty and 61.4 kg full.
func ExampleParse() {
	ctx := entry.Context{
		Now:       time.Date(2026, 11, 25, 19, 30, 0, 0, time.UTC),
		Cylinders: []entry.Cylinder{{Cylinder: record.Cylinder{Name: "main", Tare: 38_700, NetFill: 61_400 - 38_700}, Last: 60_900}},
	}
	for _, text := range []string{"60.8 at 7pm", "134.1", "61.4 kg", "see you at 7"} {
		switch r := entry.Parse(text, ctx).(type) {
		case entry.Understood:
			fmt.Println("understood:", r)
		case entry.Doubtful:
			fmt.Println("asked back:", r.Question)
		case entry.NotAWeight:
			fmt.Println("left alone")
		}
	}
	// Output:
	// understood: main: 60.8 kg gross, 2026-11-25T19:00:00+00:00
	// asked back: Did you mean 134.1 lb (60.83 kg)?
	// asked back: 61.4 kg is 500 g more than by the weights before. Was the cylinder filled?
	// left alone
}
