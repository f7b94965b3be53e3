package household

import (
	"math"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/refill"
	"tarebell/forecast/unit"
)

// firstThings is how long nobody is sent to book for gas that is escaping fast: it is to be stopped first.
const firstThings = 24 * time.Hour

// freshWeight is how long nobody is asked for another weight, and a scale's last word counts as said just now.
const freshWeight = 24 * time.Hour

// review is the daily review of a cylinder: is it time to book, is the booked day tomorrow or past, is the retest near?
func (e *Engine) review(c *cylinder) {
	if c.began.IsZero() || c.waits {
		return
	}
	c.reviewed = e.now
	t, s := e.turn(c), e.situation(c, e.now)
	c.note(s.Outlook)
	if fresh(s.Outlook) && s.Outlook.Known {
		c.sharp = s.Outlook.Gas.SD
	}
	c.errand.followUp(t, s)
	switch e.decide(c, s, 0).Say {
	case notice.WeighDue:
		c.errand.askWeight(t, s)
	case notice.RefillDue:
		c.errand.remind(t, s)
	}
	c.remindRetest(t)
}

// fresh reports that there was a weight within a day.
func fresh(o forecast.Outlook) bool { return o.At.Sub(o.LastSeen) < freshWeight }

// weekly takes stock of every cylinder that has been weighed, and, aloud, says how things stand.
func (e *Engine) weekly(at time.Time, aloud bool) {
	for _, c := range e.cylinders {
		s := e.situation(c, e.now)
		if c.waits || !s.Outlook.Known {
			continue
		}
		w := &c.weekly
		s.Week, s.WeekPrev = w.weigh(s.Outlook.Gas.Mean)
		if c.scale.polled && c.scale.silence == "" && !math.IsNaN(float64(s.Week)) {
			s.WeekMost = w.most()
			w.used = newest(append(w.used, s.Used()), rememberedWeeks)
		}
		if !aloud {
			continue
		}
		if s.Decision = e.decide(c, s, 7); s.Decision.Say == notice.WeighDue {
			c.errand.ask(e.now)
		}
		s.Changed, s.Stated = w.changed, w.stated
		t := e.turn(c)
		w.changed, w.stated = nil, t.voice.Statement(s)
		t.say(t.voice.Status(s), at, "", "")
	}
}

// decide is what is to be said of getting the refill, as far as ahead days can wait for it.
func (e *Engine) decide(c *cylinder, s notice.Situation, ahead int) notice.Decision {
	r, t := &c.errand, e.turn(c)
	f := Facts{Now: e.now, Spare: c.waits, Known: s.Outlook.Known && s.Outlook.RunOut.Known(), Plan: s.Plan, Reminded: r.first != "", NotBefore: r.notBefore}
	f.Full = !c.scale.polled && !s.Outlook.Learned && s.LastGross-s.House > mostOfFill*c.nominal &&
		(r.asks < 2 || e.now.Sub(r.asked) < askAgain/2)
	f.Early = c.scale.polled && c.scale.silence == "" && !s.Outlook.Learned && s.Outlook.Gas.Mean > mostOfFill*float64(c.nominal)
	if f.Full && ahead > 0 { // soon enough to ask twice
		ahead *= 2
	}
	f.Weight = e.weight(c, s, ahead)
	if b := r.booking.day; !b.IsZero() && t.days(b, e.now) < e.supply.late() {
		f.Booked = b
	}
	if since := c.leaks.escaping(); !since.IsZero() {
		f.Escaping = since.Add(firstThings)
	}
	c.decision = Decide(f)
	return c.decision
}

// weight is what there is to say of a weight that somebody could bring, within ahead days beside the time it takes. On the day of the
// weekly status the asking is left to that, if a reminder is not due before.
func (e *Engine) weight(c *cylinder, s notice.Situation, ahead int) Weight {
	o, plan, status := s.Outlook, s.Plan, e.timetable.status
	w := Weight{Wait: refill.LearnDelay(e.supply.weights, o.At.In(e.opt.Voice.Zone)).Quantile(mostBring), Ahead: ahead, Asked: c.errand.asked, Fresh: fresh(o)}
	polled := c.scale.polled && c.scale.silence == "" && w.Fresh
	later := ahead == 0 && !plan.Due && !status.IsZero() && status.Sub(e.now) < 24*time.Hour
	if plan.RemindBy.IsZero() || plan.RemindBy.After(e.now.AddDate(0, 0, w.Wait+ahead)) || c.sharp == 0 || polled || later {
		return w
	}
	w.Gain = e.supply.gain(o, e.spareFor(c), explained(o, float64(w.Wait), c.sharp))
	return w
}

// mostBring is the share of the weights asked for that are waited for.
const mostBring = 0.8

// explained is how much of the uncertainty of the run-out date, as a standard deviation, a weight would take away that comes wait
// days from now and tells the gas within sharp grams. The gas M and the use u are taken as jointly normal, with what the use since
// the last weight makes them share: cov(M, u) = -var(u)·days since. To first order the date moves by (dM - T·du)/u, T days away,
// and the weight shows M - u·wait.
func explained(o forecast.Outlook, wait, sharp float64) unit.Days {
	u, vm, vu := o.Use.Mean, o.Gas.SD*o.Gas.SD, o.Use.SD*o.Use.SD
	far := float64(o.RunOut.Quantile(0.5))
	if !(u > 0) || math.IsInf(far, 0) {
		return 0
	}
	c := -math.Min(vu*float64(unit.Between(o.LastSeen, o.At)), 0.95*math.Sqrt(vm*vu))
	shared := (vm - (wait+far)*c + far*wait*vu) / u
	return unit.Days(shared / math.Sqrt(vm-2*wait*c+wait*wait*vu+sharp*sharp))
}

// remindRetest reminds once of the periodic inspection, two months ahead, and once when it is overdue.
func (c *cylinder) remindRetest(t turn) {
	due := c.cfg.Retest
	if due.IsZero() {
		return
	}
	for _, at := range []time.Time{due.AddDate(0, -2, 0), due} {
		if !t.Now.Before(at) && c.retest.Before(at) {
			c.retest = t.Now
			if t.Now.Sub(at) < 30*24*time.Hour || at.Equal(due) {
				t.say(t.voice.Retest(t.Place, due), at, "", "")
			}
			return
		}
	}
}
