package room

import "tarebell/forecast/unit"

// The three thresholds that the limits in force agree on. Limits are made for healthy adults at work, not for children, the sick or sleepers. The
// vacated OSHA values of 1989 (10,000 and 30,000 ppm), NIOSH's of 1976 and the IDLH of 50,000 ppm before 1994, which are still quoted in
// many places, are left out on purpose. In the UK the average over 15 minutes must not exceed 15,000 ppm (EH40/2005, from memory).
const (
	LongTerm  unit.PPM = 5000  // average over a working day: OSHA PEL (29 CFR 1910.1000 Table Z-1), NIOSH REL, ACGIH TLV, EU IOELV, UK WEL
	ShortTerm unit.PPM = 30000 // average over 15 minutes: NIOSH ST, ACGIH STEL (NIOSH IDLH documentation, May 1994)
	Dangerous unit.PPM = 40000 // immediately dangerous to life or health: NIOSH IDLH (1994)
)
