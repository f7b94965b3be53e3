// Package scale reads a scale, or a CO2 monitor, that answers over HTTP, and what a scale sends by itself.
//
// An answer may be JSON, of which a JSON Pointer (RFC 6901) names the weight; a SenML pack (RFC 8428),
// recognised by its content type; or a bare number. Whatever else the other side does - hang, redirect, send
// gigabytes, NaN or a web page - costs one *sources.Failure: bounded in time and memory, with what was read
// and what would be right, and without any secret of the request.
package scale

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"sync"
	"time"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
	"tarebell/sources"
)

// Endpoint says where and how to ask.
type Endpoint struct {
	URL     string        // http or https; user and password in it are sent, never shown; "" only what is sent by itself is read
	Token   string        // sent as a bearer token, or alone in Header; never shown
	Header  string        // that carries Token; "" Authorization
	Timeout time.Duration // for one poll from dialling to the last byte; 0: 10 s

	Now       func() time.Time  // nil: time.Now
	Transport http.RoundTripper // nil: one of its own, without proxy or cache; given in tests
}

// Options describes a scale.
type Options struct {
	Endpoint
	Item        string // the cylinder on it
	Weight      string // JSON Pointer to the gross weight; "" the whole answer
	Record      string // name, or end of the name, of the SenML record with the weight; "" the only one
	Unit        string // of the number: g, kg, lb or oz
	Temperature string // JSON Pointer to degrees Celsius; "" none
	Time        string // JSON Pointer to when it was weighed, RFC 3339 or Unix seconds; "" none
	Raw         *Raw   // nil: the number is a weight already

	Every time.Duration // between two weighings; 0: 10 min
}

// Raw turns counts into Options.Unit: gross = (counts - Zero) / PerUnit.
type Raw struct{ Zero, PerUnit float64 }

// Scale is a sources.Source.
type Scale struct {
	opt    Options
	size   unit.Grams // of Options.Unit
	client *client
	weight pointer
	temp   pointer
	time   pointer

	mu     sync.Mutex
	newest newest
}

// New makes a source of o. The error says which option is wrong.
func New(o Options) (*Scale, error) {
	if o.Every <= 0 {
		o.Every = 10 * time.Minute
	}
	s := &Scale{opt: o, newest: newest{limit: patience * o.Every}}
	var err error
	if s.size, err = unit.MassUnit(o.Unit); err != nil {
		return nil, fmt.Errorf("unit %q: %w", o.Unit, err)
	}
	if o.Raw != nil && o.Raw.PerUnit == 0 {
		return nil, errors.New("raw: counts per unit are 0")
	}
	for _, p := range []struct {
		name, text string
		to         *pointer
	}{{"weight", o.Weight, &s.weight}, {"temperature", o.Temperature, &s.temp}, {"time", o.Time, &s.time}} {
		if *p.to, err = newPointer(p.text); err != nil {
			return nil, fmt.Errorf("%s: %w", p.name, err)
		}
	}
	if s.client, err = newClient(o.Endpoint, o.Weight != ""); err != nil {
		return nil, err
	}
	return s, nil
}

// Asked reports whether the scale can be asked; else it sends by itself.
func (s *Scale) Asked() bool { return s.opt.URL != "" }

// Poll asks once.
func (s *Scale) Poll(ctx context.Context) (record.Event, error) {
	if !s.Asked() {
		return record.Event{}, errors.New("this scale is not asked: it has no url")
	}
	a, err := s.client.get(ctx)
	if err != nil {
		return record.Event{}, s.client.failure(s.opt.Item, err)
	}
	w, _, err := s.take(a)
	return w, err
}

// MaxBody bounds what Read takes.
const MaxBody = maxBody

// Read takes what the scale sent by itself, of at most MaxBody bytes: whatever Poll could have been answered. The same weighing sent
// again has the same key. The note says what was odd but did the weight no harm, such as a temperature sensor that answered nonsense.
func (s *Scale) Read(contentType string, body []byte) (w record.Event, note string, err error) {
	return s.take(answer{mediaType(contentType), body})
}

// take makes the weighing of an answer that came just now, if it is one.
func (s *Scale) take(a answer) (w record.Event, note string, err error) {
	now := s.client.now()
	r, err := s.read(a, now)
	if err == nil {
		w, note = s.weighing(r, now)
		w, err = s.again(w, r.at, now)
	}
	if err == nil {
		err = sources.Check(w, now)
	}
	if err != nil {
		return record.Event{}, "", s.client.failure(s.opt.Item, err)
	}
	return w, note, nil
}

