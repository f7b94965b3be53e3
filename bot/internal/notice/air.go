package notice

import (
	"fmt"
	"time"

	"tarebell/forecast/room"
	"tarebell/forecast/unit"
)

// AirAlarm passes on what the CO2 monitor shows.
func (v Voice) AirAlarm(s Situation, ppm unit.PPM, losing bool, key, follows string) Notice {
	n := Notice{Key: key, Follows: follows, Kind: PossibleLeak, Cylinder: s.Cylinder, At: s.Now, Severity: Danger,
		Headline: fmt.Sprintf("The CO2 monitor%s shows %s ppm.", v.beside(s), thousands(float64(ppm)))}
	cause := "The scale sees no loss; the monitor counts all the same. People, a flame or gas from elsewhere may be the cause."
	if losing {
		cause = "The scale sees gas leaving as well."
	}
	n.Body = []string{firstPeople, limits(ppm), cause, "Nobody goes back in before the monitor has come down and fresh air has been let in; in doubt call the fire service."}
	return n
}

// Peak is the highest that a monitor showed since it rose above its alarm.
type Peak struct {
	PPM   unit.PPM
	At    time.Time
	Since time.Time // of the alarm
}

// AirBack tells that the monitor has come down again, and what it had shown: who was away learns of it only now.
func (v Voice) AirBack(s Situation, ppm unit.PPM, peak Peak, key, follows string) Notice {
	return Notice{Key: key, Follows: follows, Kind: PossibleLeak, Cylinder: s.Cylinder, At: s.Now,
		Headline: fmt.Sprintf("The CO2 monitor%s is back at %s ppm.", v.beside(s), thousands(float64(ppm))),
		Body: []string{fmt.Sprintf("It was above its alarm since %s, and highest at %s: %s ppm.", v.Moment(peak.Since, s.Now), v.Moment(peak.At, s.Now), thousands(float64(peak.PPM))),
			"It shows the air where it stands; lower down there may be more. Air the room well, and find out why."}}
}

// AirRisen raises an alert about a loss: the air tells the same.
func (v Voice) AirRisen(s Situation, l Loss, ppm, usual unit.PPM, key, follows string) Notice {
	n := v.Leak(s, l, key, follows)
	n.Severity = Danger
	n.Headline = fmt.Sprintf("Gas is escaping%s, and the CO2 monitor shows it: %s ppm instead of about %s.",
		s.what(), thousands(float64(ppm)), ppmText(usual))
	n.Body[0], n.Body[1] = firstPeople, v.measured(s, l, true)
	return n
}

func (v Voice) beside(s Situation) string {
	if s.Named {
		return " beside cylinder " + s.Cylinder
	}
	return ""
}

// limits says which published limit a level exceeds; see package room for their sources.
func limits(ppm unit.PPM) string {
	switch {
	case ppm >= room.Dangerous:
		return "From " + thousands(float64(room.Dangerous)) + " ppm CO2 is immediately dangerous to life or health (NIOSH)."
	case ppm >= room.ShortTerm:
		return "30,000 ppm is the limit for a quarter of an hour (NIOSH), 40,000 immediately dangerous to life or health."
	case ppm >= room.LongTerm:
		return "5,000 ppm is the limit for a working day (OSHA, NIOSH), 30,000 for a quarter of an hour, 40,000 immediately dangerous."
	}
	return "5,000 ppm is the limit for a working day (OSHA, NIOSH); this is the level that you asked to be told of."
}

func ppmText(p unit.PPM) string { return thousands(roundTo(float64(p), 50)) }
