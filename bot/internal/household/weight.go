package household

import (
	"math"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/refill"
	"tarebell/forecast/unit"
)

// freshWeight is how long nobody is asked for another weight, and a scale's last word counts as said just now.
const freshWeight = 24 * time.Hour

// weighed takes down how sharply a weight that just came in tells the gas.
func (it *item) sharpen(o forecast.Outlook) {
	if o.Known && o.At.Sub(o.LastSeen) < freshWeight {
		it.sharp = o.Gas.SD
	}
}

// weight is what there is to say of a weight that somebody could bring, within ahead days beside the time it takes. On the day of the
// weekly status the asking is left to that, if a reminder is not due before.
func (e *Engine) weight(it *item, o forecast.Outlook, plan refill.Plan, ahead int) Weight {
	w := Weight{Wait: refill.LearnDelay(e.weights, o.At.In(e.opt.Zone)).Quantile(mostBring), Ahead: ahead, Asked: it.refill.asked,
		Fresh: o.At.Sub(o.LastSeen) < freshWeight}
	if plan.RemindBy.IsZero() || plan.RemindBy.After(e.now.AddDate(0, 0, w.Wait+ahead)) || it.sharp == 0 || it.polled && !it.silent && w.Fresh ||
		ahead == 0 && !plan.Due && !e.status.IsZero() && e.status.Sub(e.now) < 24*time.Hour {
		return w
	}
	p := e.policy(o.At)
	gain, err := p.Gain(o.At, e.withSpare(o, e.spareFor(it)), explained(o, float64(w.Wait), it.sharp))
	if err == nil { // else a supplier that never opens: the config refuses it
		w.Gain = gain
	}
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

// askWeight asks for a weight.
func (e *Engine) askWeight(it *item, s notice.Situation) {
	it.refill.asked = e.now
	e.say(e.opt.Voice.Weigh(s, e.key(it, notice.WeighDue, e.now)))
}

// brought takes down that a weight came that was asked for.
func (e *Engine) brought(it *item, at time.Time) {
	asked := it.refill.asked
	if asked.IsZero() {
		return
	}
	it.refill.asked = time.Time{}
	e.weights = append(e.weights, refill.Acted{Asked: asked.In(e.opt.Zone), Done: at.In(e.opt.Zone)})
	e.weights = e.weights[max(0, len(e.weights)-rememberedBookings):]
}
