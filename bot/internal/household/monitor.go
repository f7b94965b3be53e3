package household

import (
	"math"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
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
	level  unit.PPM
	usual  float64 // mean level, leaning on the last week; 0: unknown
	seen   time.Time
	peak   notice.Peak
	first  string // key of the alarm being told; empty: none
	again  int
	next   time.Time
	raised bool // the present loss has been told together with a rise
}

// air takes what the monitor shows.
func (e *Engine) air(it *item, ppm unit.PPM) {
	m := &it.monitor
	m.level = ppm
	alarm := it.beside().AirAlarm
	switch {
	case alarm > 0 && ppm >= alarm:
		e.airAlarm(it)
	case m.first != "" && float64(ppm) < backShare*float64(alarm):
		e.say(e.opt.Voice.AirBack(e.place(it), ppm, m.peak, e.key(it, notice.PossibleLeak, e.now)+"/air-back", m.first))
		m.first, m.again = "", 0
	}
	e.airAndLoss(it)
	m.learn(e.now, ppm)
}

// beside is the config of the place at which a monitor shows something.
func (it *item) beside() *Cylinder {
	if it.site != nil {
		return it.site
	}
	return it.cfg
}

// airAlarm passes an alarm on at once, and again with growing gaps while it lasts.
func (e *Engine) airAlarm(it *item) {
	m := &it.monitor
	if m.first == "" {
		m.peak = notice.Peak{Since: e.now}
	}
	if m.level > m.peak.PPM {
		m.peak.PPM, m.peak.At = m.level, e.now
	}
	if m.first != "" && e.now.Before(m.next) {
		return
	}
	key := e.key(it, notice.PossibleLeak, e.now) + "/air"
	losing := it.loss != nil
	e.say(e.opt.Voice.AirAlarm(e.place(it), m.level, losing, key, m.first))
	if m.first == "" {
		m.first = key
	}
	m.next = e.now.Add(gap(true, forecast.AbruptLoss, m.again))
	m.again++
}

// airAndLoss raises the alert about a loss when the air has risen together with it.
func (e *Engine) airAndLoss(it *item) {
	m := &it.monitor
	if it.loss == nil {
		m.raised = false
		return
	}
	if m.raised || m.first != "" || m.usual == 0 || float64(m.level) < risenShare*m.usual || float64(m.level) < m.usual+risenBy {
		return
	}
	m.raised = true
	l := e.lossOf(it)
	e.say(e.opt.Voice.AirRisen(e.place(it), l, m.level, unit.PPM(m.usual), e.key(it, notice.PossibleLeak, e.now)+"/air-risen", it.loss.key))
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
