package household

import (
	"math"
	"slices"
	"strconv"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/room"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// Gaps between repeats of an unanswered alert, the last one from then on. A danger is repeated soon; a slow
// loss is a matter of days.
var (
	dangerGaps  = []time.Duration{15 * time.Minute, time.Hour, 4 * time.Hour, 12 * time.Hour, 24 * time.Hour}
	warningGaps = []time.Duration{4 * time.Hour, 12 * time.Hour, 24 * time.Hour}
	slowGaps    = []time.Duration{24 * time.Hour, 3 * 24 * time.Hour, 7 * 24 * time.Hour}
)

func gap(danger bool, k forecast.FindingKind, n int) time.Duration {
	g := warningGaps
	switch {
	case danger:
		g = dangerGaps
	case k == forecast.SlowLoss:
		g = slowGaps
	}
	return g[min(n, len(g)-1)]
}

// leak tells of a loss: as a new one, or, when one is being told already, as its getting worse.
func (e *Engine) leak(it *item, f forecast.Finding) {
	if it.loss == nil {
		it.loss = &incident{finding: f, begun: f.At, key: e.key(it, notice.PossibleLeak, f.At)}
		e.say(e.opt.Voice.Leak(e.place(it), e.lossOf(it), it.loss.key, ""))
		it.loss.next = e.now.Add(gap(it.loss.danger, f.Kind, 0))
		return
	}
	it.loss.finding = f
	it.loss.answered = false
	e.follow(it)
}

// repeat tells an unanswered alert again.
func (e *Engine) repeat(it *item) {
	it.loss.nagged++
	e.follow(it)
}

// follow continues a told alert with what is known now.
func (e *Engine) follow(it *item) {
	l := it.loss
	l.again++
	l.update(it.fc.Outlook(e.now))
	key := e.key(it, notice.PossibleLeak, e.now) + "/" + strconv.Itoa(l.again) // a slow and a fast loss may be found in one moment
	e.say(e.opt.Voice.Leak(e.place(it), e.lossOf(it), key, l.key))
	l.next = e.now.Add(gap(l.danger, l.finding.Kind, l.again))
}

// update carries the loss forward to what is believed now.
func (l *incident) update(o forecast.Outlook) {
	if o.Loss.Mean <= 0 {
		return
	}
	l.finding.Rate, l.finding.RateSD = unit.GramsPerHour(o.Loss.Mean), unit.GramsPerHour(o.Loss.SD)
	l.finding.Mass = max(l.finding.Mass, l.finding.Rate.Over(unit.Between(l.finding.Since, o.At)))
}

// stopped tells that a told loss has ended.
func (e *Engine) stopped(it *item, f forecast.Finding) {
	if it.loss == nil {
		return
	}
	first := it.loss.key
	f.Mass = max(f.Mass, it.loss.finding.Mass) // the end is no less than what was told on the way
	it.endLoss(f.At, f.Mass)
	e.say(e.opt.Voice.Stopped(e.place(it), notice.Loss{Finding: f}, e.key(it, notice.PossibleLeak, f.At)+"/stopped", first))
}

// answered takes the household's word for what happened.
func (e *Engine) answered(it *item, ev record.Event) {
	it.answers = append(it.answers, notice.Answered{About: ev.About, By: ev.By, Cause: ev.Cause})
	it.answers = it.answers[max(0, len(it.answers)-rememberedAnswers):]
	if it.loss == nil {
		return
	}
	it.loss.answered = true
	switch ev.Cause {
	case record.Lost:
	case record.Repaired:
		it.endLoss(ev.At, it.loss.finding.Mass)
	default:
		it.loss = nil
	}
}

// rememberedAnswers is how many answers are kept, to tell who was first.
const rememberedAnswers = 8

// rememberedLosses is how many losses are kept, to tell them from use.
const rememberedLosses = 32

// endLoss closes what is being told as a loss of mass in all, until at.
func (it *item) endLoss(at time.Time, mass unit.Grams) {
	it.losses = append(it.losses, notice.Lost{From: it.loss.finding.Since, To: at, Mass: max(0, mass)})
	it.losses = it.losses[max(0, len(it.losses)-rememberedLosses):]
	it.loss = nil
	it.lost += max(0, mass)
}

// lossOf gathers what there is to say about the loss being told.
func (e *Engine) lossOf(it *item) notice.Loss {
	l := notice.Loss{Finding: it.loss.finding, Again: it.loss.nagged, About: it.loss.begun, Air: roomAir(it.site, it.loss.finding.Rate)}
	o := it.fc.Outlook(e.now)
	it.note(o) // what is left beside what is lost, should the cylinder be filled before the next look
	if rate := float64(it.loss.finding.Rate) + o.Use.Mean/24; it.loss.finding.Rate > 0 && rate > 0 {
		left := unit.Days(math.Max(0, o.Gas.Mean-float64(o.Heel)) / rate / 24)
		if at, ok := left.After(e.now); ok {
			l.RunOut = at
		}
	}
	l.Danger = it.loss.finding.Kind == forecast.AbruptLoss && dangerous(it.site, it.loss.finding, e.now, unit.Grams(math.Max(0, o.Gas.Mean)))
	it.loss.danger = l.Danger
	l.Money = e.worth(it.loss.finding.Mass)
	return l
}

// allLosses are those that have ended and, up to now, the one being told.
func (it *item) allLosses(now time.Time) []notice.Lost {
	all := slices.Clone(it.losses)
	if it.loss != nil {
		f := it.loss.finding
		all = append(all, notice.Lost{From: f.Since, To: now, Mass: max(0, f.Mass, f.Rate.Over(unit.Between(f.Since, now)))})
	}
	return all
}

// roomOf is the room of a place; assumed: it is not described, and a small one stands for it.
func roomOf(c *Cylinder) (r room.Room, assumed bool) {
	if c != nil && c.RoomVolume > 0 {
		if r, err := room.New(c.RoomVolume, c.AirChanges); err == nil { // else the config refuses it
			return r, false
		}
	}
	return room.Unknown(), true
}

// roomAir is what a loss at rate would make of the room's air by a well-mixed balance.
func roomAir(c *Cylinder, rate unit.GramsPerHour) notice.Air {
	r, assumed := roomOf(c)
	return notice.Air{Known: rate > 0, Assumed: assumed, Volume: r.Volume, AirChanges: r.AirChanges,
		After15: r.After(0.25/24, rate, r.Outdoor), After60: r.After(1.0/24, rate, r.Outdoor), Steady: r.Steady(rate)}
}

// dangerous reports that what escapes could bring the room to the exposure limit for a working day, the lowest in force. Of the
// rate, which is known only so well, the upper end of 95 % counts.
func dangerous(c *Cylinder, f forecast.Finding, now time.Time, left unit.Grams) bool {
	r, _ := roomOf(c)
	return r.Worst(room.Loss{Gone: f.Mass, Over: unit.Between(f.Since, now), Rate: f.Rate + 2*f.RateSD, Left: left}) >= room.LongTerm
}
