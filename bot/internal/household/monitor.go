package household

import (
	"math"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast/unit"
)

// The monitor's level counts as risen when it is half as much again as on the quiet days before, and by enough to
// be no breath of air; as back when it is a fifth below the alarm. Common practice, no source.
const (
	risenShare = 1.5
	risenBy    = 400
	backShare  = 0.8
)

// monitor is what is remembered of the CO2 monitor beside a cylinder.
type monitor struct {
	usual  float64 // mean level, leaning on the last week; 0: unknown
	seen   time.Time
	peak   notice.Peak
	first  string // key of the alarm being told; empty: none
	again  int
	next   time.Time
	raised bool // the present loss has been told together with a rise
}

// show takes what the monitor shows: an alarm is passed on at once, again with growing gaps while it lasts, and when it is over.
func (m *monitor) show(t turn, ppm, alarm unit.PPM, losing bool) {
	switch {
	case alarm > 0 && ppm >= alarm:
		m.alarm(t, ppm, losing)
	case m.first != "" && float64(ppm) < backShare*float64(alarm):
		t.say(t.voice.AirBack(t.Place, ppm, m.peak), t.Now, "/air-back", m.first)
		m.first, m.again = "", 0
	}
}

func (m *monitor) alarm(t turn, ppm unit.PPM, losing bool) {
	if m.first == "" {
		m.peak = notice.Peak{Since: t.Now}
	}
	if ppm > m.peak.PPM {
		m.peak.PPM, m.peak.At = ppm, t.Now
	}
	if m.first != "" && t.Now.Before(m.next) {
		return
	}
	key := t.say(t.voice.AirAlarm(t.Place, ppm, losing), t.Now, "/air", m.first)
	if m.first == "" {
		m.first = key
	}
	m.next = t.Now.Add(gap(dangerGaps, m.again))
	m.again++
}

// rises reports, once for a loss, that the air has risen together with it.
func (m *monitor) rises(ppm unit.PPM, losing bool) bool {
	if !losing {
		m.raised = false
		return false
	}
	if m.raised || m.first != "" || m.usual == 0 || float64(ppm) < risenShare*m.usual || float64(ppm) < m.usual+risenBy {
		return false
	}
	m.raised = true
	return true
}

// learn lets the usual level follow, with a time constant of a week.
func (m *monitor) learn(now time.Time, ppm unit.PPM) {
	const week = 7.0
	if m.usual == 0 {
		m.usual = float64(ppm)
	}
	days := math.Min(1, math.Max(0, float64(unit.Between(m.seen, now))))
	if m.seen.IsZero() {
		days = 0
	}
	m.usual += (float64(ppm) - m.usual) * (1 - math.Exp(-days/week))
	m.seen = now
}
