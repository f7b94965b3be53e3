package room

import "tarebell/forecast/unit"

// The three thresholds that the limits in force agree on.
const (
	LongTerm  unit.PPM = 5000  // average over a working day: OSHA PEL, NIOSH REL, ACGIH TLV, EU IOELV, UK WEL
	ShortTerm unit.PPM = 30000 // average over 15 minutes: NIOSH ST, ACGIH STEL
	Dangerous unit.PPM = 40000 // immediately dangerous to life or health: NIOSH IDLH
)

// Limit is a published exposure limit in force for CO2. Limits are made for healthy adults at work, not for
// children, the sick or sleepers.
type Limit struct {
	Body, Kind string
	Level      unit.PPM
	Averaging  string
	Source     string
	FromMemory bool // the source could not be read; the value is from memory
}

// Limits are the limits in force, most lasting first. The vacated OSHA values of 1989 (10,000 and 30,000 ppm), NIOSH's
// of 1976 and the IDLH of 50,000 ppm before 1994, which are still quoted in many places, are left out on purpose.
func Limits() []Limit {
	const niosh = "NIOSH documentation for immediately dangerous to life or health concentrations, CO2 (May 1994)"
	return []Limit{
		{"OSHA", "PEL TWA", LongTerm, "8 h", "29 CFR 1910.1000 Table Z-1", false},
		{"NIOSH", "REL TWA", LongTerm, "10 h", niosh, false},
		{"ACGIH", "TLV-TWA", LongTerm, "8 h", niosh + ", which lists the TLV of 1993-94", false},
		{"EU", "IOELV TWA", LongTerm, "8 h", "Commission Directive 2006/15/EC, annex", true},
		{"UK HSE", "WEL TWA", LongTerm, "8 h", "EH40/2005", true},
		{"UK HSE", "WEL STEL", 15000, "15 min", "EH40/2005", true},
		{"NIOSH", "REL STEL", ShortTerm, "15 min", niosh, false},
		{"ACGIH", "TLV-STEL", ShortTerm, "15 min", niosh + ", which lists the TLV of 1993-94", false},
		{"NIOSH", "IDLH revised", Dangerous, "30 min escape", "NIOSH IDLH revision of 1994", false},
	}
}

// Above are the limits that c exceeds. None does not mean safe.
func Above(c unit.PPM) []Limit {
	var above []Limit
	for _, l := range Limits() {
		if c > l.Level {
			above = append(above, l)
		}
	}
	return above
}
