package room_test

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tarebell/forecast/room"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/reftest"
)

func cubic(m3 float64) unit.Litres { return unit.Litres(m3 * unit.LitresPerCubicMetre) }

func made(t testing.TB, m3, airChanges float64) room.Room {
	t.Helper()
	r, err := room.New(cubic(m3), airChanges)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// Computed elsewhere from C(t) = Cs + (C0-Cs) exp(-n t) with gas of 1.839345 g/L (20 °C, 1 atm; printed digits):
// 1e-6 relative. "Empty" cells mean never.
func TestTransient(t *testing.T) {
	for _, row := range reftest.Rows(t, "room_transient_computed") {
		r := made(t, row.Num(t, "room_volume_m3"), row.Num(t, "air_changes_per_h"))
		leak, start := unit.GramsPerHour(row.Num(t, "leak_g_per_h")), unit.PPM(row.Num(t, "start_ppm"))
		r.Outdoor = unit.PPM(row.Num(t, "outdoor_ppm"))
		hours := row.Num(t, "t_h")
		name := row["leak_g_per_h"] + " g/h " + row["t_h"] + " h"
		reftest.Near(t, name+" steady", float64(r.Steady(leak)), row.Num(t, "steady_state_ppm"), 1e-6)
		reftest.Near(t, name, float64(r.After(unit.Days(hours/24), leak, start)), row.Num(t, "concentration_ppm"), 1e-6)
		if to := row.Num(t, "hours_to_5000_ppm_or_empty"); to > 0 {
			reftest.Near(t, name+" to 5000", float64(r.After(unit.Days(to/24), leak, start)), 5000, 2e-6)
		} else if steady := r.Steady(leak); math.IsNaN(to) && steady > 5000 {
			t.Errorf("%s: settles at %g ppm, want below 5,000", name, float64(steady))
		}
	}
}

// Computed elsewhere: printed digits.
func TestRelease(t *testing.T) {
	for _, row := range reftest.Rows(t, "room_full_release_computed") {
		r := made(t, row.Num(t, "room_volume_m3"), 0.5)
		got := r.Release(unit.Kilograms(row.Num(t, "co2_released_kg")))
		name := row["co2_released_kg"] + " kg in " + row["room_volume_m3"] + " m³"
		reftest.Near(t, name, float64(got)/1e6, row.Num(t, "fraction_if_air_leaves_unmixed_V_over_room"), 1e-6)
	}
	cupboard := made(t, 1, 0)
	if got := cupboard.Release(unit.Kilograms(10)); got != 1e6 {
		t.Errorf("10 kg in a cupboard: %v", got)
	}
	if got := cupboard.After(1, 1000, 420); got != 1e6 {
		t.Errorf("1 kg an hour for a day in a cupboard: %v ppm, want nothing but CO2", got)
	}
}

// litresPerMinute is a source of CO2 given as gas at room temperature.
func litresPerMinute(r room.Room, l float64) unit.GramsPerHour {
	litres := float64(r.Release(100)) / 1e6 * float64(r.Volume) // of 100 g
	return unit.GramsPerHour(l * 60 * 100 / litres)
}

// airflow is the outdoor air, in L/h, with which r settles at limit: one air change an hour makes the rise that so many make one of.
func airflow(r room.Room, limit unit.PPM, leak unit.GramsPerHour) float64 {
	r.AirChanges = 1
	return float64((r.Steady(leak)-r.Outdoor)/(limit-r.Outdoor)) * float64(r.Volume)
}

// Published ventilation examples (sources in the table).
func TestWorkedExamples(t *testing.T) {
	answer := map[string]float64{}
	for _, row := range reftest.Rows(t, "room_worked_examples") {
		answer[row["example"]] = row.Num(t, "computed_answer")
		switch row["example"] {
		case "dilution ventilation for CO2":
			// Z. Tan, Air Pollution and Greenhouse Gases (2014), p. 441: 2.98e-4 kg/s, 1000 ppm allowed, 500 ppm in the supply
			// air, which swells from 0.822 to 0.855 m³/kg; published 0.31 m³/s. CO2 of 1.83 kg/m³ means about 21.5 °C.
			r := made(t, 100, 1)
			r.Temp, r.Outdoor = 21.47, 500*0.822/0.855
			flow := airflow(r, 1000, 0.298*3600) / 3600 / 1000
			reftest.Near(t, "exhaust m³/s", flow, row.Num(t, "computed_answer"), 1e-3)
			reftest.Within(t, "published", flow, row.Num(t, "published_answer"), 0.005)
		case "ASHRAE 62 per-person airflow":
			// From memory: 0.31 L/min in 7.5 L/s of outdoor air; about 700 ppm above outdoors.
			r := made(t, 27, 1) // 7.5 L/s is one air change of 27 m³
			rise := r.Steady(litresPerMinute(r, 0.31)) - r.Outdoor
			reftest.Near(t, "rise ppm", float64(rise), row.Num(t, "computed_answer"), 1e-4)
			reftest.Within(t, "as rounded there", float64(rise), 700, 15)
		case "per-person airflow exercise":
			r := made(t, 27, 1)
			r.Outdoor = 400
			flow := airflow(r, 1000, litresPerMinute(r, 0.3)) / 3600
			reftest.Near(t, "L/s", flow, row.Num(t, "computed_answer"), 1e-6)
		default:
			t.Errorf("example %q is not tested", row["example"])
		}
	}
}

// TestLimits: the thresholds are the lowest in force for a working day, for a quarter of an hour but in the UK, and for an escape.
func TestLimits(t *testing.T) {
	lowest := map[string]float64{}
	for _, row := range reftest.Rows(t, "exposure_limits") {
		if row["status"] != "in force" || row["body"] == "UK HSE" {
			continue
		}
		span, level := row["averaging"], row.Num(t, "value_ppm")
		if span == "10 h" {
			span = "8 h"
		}
		if have := lowest[span]; have == 0 || level < have {
			lowest[span] = level
		}
	}
	for span, level := range map[string]unit.PPM{"8 h": room.LongTerm, "15 min": room.ShortTerm, "30 min escape": room.Dangerous} {
		if float64(level) != lowest[span] {
			t.Errorf("over %s: %g ppm, the table has %g", span, float64(level), lowest[span])
		}
	}
}

func TestCheck(t *testing.T) {
	good := made(t, 38, 0.5)
	for _, temp := range []unit.Celsius{-30, 50} {
		r := good
		if r.Temp = temp; r.Check() != nil {
			t.Errorf("%g °C: %v", float64(temp), r.Check())
		}
	}
	for _, r := range []struct {
		wrong func(*room.Room)
		says  string
	}{
		{func(r *room.Room) { r.Volume = 0 }, "room volume 0 m³"},
		{func(r *room.Room) { r.AirChanges = -1 }, "air changes -1"},
		{func(r *room.Room) { r.AirChanges = math.NaN() }, "air changes NaN"},
		{func(r *room.Room) { r.Temp = 70 }, "temperature 70"},
		{func(r *room.Room) { r.Temp = -50 }, "temperature -50"},
		{func(r *room.Room) { r.Outdoor = 2e6 }, "outdoor CO2"},
	} {
		bad := good
		r.wrong(&bad)
		if err := bad.Check(); err == nil || !strings.Contains(err.Error(), r.says) {
			t.Errorf("%+v: %v, want %q", bad, err, r.says)
		}
	}
}

// Two spans are like their sum; more leak or less air is never better.
func TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := room.Room{
			Volume:     cubic(rapid.Float64Range(1, 500).Draw(t, "m3")),
			AirChanges: rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(1e-9, 10)).Draw(t, "n"),
			Temp:       unit.Celsius(rapid.Float64Range(-20, 40).Draw(t, "C")),
			Outdoor:    room.Fresh,
		}
		leak := unit.GramsPerHour(rapid.Float64Range(0, 5000).Draw(t, "g/h"))
		start := unit.PPM(rapid.Float64Range(300, 20000).Draw(t, "start"))
		a, b := unit.Days(rapid.Float64Range(0, 2).Draw(t, "a")), unit.Days(rapid.Float64Range(0, 2).Draw(t, "b"))
		whole, parts := r.After(a+b, leak, start), r.After(b, leak, r.After(a, leak, start))
		if whole < 1e6 {
			reftest.Near(t, "two spans", float64(parts), float64(whole), 1e-6)
		}
		worse := r
		worse.AirChanges /= 2
		if start >= r.Outdoor && worse.After(a, leak*1.1, start) < r.After(a, leak, start)*(1-1e-12) {
			t.Errorf("less air and more leak lower the concentration: %+v", r)
		}
	})
}
