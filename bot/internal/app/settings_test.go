package app

import (
	"testing"

	"tarebell/config"
)

// 57.29 bar at 20 °C, 35.77 bar at 1 °C: Span & Wagner (1996), table of the saturated states, interpolated for 1 °C.
func TestJudge(t *testing.T) {
	_, err := config.Parse("house.yaml", []byte(`household: {name: Club kitchen, timezone: UTC}
cylinders:
  - {name: a, tare: 14 kg, net_fill: 10 kg, min_pressure: 57 bar}
  - {name: b, tare: 14 kg, net_fill: 10 kg, min_pressure: 60 bar}
  - {name: c, tare: 14 kg, net_fill: 10 kg, min_pressure: 36 bar, room: {volume: 38 m3, temperature: 1 C}}
  - {name: d, tare: 14 kg, net_fill: 10 kg, room: {volume: 38 m3, temperature: 45 C}}
refill: {holidays: DE_xx}
`), Judge)
	want := `house.yaml:4:59: cylinders[1].min_pressure: "60 bar": never reached: CO2 over its liquid has 57.3 bar at 20 C
house.yaml:5:59: cylinders[2].min_pressure: "36 bar": never reached: CO2 over its liquid has 35.8 bar at 1 C
house.yaml:7:20: refill.holidays: "DE_xx": want de- and one of bb be bw by hb he hh mv ni nw rp sh sl sn st th`
	if err == nil || err.Error() != want {
		t.Errorf("got\n%v\nwant\n%s", err, want)
	}
}
