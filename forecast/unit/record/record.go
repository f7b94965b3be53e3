// Package record is what a household tells: who it is and what it has (Member, Cylinder, Refill), and what it records, which is that a
// cylinder was weighed, and what somebody did or said. One Event holds either, in every package from the door where it comes in to the ledger and the engine; its value has one text, that of the ledger and of the
// replay files.
package record

import (
	"cmp"
	"time"

	"tarebell/forecast/unit"
)

// Origin says how an event became known.
type Origin string

// The origins.
const (
	Scale  Origin = "scale"  // read by the program, from a scale or a monitor
	Manual Origin = "manual" // typed or pressed by somebody
)

// Kind is what an event tells.
type Kind string

// The kinds, with the fields of Event that they use besides At, Cylinder, By and Origin. Those from Filled to RanDry are the fixed
// contract of replay.
const (
	Weighed Kind = "weighed" // Gross, Temp

	Filled Kind = "filled"  // Net as printed on the receipt, 0 unknown; Tare of another cylinder, 0 the same; Price; By paid
	Made   Kind = "made"    // Count servings for By
	Away   Kind = "away"    // nobody draws until Until
	Valve  Kind = "valve"   // Open
	Booked Kind = "booked"  // Day
	RanDry Kind = "ran-dry" //

	Unbooked Kind = "unbooked" //
	Mine     Kind = "mine"     // By will see to the refill
	Later    Kind = "later"    // remind again in two days
	Answer   Kind = "answer"   // Cause of what was told at About

	Serving    Kind = "serving"     // CO2 and Litres of one serving, found by weighing
	InUse      Kind = "in-use"      // the cylinder takes the place of Instead
	Calibrated Kind = "calibrated"  // its scale was checked with known masses
	CheckLater Kind = "check-later" // ask for that check again in two weeks
	Afresh     Kind = "afresh"      // Gross is right, whatever was believed before
	Absent     Kind = "absent"      // By is away until Until
	Air        Kind = "air"         // PPM that the CO2 monitor showed
)

// Cause is what a household says that a finding was.
type Cause string

// The causes.
const (
	Unknown  Cause = "unknown"
	Used     Cause = "used"     // ordinary use, a party
	Lost     Cause = "lost"     // a leak or an open valve, confirmed
	Repaired Cause = "repaired" // and it is stopped
	Moved    Cause = "moved"    // lifted, re-zeroed, a fitting taken off or put on
)

// The widest range in which a reading of a household's cylinder scale can lie; common practice, no source. Gross may be a little below zero: an
// empty platform whose zero has drifted.
const (
	MinGross unit.Grams = -20_000
	MaxGross unit.Grams = 1_000_000
)

// Event is one weighing, or one thing that somebody did or said.
type Event struct {
	At       time.Time // when it was weighed or happened
	Cylinder string    // its name in the config; "": the first in use
	Kind     Kind
	By       string // as the household calls them; "" for a scale
	Origin   Origin

	Gross   unit.Grams   // what the platform carries: cylinder, gas and fittings
	Temp    unit.Celsius // at the scale; meaningful if HasTemp
	HasTemp bool

	Net     unit.Grams
	Tare    unit.Grams
	Price   unit.Money
	Count   float64
	Until   time.Time
	Open    bool
	Day     time.Time // its date in UTC is the day meant
	Cause   Cause
	About   time.Time // zero: the latest finding
	CO2     unit.Grams
	Litres  unit.Litres
	PPM     unit.PPM
	Instead string
}

// Member is somebody of the household.
type Member struct {
	Name    string
	ID      string // of their account in the chat; "" unknown
	Carries bool   // can help carry a cylinder
}

// Cylinder is what stands on a cylinder and on its papers, and what rests on the scale with it.
type Cylinder struct {
	Name        string
	Tare        unit.Grams // as stamped, valve included
	Fittings    unit.Grams // regulator, hose, straps
	NetFill     unit.Grams // the gas of a full one
	Capacity    unit.Litres
	MinPressure unit.Pascals // absolute; below it carbonating is pointless
	Spare       bool         // waits its turn
}

// Empty is what the platform carries without gas.
func (c Cylinder) Empty() unit.Grams { return c.Tare + c.Fittings }

// Full is what the platform carries after a nominal fill.
func (c Cylinder) Full() unit.Grams { return c.Empty() + c.NetFill }

// Refill is how a household gets gas, and what it pays. Money that is not known is zero.
type Refill struct {
	LeadDays    int        // calendar days from booking to arrival, 0 or more: their own answer
	Risk        float64    // accepted probability of running dry before it arrives, in (0, 1)
	Price       unit.Money // of one fill
	Alternative unit.Money // of a litre of drink bought otherwise
	Outlay      unit.Money // spent once
	Supplier    string
	Swap        bool // the supplier swaps the cylinder
}

// Currency is that of the prices; "" without any.
func (r Refill) Currency() string {
	return cmp.Or(r.Price.Code(), r.Alternative.Code(), r.Outlay.Code())
}
