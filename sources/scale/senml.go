package scale

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"tarebell/forecast/unit"
)

// senMLVersion is the version that this reader knows (RFC 8428 section 4.4). RFC 9100 turns later versions into
// feature bits; a pack that needs any of them is refused.
const senMLVersion = 10

// relativeBelow is the time under which a SenML time counts from now: 2^28 s (RFC 8428 section 4.5.3).
const relativeBelow = 1 << 28

// lastTime is the last time that is read, s: in the year 3871, so that years keep four digits.
const lastTime = 6e10

// senRecord is one resolved SenML record with a number (RFC 8428 section 4.6).
type senRecord struct {
	name  string
	unit  string
	value float64
	timed bool // it has a time of its own
	time  time.Time
}

// carried are the base fields that hold for the records after theirs too (RFC 8428 section 4.1).
var carried = []string{"bn", "bu", "bt", "bv"}

// resolve gives the numeric records of a pack with base values applied, relative times counted from now.
// Records that hold only a string, a boolean, data or a sum are left out.
func resolve(body []byte, now time.Time) ([]senRecord, error) {
	doc, err := decodeJSON(body)
	if err != nil {
		return nil, err
	}
	pack, ok := doc.([]any)
	if !ok {
		return nil, unreadable("SenML that is no list: "+excerpt(head(string(bytes.TrimSpace(body)))), "want a list of records (RFC 8428 section 5)")
	}
	var out []senRecord
	base := map[string]any{}
	for i, e := range pack {
		fields, ok := e.(map[string]any)
		if !ok {
			return nil, senMLFault(i, "is no object")
		}
		for _, name := range carried {
			if v, given := fields[name]; given {
				base[name] = v
			}
		}
		maps.Copy(fields, base)
		r, numeric, err := resolved(i, fields, now)
		if err != nil {
			return nil, err
		}
		if numeric {
			out = append(out, r)
		}
	}
	return out, nil
}

func senMLFault(i int, what string) error {
	return unreadable(fmt.Sprintf("SenML record %d %s", i+1, what), "want records as in RFC 8428 section 4")
}

// resolved is a record of which the base fields are its own.
func resolved(i int, f map[string]any, now time.Time) (r senRecord, numeric bool, err error) {
	g := fieldReader{i: i, f: f}
	g.mustUnderstand()
	if v, _ := g.number("bver"); v > senMLVersion {
		return r, false, senMLFault(i, fmt.Sprintf("has version %v; known is %d", v, senMLVersion))
	}
	bt, based := g.number("bt")
	t, timed := g.number("t")
	bv, summed := g.number("bv")
	v, has := g.number("v")
	r = senRecord{name: g.text("bn", "") + g.text("n", ""), unit: g.text("u", g.text("bu", "")), timed: timed || based, value: v + bv}
	if r.time, err = senMLTime(i, t+bt, now); err != nil {
		return r, false, err
	}
	if math.IsInf(r.value, 0) {
		return r, false, senMLFault(i, "has a value out of range")
	}
	return r, has || summed && !g.any("vs", "vb", "vd", "s"), g.err
}

// senMLTime is the moment that s seconds mean at now.
func senMLTime(i int, s float64, now time.Time) (time.Time, error) {
	if math.Abs(s) > lastTime {
		return now, senMLFault(i, "has a time out of range")
	}
	whole, frac := math.Modf(s)
	d := time.Duration(math.Round(frac*1e6)) * time.Microsecond
	if s < relativeBelow {
		// In whole seconds first: time.Duration ends at 292 years.
		return time.Unix(now.Unix()+int64(whole), int64(now.Nanosecond())).Add(d), nil
	}
	return time.Unix(int64(whole), 0).Add(d), nil
}

// fieldReader reads typed fields of record i and keeps the first fault.
type fieldReader struct {
	i   int
	f   map[string]any
	err error
}

// mustUnderstand refuses a field whose name ends in _ (RFC 8428 section 4.4): none is known here.
func (g *fieldReader) mustUnderstand() {
	for k := range g.f {
		if strings.HasSuffix(k, "_") && g.err == nil {
			g.err = senMLFault(g.i, "needs the field "+excerpt(k)+" to be understood")
		}
	}
}

