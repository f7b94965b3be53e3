package notice

import (
	"fmt"

	"tarebell/forecast/serving"
	"tarebell/forecast/unit"
)

// Experiment is a serving found by weighing, held against what water can hold if temperature and pressure were told.
type Experiment struct {
	serving.Result
	Judged    bool
	Verdict   serving.Verdict
	Temp      unit.Celsius
	Pressure  unit.Pascals // absolute
	Gauge     bool         // it was told as a gauge shows it
	Planned   unit.Grams   // what a serving was counted as so far; 0: unknown
	PlannedAs string
}

// volumes is how carbonated the drink is, by what arrived in it.
func (x Experiment) volumes() float64 {
	c, _ := x.InDrink()
	return float64(serving.InVolumes(c))
}

// Experiment says what the weighing of a serving showed.
func (v Voice) Experiment(x Experiment) (headline string, body []string) {
	a, ok := x.PerServing()
	if !ok {
		return "Nothing was weighed, so there is nothing to say about a serving.", nil
	}
	where := "into the drink"
	if x.HasDrawn && a == x.Drawn {
		where = "from the cylinder"
	}
	headline = fmt.Sprintf("A serving takes about %s %s, give or take %s.", v.Fine(a.Mean), where, v.uncertainty(a.SD))
	return headline, lines(v.taken(x), v.vented(x), v.held(x), v.against(x))
}

// uncertainty is how far something may be off, never nothing.
func (v Voice) uncertainty(sd unit.Grams) string {
	least := map[unit.System]unit.Grams{unit.Metric: 0.1, unit.US: unit.GramsPerOunce / 100}
	return v.Fine(max(sd, least[v.System]))
}

func (v Voice) taken(x Experiment) string {
	mean, sd, ok := x.PerLitre()
	if !ok {
		return ""
	}
	a, _ := x.PerServing()
	return fmt.Sprintf("That is %s ± %s for a litre%s%s.", v.Fine(unit.Grams(mean)), v.uncertainty(unit.Grams(sd)),
		when(x.HasUptake && a == x.Uptake, ", about %.1f volumes", x.volumes()),
		when(!x.HasUptake, ", %.1f volumes if all of it stayed in the drink", float64(serving.InVolumes(mean))))
}

func (v Voice) vented(x Experiment) string {
	switch {
	case x.Clash:
		return "More arrived in the bottles than left the cylinder, which cannot be: weigh one of the two again, or check that the bottles are the same."
	case x.HasLost && x.Lost <= 2*x.LostSD:
		return fmt.Sprintf("In the drink are %s of it, about %.1f volumes: nothing to speak of goes into the air.", v.Fine(x.Uptake.Mean), x.volumes())
	case x.HasLost:
		return fmt.Sprintf("In the drink are %s of it, about %.1f volumes; the other %.0f ± %.0f %% go into the air with each serving.", v.Fine(x.Uptake.Mean), x.volumes(), 100*x.Lost, 100*x.LostSD)
	case !x.HasDrawn:
		return "What goes into the air beside it was not weighed: weigh the cylinder too, before and after some servings."
	case !x.HasUptake:
		return "How much of it stays in the drink was not weighed: weigh the bottle too, before and after."
	}
	return "The scale of the cylinder is too coarse for so few servings; take more of them between the two weighings."
}

func (v Voice) held(x Experiment) string {
	if !x.Judged {
		return ""
	}
	at := fmt.Sprintf("at %s and %s absolute%s", v.Temperature(x.Temp), v.Pressure(x.Pressure, 1),
		when(x.Gauge, " (%s on the gauge)", v.Pressure(x.Pressure-unit.PascalsPerAtmosphere, 1)))
	if x.Verdict.Vented > 0 {
		return fmt.Sprintf("Water holds no more than %s a litre %s, so about %s a litre can only go into the air: a shorter push would do.",
			v.Fine(unit.Grams(x.Verdict.CanHold)), at, v.Fine(unit.Grams(x.Verdict.Vented)))
	}
	what := "That"
	if x.HasUptake && x.HasDrawn {
		what = "What is in the drink"
	}
	return fmt.Sprintf("%s is %.0f %% of the %s a litre that water can hold %s; colder water takes more.", what, 100*x.Verdict.Share, v.Fine(unit.Grams(x.Verdict.CanHold)), at)
}

// CanHold says what water holds at most.
func (v Voice) CanHold(c unit.GramsPerLitre, t unit.Celsius, p unit.Pascals) string {
	return fmt.Sprintf("water holds %s at most at %s and %s absolute.", v.Fine(unit.Grams(c)), v.Temperature(t), v.Pressure(p, 1))
}

func (v Voice) against(x Experiment) string {
	a, _ := x.PerServing()
	switch d := a.Mean - x.Planned; {
	case x.Planned <= 0:
		return ""
	case d > 2*a.SD || -d > 2*a.SD:
		return fmt.Sprintf("So far a serving was counted as %s.", v.Fine(x.Planned))
	}
	return fmt.Sprintf("That agrees with the %s counted so far.", v.Fine(x.Planned))
}
