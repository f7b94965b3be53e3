// Package entry understands a weight that somebody typed: "61.4 kg", "135 lb 6 oz this morning", "61,4",
// "yesterday 18:00 60.9", "net 7.2 kg", "main 24.85kg". Text and time go in, a Reading comes out; where the
// text came from is not its business.
//
// A Reading is one of four: Understood, to be stored and told back; Doubtful, to be asked back with one question, neither stored nor thrown
// away; Reported, talk that plainly tells how the cylinder stands, to be asked back too; NotAWeight, talk that is none of our business and
// is left alone.
//
// How it reads. The text is cut into numbers, words and signs, without the chat's markup. From left to right phrases are taken out: a
// cylinder's name, a day, a time, a mass. What the other words can be says the lexicon (lexicon/*.txt: English, German, French, Spanish, read
// all at once; a phrase has one of some forty roles). Decimals may be written with a point or a comma, digits in any script.
//
// How it judges. A plausible gross mass with its unit is at least asked about, whatever stands around it; it is understood when every word is
// in the lexicon. A lone number is less: it is left alone beside words or signs that are not understood (prices, hours, scores), unless the
// message speaks of weighing; it is asked about when it is whole, has a point after it, may be a time or a price, or stands beside words
// such as "for"; else it is understood. What does not fit the cylinder may be in another unit, or the gas alone: that is asked.
//
// Times. A day without a time means noon; a part of the day stands for one hour (morning 8, noon 12,
// afternoon 15, evening 19, night 22), or for now if that part has begun and its hour has not come. "At 7"
// without am or pm is the latest 7 o'clock of that day that is past. A local time that occurs twice (clocks
// set back) is the later one that is not still to come; one that does not occur (clocks set forward) is
// read with the offset before the change, so that 02:30 becomes 03:30.
package entry