func (g *fieldReader) any(names ...string) bool {
	return slices.ContainsFunc(names, func(n string) bool { _, ok := g.f[n]; return ok })
}

func (g *fieldReader) fault(name, want string) {
	if g.err == nil {
		g.err = senMLFault(g.i, fmt.Sprintf("has a field %s that is no %s", name, want))
	}
}

func (g *fieldReader) number(name string) (float64, bool) {
	v, ok := g.f[name]
	if !ok {
		return 0, false
	}
	n, isNumber := v.(json.Number)
	x, err := n.Float64()
	if !isNumber || err != nil {
		g.fault(name, "number")
		return 0, false
	}
	return x, true
}

func (g *fieldReader) text(name, absent string) string {
	v, ok := g.f[name]
	if !ok {
		return absent
	}
	s, isText := v.(string)
	if !isText {
		g.fault(name, "string")
	}
	return s
}

// fromSenML takes the latest record with a mass, and with it the latest temperature if there is just one.
func (s *Scale) fromSenML(a answer, now time.Time) (reading, error) {
	rs, err := resolve(a.body, now)
	if err != nil {
		return reading{}, err
	}
	w, err := pick(rs, s.opt.Record, "weight", "kg", s.massUnit)
	if err != nil {
		return reading{}, err
	}
	r := reading{gross: unit.MassOf(w.value, 1)}
	if s.opt.Raw != nil {
		r.gross, _ = s.gross(amount{value: w.value}) // no unit, no fault
	}
	if w.timed {
		r.at = w.time
	}
	if t, err := pick(rs, "", "temperature", "Cel", celsiusUnit); err == nil {
		c := unit.Celsius(t.value)
		if t.unit == "K" {
			c -= 273.15
		}
		r.temp = &c
	}
	return r, nil
}

// massUnit is the size in grams of a SenML unit that a weight may have: kg, or g, which the IANA registry has
// but does not recommend. Raw counts have no unit, or count.
func (s *Scale) massUnit(u string) (float64, bool) {
	if s.opt.Raw != nil {
		return 1, u == "" || u == "count"
	}
	switch u {
	case "kg":
		return unit.GramsPerKilogram, true
	case "g":
		return 1, true
	}
	return 0, false
}

// celsiusUnit takes the two temperatures of the IANA registry.
func celsiusUnit(u string) (float64, bool) { return 1, u == "Cel" || u == "K" }

// pick finds the latest record whose unit fits, scaled to the base unit. Name, if given, is its name or the
// end of it. Several names that fit are a fault.
func pick(rs []senRecord, name, what, want string, fits func(unit string) (size float64, ok bool)) (senRecord, error) {
	var best senRecord
	var found, others []string
	for _, r := range rs {
		size, ok := fits(r.unit)
		switch {
		case !ok:
			others = appendNew(others, r.unit)
			continue
		case name != "" && !strings.HasSuffix(r.name, name):
			others = appendNew(others, r.name)
			continue
		}
		first := len(found) == 0
		found = appendNew(found, r.name)
		if r.value *= size; first || !r.time.Before(best.time) {
			best = r
		}
	}
	switch {
	case len(found) > 1:
		return senRecord{}, unreadable("SenML with several records in "+want+": "+listed(found), "set record to the name of the "+what)
	case len(found) == 0 && len(others) == 0:
		return senRecord{}, unreadable("SenML without a number", "want a record in "+want)
	case len(found) == 0 && name != "":
		return senRecord{}, unreadable("SenML without a record "+excerpt(name)+" in "+want+", but "+listed(others), "is record right?")
	case len(found) == 0:
		return senRecord{}, unreadable("SenML without a record in "+want+", but in "+listed(others), "want the "+what+" in "+want)
	}
	return best, nil
}

func appendNew(list []string, s string) []string {
	if slices.Contains(list, s) || len(list) > 4 {
		return list
	}
	return append(list, s)
}

func listed(names []string) string {
	quoted := make([]string, len(names))
	for i, n := range names {
		quoted[i] = excerpt(n)
	}
	return strings.Join(quoted, ", ")
}
