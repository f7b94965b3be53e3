// Package config reads a household's config file: strictly, with every mistake told at once.
//
// A mistake is "file:line:col: key path: what was read: what would be right". Errors (a list of *mistake.Mistake) is
// the only error that Parse returns; Load adds those of reading the file. Quantities carry their unit in the
// file and come out in the units of forecast/unit. Secrets never stand in the file: it names the environment
// variable or the file that holds them.
package config

import (
	"time"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// Config is a whole household.
type Config struct {
	Household Household
	Cylinders []Cylinder // at least one, names unique
	Refill    Refill
	Serving   Serving
	Chat      Chat
	Schedule  Schedule
	Listen    *Listen // nil: no scale sends by itself
	Secrets   []Place // of all tokens
}

// Household is who lives there and how they want to be talked to.
type Household struct {
	Name         string
	Location     *time.Location
	Units        unit.System // in which masses, volumes and temperatures are shown
	Quiet        Quiet
	LitresPerDay unit.Litres // the household's own guess; 0 unknown
	Members      []record.Member
}

// Cylinder is one cylinder and where it stands.
type Cylinder struct {
	record.Cylinder
	Gas        string      // "co2"
	Stock      *Stock      // nil: nothing is charged for the gas that was there first
	Retest     *Retest     // nil: not watched
	Room       *Room       // nil: unknown
	Scale      *Scale      // nil: weights are typed
	CO2Monitor *CO2Monitor // nil: none
}

// Stock is the gas that was in a cylinder before its first weighing.
type Stock struct {
	Price unit.Money
	Payer string // a member
}

// Room is the room a cylinder stands in.
type Room struct {
	Volume      unit.Litres
	AirChanges  float64 // per hour, doors and windows shut
	Temperature unit.Celsius
}

// Listen is where scales send weighings by themselves.
type Listen struct {
	Address string // IP address and port
	Token   SecretSource
}

// loopback is where is listened unless the file says otherwise: only this machine gets there.
const loopback = "127.0.0.1:8090"

// Scale is a scale read over HTTP, or one that sends by itself if it has no URL.
type Scale struct {
	Endpoint
	Weight      string // RFC 6901 JSON Pointer; "" the whole answer
	Record      string // SenML record name; "" the only weight
	Unit        string // g, kg, lb or oz
	Temperature string // RFC 6901 JSON Pointer; "" none
	Time        string // RFC 6901 JSON Pointer; "" none
	Climate     Climate
	Raw         *Raw // nil: the scale sends a weight
	SilentAfter time.Duration
}

// Climate is a range of temperatures that load cells are made for; the zero value: that of their class.
type Climate struct{ From, To unit.Celsius }

// Raw turns a scale's counts into its unit: gross = (counts - Zero) / PerUnit.
type Raw struct{ Zero, PerUnit float64 }

// CO2Monitor is a CO2 monitor read over HTTP.
type CO2Monitor struct {
	Endpoint
	Value string // RFC 6901 JSON Pointer; "" the whole answer
	Alarm unit.PPM
}

// Endpoint is an HTTP address that is polled.
type Endpoint struct {
	URL     URL
	Every   time.Duration
	Timeout time.Duration
	Header  string // that carries the token; "" Authorization: Bearer
	Token   SecretSource
}

// Place is where a token is kept, and the path of the group in the config that says so.
type Place struct {
	Path   string
	Source SecretSource
}

// Refill is how the household gets gas, and what it costs.
type Refill struct {
	record.Refill
	Open     []time.Weekday // the supplier's days, Monday first
	Holidays string         // a country or country-region, lower case; "" none
}

// Serving is one serving as the household makes it; zero means unknown.
type Serving struct {
	Litres unit.Litres
	CO2    unit.Grams
}

// Chat is where the household talks. With nothing set it is the terminal.
type Chat struct{ Discord *Discord }

// Discord is a Discord channel.
type Discord struct {
	Channel  string
	Guild    string // "" found through the channel
	Token    SecretSource
	Roles    []string // that may change something; none: everybody in the channel
	FreeText bool     // read weights typed without a command (message content intent)
}

// Schedule is when something is posted unasked.
type Schedule struct {
	Status string // cron, five fields, in the household's zone
}

// Default is what absent keys mean. Its one cylinder is the pattern for every cylinder; its optional groups
// apply only where a file has that group.
func Default() Config {
	return Config{
		Household: Household{Location: time.UTC},
		Cylinders: []Cylinder{{
			Cylinder:   record.Cylinder{MinPressure: unit.Bar(5)},
			Gas:        "co2",
			Retest:     &Retest{Every: 60},                           // 49 CFR 180.209, table 1
			Room:       &Room{AirChanges: 0.3, Temperature: 20},      // a tight room; common practice, no source
			Scale:      &Scale{Endpoint: endpoint(10 * time.Minute)}, // SilentAfter: see silentAfter
			CO2Monitor: &CO2Monitor{endpoint(time.Minute), "", 5000}, // OSHA, 8 h average
		}},
		Refill:   Refill{Refill: record.Refill{LeadDays: 3, Risk: 0.05}, Open: everyDay()},
		Schedule: Schedule{Status: "0 18 * * SUN"},
	}
}

func endpoint(every time.Duration) Endpoint {
	return Endpoint{Every: every, Timeout: 10 * time.Second}
}

// silentAfter is how long a scale polled so often may say nothing: six hours, or six polls if longer.
func silentAfter(every time.Duration) time.Duration { return max(6*time.Hour, 6*every) }

func everyDay() []time.Weekday {
	return []time.Weekday{time.Monday, time.Tuesday, time.Wednesday, time.Thursday, time.Friday, time.Saturday, time.Sunday}
}
