package notice

import (
	"time"

	"tarebell/forecast/cost"
	"tarebell/forecast/unit"
)

// Fill is one filling of a cylinder, from when it was told or seen until the next. Zero is unknown but where NaN is
// said.
type Fill struct {
	Cylinder string
	At       time.Time
	Until    time.Time // zero: it is the present one
	First    bool      // what was in the cylinder when the first weight came; nobody told of a filling
	Receipt  unit.Grams
	Seen     unit.Grams // net gas by the scale
	SeenSD   unit.Grams
	Tare     unit.Grams // of another cylinder that came instead
	Price    unit.Money
	By       string     // who told of it, and paid
	Used     unit.Grams // so far; NaN
	Lost     unit.Grams
}

// Closure is a public holiday of the supplier's.
type Closure struct {
	Day  time.Time
	Name string
}

// Turn is somebody's place in the list of who booked or carried least lately.
type Turn struct {
	Name string
	Last time.Time // zero: not since this is kept
}

// Consumer is somebody who drinks, with the servings logged for them.
type Consumer struct {
	Name     string
	Servings float64
}

// Account is what the gas has cost a household so far.
type Account struct {
	Now     time.Time
	Since   time.Time // of the first weighing; zero: none
	Fills   []Fill    // of every cylinder, oldest first
	Named   bool      // there are several cylinders
	Gas     cost.Rate // per gram; not known without any price
	Assumed bool      // no fill told its price: that of the config is taken

	Used, Lost    unit.Grams // NaN: not known
	Logged        unit.Grams // of Used, by servings that people logged
	GramsPerLitre float64    // 0: unknown
	Servings      float64    // logged

	Alternative, Outlay unit.Money
	Saving              cost.Saving
	Compared            bool

	Members []Consumer
	Shares  []cost.Share // of the Members; empty: not divided
	Trouble string       // why there is no figure, for people; empty: none
}
