package scale

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"github.com/go-openapi/jsonpointer"
)

// isSenML goes by the media type.
func (a answer) isSenML() bool {
	return a.media == "application/senml+json" || a.media == "application/sensml+json"
}

// isJSON goes by the media type where it is telling, else by the first character: many small boards send JSON as text.
func (a answer) isJSON() bool {
	if a.media == "application/json" || strings.HasSuffix(a.media, "+json") {
		return true
	}
	t := bytes.TrimLeft(a.body, "\ufeff \t\r\n")
	return len(t) > 0 && (t[0] == '{' || t[0] == '[')
}

// number finds the number at p in JSON, which is doc, or takes an answer that is a number and nothing else. What names it in messages and in
// the config.
func (a answer) number(p pointer, what string) (n amount, doc any, err error) {
	if !a.isJSON() {
		n, err = bareNumber(a)
	} else if doc, err = decodeJSON(a.body); err == nil {
		n, err = p.number(doc, what)
	}
	return n, doc, err
}

// amount is a number as it came, perhaps with a unit.
type amount struct {
	value float64
	unit  string
	text  string
}

var numeric = regexp.MustCompile(`^([+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][+-]?[0-9]+)?)\s*([^0-9\s]\S*)?$`)

// readAmount reads a number that is the whole text, but for a unit. A comma is a decimal comma unless it may
// separate thousands.
func readAmount(s, what string) (amount, error) {
	s = strings.TrimSpace(s)
	m := numeric.FindStringSubmatch(s)
	if m == nil {
		return amount{}, notNumber(s, what)
	}
	whole, frac, comma := strings.Cut(m[1], ",")
	if comma && len(frac) == 3 && strings.Trim(whole, "+-0") != "" {
		return amount{}, nonsense(what+" is "+excerpt(s), "may be thousands or decimals; want a decimal point")
	}
	x, err := strconv.ParseFloat(strings.Replace(m[1], ",", ".", 1), 64)
	if err != nil || math.IsInf(x, 0) {
		return amount{}, nonsense(what+" is "+excerpt(s), "want a number of sensible size")
	}
	return amount{x, m[2], s}, nil
}

func notNumber(s, what string) error {
	switch strings.ToLower(strings.Trim(s, "+-")) {
	case "nan", "inf", "infinity", "null", "none", "undefined":
		return nonsense(what+" is "+excerpt(s), "the sensor has no reading; is it connected?")
	}
	return unreadable(what+" is "+excerpt(s), "want a number")
}

// bareNumber reads an answer that is a number and nothing else.
func bareNumber(a answer) (amount, error) {
	s := strings.TrimSpace(strings.TrimPrefix(string(a.body), "\ufeff"))
	switch {
	case s == "":
		return amount{}, unreadable("an empty answer", "want a number")
	case s[0] == '<':
		return amount{}, unreadable("a web page: "+excerpt(pageTitle(s)), "want the address of the weight itself, not of a page to look at")
	case len(s) > 200 || strings.ContainsFunc(s, unicode.IsControl):
		return amount{}, unreadable("an answer of "+fmt.Sprint(len(s))+" bytes that starts with "+excerpt(head(s)), "want a number, JSON or SenML")
	}
	return readAmount(s, "the answer")
}

// head is as much of s as an excerpt needs.
func head(s string) string { return s[:min(len(s), 4*maxExcerpt)] }

var title = regexp.MustCompile(`(?is)<title[^>]*>(.{0,200}?)</title>`)

func pageTitle(s string) string {
	if m := title.FindStringSubmatch(s); m != nil {
		return m[1]
	}
	return head(s)
}

// decodeJSON decodes one JSON value and nothing after it; numbers stay as written.
func decodeJSON(body []byte) (any, error) {
	dec := json.NewDecoder(bytes.NewReader(bytes.TrimPrefix(body, []byte("\ufeff"))))
	dec.UseNumber()
	var doc, more any
	err := dec.Decode(&doc)
	switch s := strings.TrimSpace(string(body)); {
	case errors.Is(err, io.EOF):
		return nil, unreadable("an empty answer", "want JSON")
	case err != nil && strings.HasPrefix(s, "<"):
		return nil, unreadable("a web page: "+excerpt(pageTitle(s)), "want JSON")
	case err != nil && notJSONNumber.MatchString(s):
		return nil, nonsense("JSON with "+notJSONNumber.FindString(s), "the sensor has no reading; is it connected?")
	case err != nil:
		return nil, unreadable("broken JSON: "+excerpt(head(s)), "want JSON as RFC 8259 has it")
	case !errors.Is(dec.Decode(&more), io.EOF):
		return nil, unreadable("more than one JSON value: "+excerpt(head(s)), "want one")
	}
	return doc, nil
}

