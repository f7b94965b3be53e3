package household

import (
	"math"
	"slices"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// cylinder is one cylinder: what is in it, where it stands, and what was decided and said of it.
type cylinder struct {
	cfg *Cylinder
	fc  *forecast.Cylinder
	contents
	*site
	waits bool // full or to be filled, while another one is in use

	decision notice.Decision // of the last review
	reviewed time.Time
	sharp    float64   // sd of the gas, g, when a weight was last fresh; 0: never
	retest   time.Time // when its retest was last told
	weekly   weekly
	answers  []record.Event // to what was told, the last ones
}

// site is a place for a cylinder, and what was noticed there: it goes on when another cylinder takes the place.
type site struct {
	place   *Cylinder // of the config: scale, room and monitor
	scale   scale
	monitor monitor
	leaks   leaks
	pending pending
	errand  errand
}

// weekly is what the weekly statuses of a cylinder remember.
type weekly struct {
	gas     [3]float64       // net gas at the last ones of this fill, newest first; NaN unknown
	used    []unit.Grams     // in the weeks before that the scale was read all the time, newest last
	stated  notice.Statement // by the last one of this fill
	changed []string         // what the next one tells
}

func newCylinder(cfg *Cylinder) *cylinder {
	c := &cylinder{cfg: cfg, fc: forecast.New(cfg.Forecast), contents: newContents(cfg), site: &site{place: cfg}, waits: cfg.Spare}
	c.weekly.restart()
	return c
}

// restart forgets what was of the fill before.
func (w *weekly) restart() {
	w.gas, w.stated = [3]float64{math.NaN(), math.NaN(), math.NaN()}, notice.Statement{}
}

// weigh records the gas at a status, and returns what went in the week before and in the one before that; NaN unknown.
func (w *weekly) weigh(gas float64) (week, before unit.Grams) {
	w.gas = [3]float64{gas, w.gas[0], w.gas[1]}
	return unit.Grams(w.gas[1] - gas), unit.Grams(w.gas[2] - w.gas[1])
}

// rememberedWeeks is a season, fewestWeeks what must have been seen of it to tell what is usual.
const rememberedWeeks, fewestWeeks = 13, 4

// most is the most that was used in a week; 0 while too few are known.
func (w *weekly) most() unit.Grams {
	if len(w.used) < fewestWeeks {
		return 0
	}
	return slices.Max(w.used)
}

// wake is when the cylinder next needs a moment of its own.
func (c *cylinder) wake() time.Time {
	next := earlier(c.leaks.next(), c.pending.next())
	if !c.waits {
		next = earlier(next, c.scale.silentFrom(c.place))
	}
	return next
}

// netSD is the standard deviation of the gas that a reading by itself shows.
func (c *cylinder) netSD(w record.Event) unit.Grams { return c.fc.NetSD(w.Origin == record.Manual) }

// takeStock is what is known at now. The gas is recorded as that of the present fill, should other gas come before the next review.
func (c *cylinder) takeStock(now time.Time) forecast.Outlook {
	o := c.fc.Outlook(now)
	c.note(o)
	return o
}

// closeStock takes stock for the last time before other gas comes.
func (c *cylinder) closeStock(now time.Time) { c.leaks.update(c.takeStock(now)) }

// rememberedAnswers is how many answers are kept, to tell who was first.
const rememberedAnswers = 8

// answer records what the household says that something told was.
func (c *cylinder) answer(ev record.Event) {
	c.answers = newest(append(c.answers, ev), rememberedAnswers)
	c.lose(c.leaks.answer(ev))
}

// afresh begins the judgement anew from a weight that somebody trusts: what was believed of the scale, the gas and
// losses is dropped. How the household drinks stays as a guess, so that the forecast does not begin at nothing.
func (c *cylinder) afresh(ev record.Event) {
	o := c.cfg.Forecast
	o.Tare = c.tare
	if was := c.fc.Outlook(ev.At); was.Known && was.Learned {
		o.UsePrior = unit.GramsPerDay(max(0, was.Use.Mean))
	}
	c.fc = forecast.New(o)
	c.leaks.open, c.pending, c.sharp, c.gas = nil, nil, 0, math.NaN()
	if p := c.last(); p != nil {
		p.start = math.NaN()
	}
	c.weekly.changed = append(c.weekly.changed, "The figures of the gas begin anew with the weight that "+ev.By+" trusted.")
}

// replace puts a cylinder that waits into the place of another. The judgement of the place goes on with it: the household drinks as
// before, the scale is as good as before; only the cylinder is another one, as in a swap.
func (c *cylinder) replace(old *cylinder, at time.Time) {
	old.closeStock(at)
	old.spareNet = unit.Grams(old.gas)
	old.lose(old.leaks.end(at))
	c.fc, old.fc = old.fc, forecast.New(old.cfg.Forecast)
	c.site, old.site = old.site, c.site
	c.scale.heard, c.scale.silence, c.scale.doubted, c.pending = at, "", notice.Reading{}, nil
	old.errand = errand{}
	if len(c.fills) == 0 {
		c.fills = append(c.fills, newFill(notice.Fill{Cylinder: c.cfg.Name, At: at, First: true}))
	}
	net := c.putInUse(at)
	c.waits, old.waits = false, true
	c.fc.Apply(record.Event{Kind: record.Filled, At: at, Net: max(0, net), Tare: c.tare})
	c.last().start = c.fc.Outlook(at).Gas.Mean
	c.weekly.changed = append(c.weekly.changed, "Cylinder "+c.cfg.Name+" is in use now; "+old.cfg.Name+" waits for its refill.")
}
