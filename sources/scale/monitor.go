package scale

import (
	"context"
	"fmt"
	"math"
	"time"

	"tarebell/forecast/unit"
)

// MonitorOptions describes a CO2 monitor.
type MonitorOptions struct {
	Endpoint
	Item  string // the cylinder it stands beside
	Value string // JSON Pointer to the ppm; "" the whole answer
}

// Monitor reads the CO2 in the air. It shares everything with Scale but what the number means.
type Monitor struct {
	opt    MonitorOptions
	client *client
	value  pointer
}

// Level is the CO2 that a monitor saw.
type Level struct {
	Item string
	PPM  unit.PPM
	At   time.Time
}

// What a monitor can show: fresh air holds about 420 ppm, and a sensor that is 0 or far below is warming up or
// broken. The upper end is pure CO2. Common practice, no source.
const (
	minPPM = 200
	maxPPM = 1e6
)

// NewMonitor makes a monitor of o. The error says which option is wrong.
func NewMonitor(o MonitorOptions) (*Monitor, error) {
	m := &Monitor{opt: o}
	var err error
	if m.value, err = newPointer(o.Value); err != nil {
		return nil, fmt.Errorf("value: %w", err)
	}
	if m.client, err = newClient(o.Endpoint, o.Value != ""); err != nil {
		return nil, err
	}
	return m, nil
}

// Poll asks once. The error is a *sources.Failure.
func (m *Monitor) Poll(ctx context.Context) (Level, error) {
	a, err := m.client.get(ctx)
	if err != nil {
		return Level{}, m.client.failure(m.opt.Item, err)
	}
	now := m.client.now()
	x, err := m.ppm(a, now)
	if err == nil && (math.IsNaN(x) || x < minPPM || x > maxPPM) {
		err = nonsense(fmt.Sprintf("value is %.6g ppm", x), fmt.Sprintf("want %d to %.0f ppm; is it warming up?", minPPM, float64(maxPPM)))
	}
	if err != nil {
		return Level{}, m.client.failure(m.opt.Item, err)
	}
	return Level{m.opt.Item, unit.PPM(x), now.UTC().Truncate(time.Millisecond)}, nil
}

func (m *Monitor) ppm(a answer, now time.Time) (float64, error) {
	n, err := amount{}, error(nil)
	switch a.form() {
	case senMLForm:
		rs, err := resolve(a.body, now)
		if err != nil {
			return 0, err
		}
		r, err := pick(rs, "", "value", "ppm", partsPerMillion)
		return r.value, err
	case jsonForm:
		doc, err := decodeJSON(a.body)
		if err != nil {
			return 0, err
		}
		if n, err = m.value.number(doc, "value"); err != nil {
			return 0, err
		}
	default:
		if n, err = bareNumber(a); err != nil {
			return 0, err
		}
	}
	if n.unit != "" && n.unit != "ppm" {
		return 0, nonsense("value is "+excerpt(n.text), "want a number, in ppm")
	}
	return n.value, nil
}

// partsPerMillion takes the ratio of the IANA SenML registry, and ppm of RFC 8798, which monitors do send.
func partsPerMillion(u string) (float64, bool) {
	switch u {
	case "ppm":
		return 1, true
	case "/":
		return 1e6, true
	}
	return 0, false
}
