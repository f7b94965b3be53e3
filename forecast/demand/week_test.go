package demand

import "testing"

// TestWeekend: a household that draws on two days of the week is expected to draw on these; on the others nothing is forgiven for it.
func TestWeekend(t *testing.T) {
	m := New()
	for step := range 10 * 7 * 48 {
		hour := float64(step%(7*48)) / 2
		draws, mass := 0.0, 0.0
		if d := int(hour / 24); (d == 0 || d == 6) && int(hour)%24 >= 12 && int(hour)%24 < 20 {
			draws, mass = 1, 15
		}
		now := Law{1}
		if draws > 0 {
			now = Law{}
			now[3] = 1
		}
		m.Learn(hour, &now, 1)
		m.Seen(hour, 0.5, draws, mass)
	}
	const sunday, wednesday = 14.0, 3*24 + 14.0
	if s, w := m.Share(sunday), m.Share(wednesday); s < 2*w {
		t.Errorf("draws %.2f of the time on a Sunday afternoon, %.2f on a Wednesday's", s, w)
	}
	if s, w := m.Flow(sunday), m.Flow(wednesday); s < 2*w {
		t.Errorf("%.1f g/h on a Sunday afternoon, %.1f on a Wednesday's", s, w)
	}
	if s, w := m.Lump(sunday), m.Lump(wednesday); 1-s[0] < 2*(1-w[0]) || 1-s[0] > mostBusy+1e-9 {
		t.Errorf("a step draws with %.2f on a Sunday afternoon, with %.2f on a Wednesday's", 1-s[0], 1-w[0])
	}
}