import (
	"strings"
	"time"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// Context is what the household knows when somebody types.
type Context struct {
	// Now is when the message was sent, in the household's time zone.
	Now time.Time
	// Units is the system a number without unit is in, and the one questions are asked in.
	Units unit.System
	// Cylinders that could be meant.
	Cylinders []Cylinder
	// Asked means that the text was given as a weight (after a command, as an answer). Then nothing is
	// left alone: what holds no weight comes back as Doubtful.
	Asked bool
	// Correcting means that the author typed a weight just now that this one may put right.
	Correcting bool

	text string // as typed
}

// Cylinder is what makes a weight plausible for one cylinder. Without a net fill nothing is known. A spare one is only meant where it is
// named.
type Cylinder struct {
	record.Cylinder
	Last   unit.Grams // last gross weight, 0: none
	LastAt time.Time  // and when
	Dry    bool       // it was reported to have run dry since it was last weighed
}

// slack is by how much the gross weight may rise without a fill: it covers a bathroom scale that steps by 100 g; common practice, no source.
const slack unit.Grams = 300

// Reading is NotAWeight, Understood, Doubtful or Reported.
type Reading interface{ reading() }

// NotAWeight is talk.
type NotAWeight struct{}

// Understood is a weighing as it was understood.
type Understood struct {
	Gross    unit.Grams // what the platform carried; the gas alone if Net
	Net      bool
	At       time.Time // whole seconds, in the location of Context.Now
	Cylinder string    // "" if the household named none
	Unit     Unit      // as typed or assumed, for saying it back
}

// Doubtful is a weight that somebody should be asked about.
type Doubtful struct {
	Reason Reason
	// Question is one plain sentence or two, ending in a question mark.
	Question string
	// Candidates are what it may have meant, likeliest first; none if nothing could be told apart.
	Candidates []Understood
}

// State is how somebody says that the cylinder stands.
type State string

// The states.
const (
	Empty  State = "empty"
	Filled State = "filled" // or another one
)

// Reported is talk without a weight that plainly tells of the cylinder's state: to be asked back.
type Reported struct {
	State    State
	Cylinder string // "" if none was named
}

func (Reported) reading()   {}
func (NotAWeight) reading() {}
func (Understood) reading() {}
func (Doubtful) reading()   {}

// Reason says why a reading is doubtful.
type Reason string

// The reasons, in the order in which they are looked for. Only the first is asked about.
const (
	Unreadable    Reason = "unreadable"     // no weight found though one was asked for
	TwoWeights    Reason = "two-weights"    // which?
	Negative      Reason = "negative"       // below zero
	WhichCylinder Reason = "which-cylinder" // several could be meant
	WhichTime     Reason = "which-time"     // morning or evening
	Future        Reason = "future"         // still to come
	LongAgo       Reason = "long-ago"       // a date without a year, months back
	WrongUnit     Reason = "wrong-unit"     // only the other unit is plausible
	NetOrGross    Reason = "net-or-gross"   // only the other of the two is plausible
	OutOfRange    Reason = "out-of-range"   // plausible in no way
	Rise          Reason = "rise"           // more than last time: filled?
	Drop          Reason = "drop"           // a mere number far below last time
	Unsure        Reason = "unsure"         // written as a question, a guess, or among other words
)

// maxLen bounds a message that can be a weight, in bytes.
const maxLen = 240

// Parse reads text.
func Parse(text string, ctx Context) Reading {
	ctx.Now = ctx.Now.Truncate(time.Second)
	ctx.text = text
	if len(text) > maxLen {
		return unreadable(&ctx)
	}
	toks, names := lex(normal(text)), nameTokens(ctx.Cylinders)
	if len(toks) > 0 && toks[0].text == "/" {
		return unreadable(&ctx) // a command
	}
	r := judge(scan(toks, names, &ctx), &ctx)
	if _, understood := r.(Understood); !understood && len(names) > 0 {
		// A name such as "10 kg" may have taken the weight itself.
		if f := scan(toks, nil, &ctx); len(f.masses) > 0 && !holdsWeight(r) {
			return judge(f, &ctx)
		}
	}
	return r
}

// TakesBack reports that text says of what its author said before that it is wrong: "no, 21.1", "not 21.5, 21.4".
func TakesBack(text string) bool {
	f := scan(lex(normal(text)), nil, &Context{})
	return f.heard[isWrong]
}

func holdsWeight(r Reading) bool {
	d, ok := r.(Doubtful)
	return ok && len(d.Candidates) > 0
}

func unreadable(ctx *Context) Reading {
	if !ctx.Asked {
		return NotAWeight{}
	}
	return Doubtful{Reason: Unreadable, Question: "I found no weight in “" + brief(ctx.text) + "”. What does the scale say, for example " + Example(*ctx) + "?"}
}

// Example is a weight as the scale may show it.
func Example(ctx Context) string {
	if len(ctx.Cylinders) > 0 && ctx.Cylinders[0].NetFill > 0 {
		c := ctx.Cylinders[0]
		u := household(&ctx)
		return in(c.Empty()+c.NetFill/2, u, 1)
	}
	if ctx.Units == unit.US {
		return "135.4 lb"
	}
	return "61.4 kg"
}

// brief is text on one line and without question marks, cut where it gets long.
func brief(text string) string {
	r := []rune(strings.Join(strings.Fields(strings.ReplaceAll(text, "?", "")), " "))
	if len(r) > 40 {
		return string(r[:39]) + "…"
	}
	return string(r)
}

// Mass reads text that is a mass and nothing else: "9.07 kg", "20 lb 4 oz". A number without unit is in s. Whether it can be a cylinder's is
// not asked.
func Mass(text string, s unit.System) (unit.Grams, bool) {
	ctx := Context{Units: s}
	f := scan(lex(normal(text)), nil, &ctx)
	if len(f.masses) != 1 || f.unclear() || f.masses[0].negative || f.when.said() {
		return 0, false
	}
	u := asWritten(f.masses[0], false, &Cylinder{}, &ctx)
	return u.Gross, u.Gross > 0
}