var notJSONNumber = regexp.MustCompile(`\b(NaN|nan|NAN|Infinity|inf)\b`)

// pointer is a JSON Pointer (RFC 6901).
type pointer struct {
	text   string
	tokens []string
}

func newPointer(s string) (pointer, error) {
	p, err := jsonpointer.New(s)
	if err != nil || badEscape.MatchString(s) {
		return pointer{}, fmt.Errorf("%q is no JSON Pointer (RFC 6901); want one such as /weight", s)
	}
	return pointer{s, p.DecodedTokens()}, nil
}

var (
	badEscape  = regexp.MustCompile(`~([^01]|$)`)
	arrayIndex = regexp.MustCompile(`^(0|[1-9][0-9]*)$`) // RFC 6901 section 4; the library also takes 01 and +1
)

// get finds the value; ok is false if there is none.
func (p pointer) get(doc any) (any, bool) {
	for _, tok := range p.tokens {
		if _, list := doc.([]any); list && !arrayIndex.MatchString(tok) {
			return nil, false
		}
		step, err := jsonpointer.New("/" + jsonpointer.Escape(tok))
		if err != nil {
			return nil, false
		}
		if doc, _, err = step.Get(doc); err != nil {
			return nil, false
		}
	}
	return doc, true
}

// number finds a number in doc.
func (p pointer) number(doc any, what string) (amount, error) {
	v, ok := p.get(doc)
	if !ok {
		return amount{}, unreadable("no "+excerpt(p.text)+" in the answer", hint(doc, "", what))
	}
	switch v := v.(type) {
	case json.Number:
		return readAmount(v.String(), what)
	case string:
		return readAmount(v, what)
	case nil:
		return amount{}, nonsense(what+" is null", "the sensor has no reading; is it connected?")
	case bool:
		return amount{}, unreadable(fmt.Sprintf("%s is %v", what, v), "want a number")
	}
	return amount{}, unreadable(what+" is a whole "+kindOf(v), hint(v, p.text, what))
}

// moment finds a time in doc: RFC 3339, or seconds since 1970.
func (p pointer) moment(doc any) (time.Time, error) {
	const want = "want RFC 3339 such as 2027-03-01T12:00:00Z, or seconds since 1970"
	v, ok := p.get(doc)
	if !ok {
		return time.Time{}, unreadable("no "+excerpt(p.text)+" in the answer", "set time to the JSON Pointer of when it was weighed, or leave it out")
	}
	switch v := v.(type) {
	case string:
		if t, err := time.Parse(time.RFC3339, strings.TrimSpace(v)); err == nil {
			return t, nil
		}
		return time.Time{}, unreadable("time is "+excerpt(v), want)
	case json.Number:
		if x, err := v.Float64(); err == nil && math.Abs(x) <= lastTime {
			whole, frac := math.Modf(x)
			return time.Unix(int64(whole), int64(math.Round(frac*1e6))*1e3), nil
		}
		return time.Time{}, nonsense("time is "+excerpt(v.String()), want)
	}
	return time.Time{}, unreadable("time is no time", want)
}

func kindOf(v any) string {
	if _, list := v.([]any); list {
		return "list"
	}
	return "object"
}

// hint names the numbers below doc, which stands at the JSON Pointer at.
func hint(doc any, at, what string) string {
	const most = 5
	found := numbersIn(doc, at, nil)
	switch {
	case len(found) == 0:
		return "there is no number in it; want one"
	case found[0] == "":
		return "the whole answer is a number; leave " + what + " out of the config"
	}
	if len(found) > most {
		found = append(found[:most:most], "…")
	}
	for i, f := range found {
		found[i] = strings.Trim(excerpt(f), `"`)
	}
	return "set " + what + " to the JSON Pointer of one: " + strings.Join(found, ", ")
}

// numbersIn lists JSON Pointers to numbers, in the order of keys, not deeper or more than is useful.
func numbersIn(v any, at string, found []string) []string {
	if len(found) > 5 || strings.Count(at, "/") > 6 {
		return found
	}
	switch v := v.(type) {
	case json.Number:
		return append(found, at)
	case []any:
		for i, e := range v {
			if i > 5 {
				break
			}
			found = numbersIn(e, at+"/"+strconv.Itoa(i), found)
		}
	case map[string]any:
		for _, k := range slices.Sorted(maps.Keys(v)) {
			found = numbersIn(v[k], at+"/"+jsonpointer.Escape(k), found)
		}
	}
	return found
}