// weighing makes the weighing of a reading that came at now.
func (s *Scale) weighing(r reading, now time.Time) (w record.Event, note string) {
	now = now.UTC().Truncate(time.Millisecond)
	w, note = record.Event{Kind: record.Weighed, Cylinder: s.opt.Item, Gross: r.gross, At: now, Origin: record.Scale}, r.note
	if !r.at.IsZero() {
		w.At, note = trusted(r.at, now, note)
	}
	if r.temp != nil && sources.TempOK(*r.temp) {
		w.Temp, w.HasTemp = *r.temp, true
	} else if r.temp != nil {
		note = join(note, fmt.Sprintf("temperature of %.6g °C not used", float64(*r.temp)))
	}
	return w, note
}

// newest is the last weighing that came with a time of its own.
type newest struct {
	own   time.Time // as the scale gave it
	at    time.Time // as it was taken down
	first time.Time // when it first came
	limit time.Duration
}

const (
	// patience is for how many times Options.Every a scale may hand in the same weighing.
	patience = 4
	// mostPatience bounds what is learned of a scale that weighs more seldom than it is asked.
	mostPatience = 24 * time.Hour
)

// again recognises a weighing that came before: it keeps its time, and so its key. One that comes for too long is a failure, as the
// scale answers and does not weigh. A scale that turns out to weigh more seldom gets more patience.
func (s *Scale) again(w record.Event, own, now time.Time) (record.Event, error) {
	if own.IsZero() {
		return w, nil
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	n := &s.newest
	stood := now.Sub(n.first)
	if !own.Equal(n.own) {
		if !n.own.IsZero() && stood > n.limit {
			n.limit = min(2*stood, patience*n.limit, max(mostPatience, n.limit))
		}
		n.own, n.at, n.first = own, w.At, now
		return w, nil
	}
	if stood > n.limit {
		return w, &sources.Failure{Kind: sources.Stale, Read: fmt.Sprintf("sends the weighing of %s again and again", own.UTC().Format(time.RFC3339)),
			Want: "does it still weigh? want a new time with each weighing, or none"}
	}
	w.At = n.at
	return w, nil
}

// oldest is how late a scale may hand in a weighing with a time of its own.
const oldest = 24 * time.Hour

// trusted is the scale's own time t of a weighing that arrived at now, or now if that clock must be wrong.
func trusted(t, now time.Time, note string) (time.Time, string) {
	t = t.UTC().Truncate(time.Millisecond)
	if d := now.Sub(t); d > oldest || d < -sources.MaxSkew {
		return now, join(note, "the scale's clock says "+t.Format(time.RFC3339)+"; its time is not used")
	}
	return t, note
}

// join adds a remark to a note.
func join(note, more string) string {
	if note == "" || more == "" {
		return note + more
	}
	return note + "; " + more
}

// reading is what one answer says.
type reading struct {
	gross unit.Grams
	temp  *unit.Celsius // as sent, plausible or not
	at    time.Time     // zero: the answer has no time
	note  string
}

func (s *Scale) read(a answer, now time.Time) (reading, error) {
	if a.isSenML() {
		return s.fromSenML(a, now)
	}
	n, doc, err := a.number(s.weight, "weight")
	if err != nil {
		return reading{}, err
	}
	r := reading{}
	if r.gross, err = s.gross(n); err != nil || doc == nil {
		return r, err
	}
	if s.opt.Time != "" {
		if r.at, err = s.time.moment(doc); err != nil {
			return r, err
		}
	}
	if s.opt.Temperature == "" {
		return r, nil
	}
	t, err := s.temp.number(doc, "temperature")
	if err != nil {
		r.note = err.(*sources.Failure).Read
		return r, nil
	}
	r.temp, r.note = celsius(t)
	return r, nil
}

// gross converts the number of an answer; one with a unit must have the unit that was configured.
func (s *Scale) gross(n amount) (unit.Grams, error) {
	if n.unit != "" {
		size, err := unit.MassUnit(n.unit)
		switch {
		case err != nil:
			return 0, nonsense("weight is "+excerpt(n.text), "want a number, in "+s.opt.Unit)
		case s.opt.Raw != nil:
			return 0, nonsense("weight is "+excerpt(n.text)+" where raw counts are configured", "want a number without unit, or no raw")
		case size != s.size:
			return 0, nonsense("weight is "+excerpt(n.text), "the config says "+s.opt.Unit+"; one of the two is wrong")
		}
	}
	x := n.value
	if s.opt.Raw != nil {
		x = (x - s.opt.Raw.Zero) / s.opt.Raw.PerUnit
	}
	return unit.MassOf(x, s.size), nil
}

// celsius reads a temperature that may name its unit.
func celsius(n amount) (*unit.Celsius, string) {
	c := unit.Celsius(n.value)
	switch n.unit {
	case "", "C", "°C", "c":
	case "F", "°F", "f":
		c = unit.Fahrenheit(n.value)
	default:
		return nil, "temperature of " + excerpt(n.text) + " not used"
	}
	return &c, ""
}
