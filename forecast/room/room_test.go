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
		got, want := r.Until(5000, leak, start).Hours(), row.Num(t, "hours_to_5000_ppm_or_empty")
		if math.IsNaN(want) {
			if !math.IsInf(got, 1) {
				t.Errorf("%s: reaches 5,000 ppm after %g h, want never", name, got)
			}
			continue
		}
		reftest.Near(t, name+" to 5000", got, want, 2e-6)
	}
}

// Computed elsewhere by the three conventions: printed digits.
func TestRelease(t *testing.T) {
	for _, row := range reftest.Rows(t, "room_full_release_computed") {
		r := made(t, row.Num(t, "room_volume_m3"), 0.5)
		got := r.Release(unit.Kilograms(row.Num(t, "co2_released_kg")))
		name := row["co2_released_kg"] + " kg in " + row["room_volume_m3"] + " m³"
		reftest.Near(t, name+" unmixed", float64(got.Unmixed)/1e6, row.Num(t, "fraction_if_air_leaves_unmixed_V_over_room"), 1e-6)
		reftest.Near(t, name+" mixed", float64(got.Mixed)/1e6, row.Num(t, "fraction_well_mixed_displacement_1_minus_exp"), 1e-6)
		reftest.Near(t, name+" closed", float64(got.Closed)/1e6, row.Num(t, "fraction_closed_room_V_over_room_plus_V"), 1e-6)
	}
	cupboard := made(t, 1, 0)
	if got := cupboard.Release(unit.Kilograms(10)); got.Unmixed != 1e6 {
		t.Errorf("10 kg in a cupboard: %v", got)
	}
	if got := cupboard.After(1, 1000, 420); got != 1e6 {
		t.Errorf("1 kg an hour for a day in a cupboard: %v ppm, want nothing but CO2", got)
	}
}

// litresPerMinute is a source of CO2 given as gas at room temperature.
func litresPerMinute(r room.Room, l float64) unit.GramsPerHour {
	one := r.Release(1000).Closed // x/(1+x) with x = v/V
	x := float64(one) / 1e6
	litres := x / (1 - x) * float64(r.Volume)
	return unit.GramsPerHour(l * 60 * 1000 / litres)
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
			flow := float64(r.Airflow(1000, 0.298*3600)) / 3600 / 1000
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
			flow := float64(r.Airflow(1000, litresPerMinute(r, 0.3))) / 3600
			reftest.Near(t, "L/s", flow, row.Num(t, "computed_answer"), 1e-6)
		default:
			t.Errorf("example %q is not tested", row["example"])
		}
	}
}

// Every limit named here stands in the table as in force with the same value and averaging, and every limit in
// force of these bodies is named here.
func TestLimits(t *testing.T) {
	bodies := map[string]bool{}
	have := map[string]room.Limit{}
	for _, l := range room.Limits() {
		bodies[l.Body] = true
		have[l.Body+" "+l.Kind] = l
	}
	for _, row := range reftest.Rows(t, "exposure_limits") {
		key := row["body"] + " " + row["kind"]
		l, ok := have[key]
		inForce := row["status"] == "in force"
		if !inForce && ok {
			t.Errorf("%s is %s", key, row["status"])
		}
		if !inForce || !bodies[row["body"]] {
			continue
		}
		if !ok || float64(l.Level) != row.Num(t, "value_ppm") || l.Averaging != row["averaging"] {
			t.Errorf("%s: have %+v, table %v", key, l, row)
		}
		if memory := strings.HasPrefix(row["how_obtained"], "from memory"); l.FromMemory != memory {
			t.Errorf("%s: from memory %v, table: %s", key, l.FromMemory, row["how_obtained"])
		}
		delete(have, key)
	}
	if len(have) != 0 {
		t.Errorf("not in the table: %v", have)
	}
}

func TestAbove(t *testing.T) {
	for c, want := range map[unit.PPM]int{420: 0, 5000: 0, 5001: 5, 15001: 6, 30001: 8, 40001: 9} {
		if got := room.Above(c); len(got) != want {
			t.Errorf("%v ppm is above %d limits, want %d", c, len(got), want)
		}
	}
}

// 9.4 g/h in 20 m³ at 0.1 air changes never reaches 5,000 ppm; a valve left open at 250 g/h in 15 m³ does, but a
// cylinder with 200 g left is empty before.
func TestExposure(t *testing.T) {
	weeping := made(t, 20, 0.1).Exposure(9.4, 420, 5000)
	if !math.IsInf(float64(weeping.To5000), 1) || math.Abs(float64(weeping.Highest)-2975.258) > 1e-2 {
		t.Errorf("weeping fitting: %+v", weeping)
	}
	open := made(t, 15, 0.2).Exposure(250, 420, 5000)
	if !(open.To5000 < open.To30000 && open.To30000 < open.To40000 && open.To40000 < open.Empty) {
		t.Errorf("open valve: %+v", open)
	}
	if !(open.In15Minutes < open.In1Hour && open.In1Hour < open.Highest) {
		t.Errorf("open valve: %+v", open)
	}
	last := made(t, 15, 0.2).Exposure(250, 420, 100)
	if !math.IsInf(float64(last.To5000), 1) || last.Highest != last.In1Hour {
		t.Errorf("hardly any gas left: %+v", last)
	}
	none := made(t, 15, 0.2).Exposure(0, 420, 100)
	if none.Highest != 420 || !math.IsInf(float64(none.Empty), 1) || none.In1Hour != 420 {
		t.Errorf("no leak: %+v", none)
	}
}

func TestCheck(t *testing.T) {
	good := made(t, 38, 0.5)
	for _, r := range []struct {
		wrong func(*room.Room)
		says  string
	}{
		{func(r *room.Room) { r.Volume = 0 }, "room volume 0 m³"},
		{func(r *room.Room) { r.AirChanges = -1 }, "air changes -1"},
		{func(r *room.Room) { r.AirChanges = math.NaN() }, "air changes NaN"},
		{func(r *room.Room) { r.Temp = 99 }, "temperature 99"},
		{func(r *room.Room) { r.Outdoor = 2e6 }, "outdoor CO2"},
	} {
		bad := good
		r.wrong(&bad)
		if err := bad.Check(); err == nil || !strings.Contains(err.Error(), r.says) {
			t.Errorf("%+v: %v, want %q", bad, err, r.says)
		}
	}
}

// The concentration at the time to a limit is the limit; a little air change is like none; two spans are like
// their sum; more leak, less air or a smaller room is never better.
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
		limit := unit.PPM(rapid.Float64Range(400, 900000).Draw(t, "limit"))
		if d := r.Until(limit, leak, start); !math.IsInf(float64(d), 1) && d > 0 {
			reftest.Near(t, "at the limit", float64(r.After(d, leak, start)), float64(limit), 1e-6)
		}
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
		if worse.Until(limit, leak*1.1, max(start, r.Outdoor)) > r.Until(limit, leak, max(start, r.Outdoor))*(1+1e-9) {
			t.Errorf("less air and more leak take longer: %+v", r)
		}
	})
}
