package notice

import "tarebell/forecast/unit"

// Weekly is the line above the picture of the weeks.
func (v Voice) Weekly(s Situation) string {
	if !s.Outlook.Known || !s.Outlook.Learned {
		return "What you use in a week is still being learned"
	}
	return "About " + v.Mass(unit.GramsPerDay(s.Outlook.Use.Mean).Over(7)) + " in a week as you live now"
}
