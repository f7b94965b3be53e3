package loss

import "testing"

// TestCurve demands that the default stands where it is said to: no more false alarms than asked for, nine in
// ten of the visible losses found, in no more than one and a half times the least possible time. go test -v
// prints the curve.
func TestCurve(t *testing.T) {
	asked := []float64{0.003, 0.01, DefaultFalseAlarms, 0.1, 0.3, 1}
	n := 400
	if testing.Short() {
		n, asked = 150, []float64{DefaultFalseAlarms}
	}
	last := TradeOff{Measured: -1}
	for _, p := range Curve(1, n, asked) {
		t.Logf("asked %.3f/year: measured %.3f, found %.3f, delay ratio %.2f", p.Asked, p.Measured, p.Found, p.Delay)
		if p.Measured < last.Measured-0.02 || p.Found < last.Found-0.02 {
			t.Errorf("the curve bends back: %+v after %+v", p, last)
		}
		last = p
		if p.Asked == DefaultFalseAlarms && (p.Measured > 2*p.Asked || p.Found < 0.9 || p.Delay > 1.5) {
			t.Errorf("the default: %+v", p)
		}
	}
}
