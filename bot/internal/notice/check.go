package notice

import (
	"fmt"
	"time"

	"tarebell/forecast/calibration"
)

// Check is why a scale should be held against a known mass.
type Check struct {
	calibration.Since
	Why     []calibration.Reason
	Checked bool // it was checked before, at Last; else Last is when it was first heard
}

// CheckScale asks for a check of the scale. It may be put off; nothing else waits for it.
func (v Voice) CheckScale(p Place, c Check) Notice {
	n := p.notice(OddReading, fmt.Sprintf("When it suits: hold the scale%s against a known mass.", p.which(" ")))
	for _, why := range c.Why {
		n.Body = append(n.Body, v.whyCheck(c, why, p.Now))
	}
	n.Body = append(n.Body, "A can of water that was weighed elsewhere will do; /calibrate says how. The forecast goes on as before.")
	n.Actions = []Action{{"checked:" + p.Cylinder, "We checked it"}, {"checklater:" + p.Cylinder, "Remind us in 2 weeks"}}
	return n
}

func (v Voice) whyCheck(c Check, why calibration.Reason, now time.Time) string {
	made := fmt.Sprintf("its load cells are made for %s to %s and may read differently after that.", v.Temperature(c.From), v.Temperature(c.To))
	switch why {
	case calibration.TooCold:
		return fmt.Sprintf("It has been as cold as %s; %s", v.Temperature(c.Coldest), made)
	case calibration.TooHot:
		return fmt.Sprintf("It has been as hot as %s; %s", v.Temperature(c.Hottest), made)
	case calibration.FillDisagrees:
		return fmt.Sprintf("The last receipt said %s, the scale found %s: one of the two is off.", v.Mass(c.Receipt), v.Mass(c.Scale))
	}
	if !c.Checked {
		return fmt.Sprintf("It has weighed since %s and was not checked yet.", v.Day(c.Last, now))
	}
	return fmt.Sprintf("It was last checked on %s, half a year ago or more.", v.Day(c.Last, now))
}
