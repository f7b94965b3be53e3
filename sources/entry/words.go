package entry

import "time"

// Unit is a unit as typed.
type Unit int

// The units a weight can be typed and told back in.
const (
	Kilograms Unit = iota
	Grams
	Pounds
	PoundsOunces
	ounces // inside this package; told back as PoundsOunces
	stones // told back as Pounds
	noUnit
)

var units = map[string]Unit{
	"kg": Kilograms, "kgs": Kilograms, "kilo": Kilograms, "kilos": Kilograms, "kilogram": Kilograms,
	"kilograms": Kilograms, "kilogramme": Kilograms, "kilogrammes": Kilograms,
	"g": Grams, "gr": Grams, "gram": Grams, "grams": Grams, "gramme": Grams, "grammes": Grams,
	"lb": Pounds, "lbs": Pounds, "pound": Pounds, "pounds": Pounds,
	"oz": ounces, "ozs": ounces, "ounce": ounces, "ounces": ounces,
	"st": stones, "stone": stones, "stones": stones,

	"kilogramm": Kilograms, "kilogramma": Kilograms, "kilogramo": Kilograms, "kilogramos": Kilograms, "quilo": Kilograms,
	"quilos": Kilograms, "quilograma": Kilograms, "quilogramas": Kilograms, "chilo": Kilograms, "chili": Kilograms,
	"chilogrammo": Kilograms, "chilogrammi": Kilograms, "kilogramy": Kilograms, "kilogramów": Kilograms, "kilogramů": Kilograms,
	"кг": Kilograms, "кило": Kilograms, "килограмм": Kilograms, "килограмма": Kilograms, "килограммов": Kilograms,
	"公斤": Kilograms, "千克": Kilograms, "キロ": Kilograms, "キログラム": Kilograms, "킬로": Kilograms, "킬로그램": Kilograms,
	"gramm": Grams, "gramos": Grams, "gramas": Grams, "grammi": Grams, "г": Grams, "克": Grams,
}

// misspelt are slips for kg: a weight with one of them is asked back.
var misspelt = set("kq lg kh jg kf kv gk k kgg kkg kig kgr klg")

// around are words that people put around a weight. None of them makes a message talk.
var around = set("a an the it it's its is was are this that my our i we i've we've on of in at to and with so " +
	"says say said shows showed show reads read got get gives gave stands measured measures measure checked check " +
	"now just currently current right today's still only again here total result value exactly precisely " +
	"about around approx approximately ca circa roughly nearly almost some ok okay hi hello hey sorry oops " +
	"correction actually please note log record add enter bathroom new kitchen done as for no yes or put down after with incl including included")

// anchors speak of weighing: with one of them even an odd number is worth a question.
var anchors = set("scale scales balance display weight weights weighs weigh weighed weighing reading gross net " +
	"cylinder bottle tank gas co filled refilled refill full fill tare regulator hose fittings brutto netto left remaining")

// guesses make a weight doubtful.
var guesses = set("maybe perhaps probably think guess guessed possibly")

// decimalWords stand for a decimal sign in what is dictated.
var decimalWords = set("point comma komma")

var netWords = set("net netto left remaining")

var grossWords = set("gross brutto")

// part is a part of the day: its hour, and the hour at which it begins.
type part struct{ hour, from int }

var (
	morning = part{8, 4}
	night   = part{22, 17}
)

var parts = map[string]part{
	"morning": morning, "noon": {12, 12}, "midday": {12, 11}, "lunch": {12, 11}, "lunchtime": {12, 11},
	"afternoon": {15, 12}, "evening": {19, 17}, "night": night,
}

var weekdays = map[string]time.Weekday{
	"sunday": 0, "monday": 1, "tuesday": 2, "wednesday": 3, "thursday": 4, "friday": 5, "saturday": 6,
	"sun": 0, "mon": 1, "tue": 2, "tues": 2, "wed": 3, "weds": 3, "thu": 4, "thur": 4, "thurs": 4, "fri": 5, "sat": 6,
}

var months = map[string]time.Month{
	"january": 1, "february": 2, "march": 3, "april": 4, "may": 5, "june": 6, "july": 7, "august": 8,
	"september": 9, "october": 10, "november": 11, "december": 12,
	"jan": 1, "feb": 2, "mar": 3, "apr": 4, "jun": 6, "jul": 7, "aug": 8, "sep": 9, "sept": 9, "oct": 10, "nov": 11, "dec": 12,
}

// spans are the units before "ago".
var spans = map[string]time.Duration{
	"min": time.Minute, "mins": time.Minute, "minute": time.Minute, "minutes": time.Minute,
	"h": time.Hour, "hr": time.Hour, "hrs": time.Hour, "hour": time.Hour, "hours": time.Hour,
	"day": 24 * time.Hour, "days": 24 * time.Hour, "week": 7 * 24 * time.Hour, "weeks": 7 * 24 * time.Hour,
}

func set(words string) map[string]bool {
	m := map[string]bool{}
	start := 0
	for i := 0; i <= len(words); i++ {
		if i == len(words) || words[i] == ' ' {
			m[words[start:i]] = true
			start = i + 1
		}
	}
	return m
}
