package household

import (
	"testing"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast/refill"
)

// TestDecide: what is said and why, one row a rule; the first that fits counts.
func TestDecide(t *testing.T) {
	now := time.Date(2027, 5, 16, 8, 0, 0, 0, time.UTC)
	day := func(n int) time.Time { return now.AddDate(0, 0, n) }
	soon := refill.Plan{Known: true, RemindBy: day(2), BookBy: day(5)}
	due := refill.Plan{Known: true, RemindBy: now, BookBy: day(3), Due: true}
	over := refill.Plan{Known: true, RemindBy: now, BookBy: now, Due: true, Overdue: true}
	helps := Weight{Gain: 2 * worthWeighing, Wait: 2}
	asked := func(ago int) Weight { w := helps; w.Asked = day(-ago); return w }
	for _, r := range []struct {
		rule  string
		facts Facts
		say   notice.Kind
		why   notice.Reason
		until time.Time
	}{
		{"a spare", Facts{Spare: true, Known: true, Plan: due}, "", notice.WaitsItsTurn, time.Time{}},
		{"no weight yet", Facts{}, "", notice.NothingKnown, time.Time{}},
		{"gas escapes", Facts{Known: true, Plan: due, Escaping: day(1)}, "", notice.LossFirst, day(1)},
		{"it escaped", Facts{Known: true, Plan: due, Escaping: day(-1)}, notice.RefillDue, notice.TimeToBook, day(3)},
		{"booked", Facts{Known: true, Plan: over, Booked: day(1)}, "", notice.AlreadyBooked, day(1)},
		{"years of gas", Facts{Known: true, Plan: refill.Plan{Known: true}}, "", notice.Plenty, time.Time{}},
		{"not yet", Facts{Known: true, Plan: soon}, "", notice.Plenty, day(2)},
		{"due", Facts{Known: true, Plan: due}, notice.RefillDue, notice.TimeToBook, day(3)},
		{"reminded", Facts{Known: true, Plan: due, Reminded: true, NotBefore: day(1)}, "", notice.Reminded, day(1)},
		{"a weight would tell, and comes just in time", Facts{Known: true, Plan: soon, Weight: helps}, notice.WeighDue, notice.WeightDecides, day(2)},
		{"it would come in time tomorrow, too", Facts{Known: true, Plan: refill.Plan{Known: true, RemindBy: day(3), BookBy: day(5)}, Weight: helps}, "", notice.Plenty, day(3)},
		{"with the weekly status it is asked for a week ahead", Facts{Known: true, Plan: refill.Plan{Known: true, RemindBy: day(9), BookBy: day(12)}, Weight: Weight{Gain: 9, Wait: 2, Ahead: 7}}, notice.WeighDue, notice.WeightDecides, day(9)},
		{"a weight would tell little", Facts{Known: true, Plan: due, Weight: Weight{Gain: worthWeighing / 2, Wait: 2}}, notice.RefillDue, notice.TimeToBook, day(3)},
		{"it is due, and a weight would tell", Facts{Known: true, Plan: due, Weight: helps}, notice.WeighDue, notice.WeightDecides, now},
		{"weighed today, and little known of the use", Facts{Known: true, Plan: due, Weight: Weight{Gain: 9, Wait: 2, Fresh: true}}, "", notice.WeightAwaited, day(1)},
		{"weighed today, and too late", Facts{Known: true, Plan: over, Weight: Weight{Gain: 9, Wait: 2, Fresh: true}}, notice.RefillDue, notice.TimeToBook, now},
		{"full, though it is thought to go fast", Facts{Known: true, Plan: over, Full: true}, notice.WeighDue, notice.WeightDecides, now},
		{"full and weighed today", Facts{Known: true, Plan: over, Full: true, Weight: Weight{Fresh: true}}, "", notice.WeightAwaited, day(1)},
		{"full and asked for", Facts{Known: true, Plan: over, Full: true, Weight: Weight{Asked: day(-1)}}, "", notice.WeightAwaited, day(1)},
		{"full on a scale, though it is thought to go fast", Facts{Known: true, Plan: over, Early: true}, "", notice.TooSoon, day(1)},
		{"the same, told before", Facts{Known: true, Plan: over, Early: true, Reminded: true}, notice.RefillDue, notice.TimeToBook, now},
		{"asked for", Facts{Known: true, Plan: due, Weight: asked(1)}, "", notice.WeightAwaited, day(1)},
		{"asked for, but nobody brought it", Facts{Known: true, Plan: due, Weight: asked(2)}, notice.RefillDue, notice.TimeToBook, day(3)},
		{"asked for, not due", Facts{Known: true, Plan: soon, Weight: asked(1)}, "", notice.Plenty, day(2)},
		{"asked for long ago", Facts{Known: true, Plan: soon, Weight: asked(8)}, notice.WeighDue, notice.WeightDecides, day(2)},
		{"too late to wait for a weight", Facts{Known: true, Plan: over, Weight: helps}, notice.RefillDue, notice.TimeToBook, now},
		{"too late to wait for one that is asked for", Facts{Known: true, Plan: over, Weight: asked(1)}, notice.RefillDue, notice.TimeToBook, now},
	} {
		r.facts.Now = now
		if d := Decide(r.facts); d.Say != r.say || d.Why != r.why || !d.Until.Equal(r.until) || !d.At.Equal(now) {
			t.Errorf("%s: say %q, %s until %s; want %q, %s until %s", r.rule, d.Say, d.Why, d.Until, r.say, r.why, r.until)
		}
	}
}
