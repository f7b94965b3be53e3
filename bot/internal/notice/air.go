package notice

import (
	"fmt"
	"time"

	"tarebell/forecast/room"
	"tarebell/forecast/unit"
)

// AirAlarm passes on what the CO2 monitor shows.
func (v Voice) AirAlarm(p Place, ppm unit.PPM, losing bool) Notice {
	cause := "The scale sees no loss; the monitor counts all the same. People, a flame or gas from elsewhere may be the cause."
	if losing {
		cause = "The scale sees gas leaving as well."
	}
	n := p.notice(PossibleLeak, fmt.Sprintf("The CO2 monitor%s shows %s ppm.", p.beside(), whole(ppm)), cautionDanger, limits(ppm), cause,
		"Nobody goes back in before the monitor has come down and fresh air has been let in; in doubt call the fire service.")
	n.Severity = Danger
	return n
}

// Peak is the highest that a monitor showed since it rose above its alarm.
type Peak struct {
	PPM   unit.PPM
	At    time.Time
	Since time.Time // of the alarm
}

// AirBack tells that the monitor has come down again, and what it had shown: who was away learns of it only now.
func (v Voice) AirBack(p Place, ppm unit.PPM, peak Peak) Notice {
	return p.notice(PossibleLeak, fmt.Sprintf("The CO2 monitor%s is back at %s ppm.", p.beside(), whole(ppm)),
		fmt.Sprintf("It was above its alarm since %s, and highest at %s: %s ppm.", v.Moment(peak.Since, p.Now), v.Moment(peak.At, p.Now), whole(peak.PPM)),
		"It shows the air where it stands; lower down there may be more. Air the room well, and find out why.")
}

// AirRisen raises an alert about a loss: the air tells the same.
func (v Voice) AirRisen(p Place, l Loss, ppm, usual unit.PPM) Notice {
	n := v.Leak(p, l)
	n.Severity = Danger
	n.Headline = fmt.Sprintf("Gas is escaping%s, and the CO2 monitor shows it: %s ppm instead of about %s.",
		p.in(), whole(ppm), thousands(unit.RoundTo(float64(usual), 50)))
	n.Body[0], n.Body[1] = cautionDanger, v.measured(p, l, true)
	return n
}

func (p Place) beside() string { return p.which(" beside cylinder ") }

// limits says which published limit a level exceeds.
func limits(ppm unit.PPM) string {
	switch {
	case ppm >= room.Dangerous:
		return "From " + dangerous + " CO2 is immediately dangerous to life or health (NIOSH)."
	case ppm >= room.ShortTerm:
		return shortTerm + " is the limit for a quarter of an hour (NIOSH), " + whole(room.Dangerous) + " immediately dangerous to life or health."
	case ppm >= room.LongTerm:
		return longTerm + " is the limit for a working day (OSHA, NIOSH), " + whole(room.ShortTerm) + " for a quarter of an hour, " + whole(room.Dangerous) + " immediately dangerous."
	}
	return longTerm + " is the limit for a working day (OSHA, NIOSH); this is the level that you asked to be told of."
}
