package scale

import (
	"context"
	"fmt"
	"math"
	"time"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
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

// Poll asks once what the air is like, as an event of kind Air. The error is a *sources.Failure.
func (m *Monitor) Poll(ctx context.Context) (record.Event, error) {
	a, err := m.client.get(ctx)
	now := m.client.now()
	x := 0.0
	if err == nil {
		x, err = m.ppm(a, now)
	}
	if err == nil && (math.IsNaN(x) || x < minPPM || x > maxPPM) {
		err = nonsense(fmt.Sprintf("value is %.6g ppm", x), fmt.Sprintf("want %d to %.0f ppm; is it warming up?", minPPM, float64(maxPPM)))
	}
	if err != nil {
		return record.Event{}, m.client.failure(m.opt.Item, err)
	}
	return record.Event{Kind: record.Air, Cylinder: m.opt.Item, PPM: unit.PPM(x), At: now.UTC().Truncate(time.Millisecond), Origin: record.Scale}, nil
}

func (m *Monitor) ppm(a answer, now time.Time) (float64, error) {
	if a.isSenML() {
		rs, err := resolve(a.body, now)
		if err != nil {
			return 0, err
		}
		r, err := pick(rs, "", "value", "ppm", partsPerMillion)
		return r.value, err
	}
	n, _, err := a.number(m.value, "value")
	if err == nil && n.unit != "" && n.unit != "ppm" {
		err = nonsense("value is "+excerpt(n.text), "want a number, in ppm")
	}
	return n.value, err
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
