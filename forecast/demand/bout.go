package demand

import "math"

// A bout is a time of drawing: steps in a row that draw, such as a meal, an evening with guests, a batch of bottles. How long
// one goes on is told by its mass and by the clock:
//
//	P(mass > x) = (1 + x/(3·mean))⁻⁴             a Lomax law, of the household's own mean
//	P(still drawing after t hours) = A^(t/2)     A: how often the household draws at that time of the day
//
// Both come from the water meters of homes (bout_test.go): there 0.008 of the bouts are beyond 6 times the mean mass, 0.0014 beyond
// 12 times, and an hour that draws is followed by another one with about the square root of A.
const (
	tail      = 4.0
	tailStart = 1.5
	tailDays  = 3.0
	lasting   = 0.5 // per hour
)

// What is assumed of a household before it has shown anything, and for how many bouts or steps that counts.
const (
	priorDay    = 60.0 // g a day
	priorDays   = 2.0
	leastDay    = 3.0  // g, a glass every other day
	boutOfDay   = 0.35 // of a day's use: the mean of four homes (bout_test.go)
	priorBouts  = 4.0
	priorShare  = 0.5 // of the steps draw
	startShare  = 0.15
	priorRarer  = 0.5 // a pace an octave higher
	priorStarts = 48.0
)

// Paces are the rates at which a bout may draw, g/h.
var Paces = [...]float64{13, 20, 30, 45, 67, 100, 150, 225, 340, 500, 750, 1100, 1700}

// bouts is what was seen of them.
type bouts struct {
	n, mass    float64
	fell, days float64             // g in so many days
	evenings   float64             // with guests, in these days
	feasts     feasts              // the ones that were thought lost, and were not
	pace       [len(Paces)]float64 // how many went at each, spread over its neighbours
	steps      float64
	draws      float64 // of these
	slot       [slots]struct{ n, draws, hours, fell float64 }
	liveliest  float64 // share of the time that draws, at most; 0: nothing was seen

	run, hours float64 // mass and length of the bout that goes on
}

// feasts are evenings of which the household's guests are learned: how much they take, and how fast.
type feasts struct {
	n, mass float64
	pace    [len(Paces)]float64
}

// feastMemory is how many feasts are remembered. Ours.
const feastMemory = 12

// boutMemory is how many bouts are remembered: those of about three months, at five a day.
const boutMemory = 450

// daysMemory is the same in days.
const daysMemory = 90

// Seen takes a step of dt hours that ended at hour of the week: draws is how probable it is that it drew, mass how much, g.
func (m *Model) Seen(hour, dt, draws, mass float64) {
	m.week[weekday(hour)].add(dt, m.byClock(hour), draws, m.flowByClock(hour)*dt, mass)
	b := &m.bouts
	s := &b.slot[slot(hour)]
	s.n, s.draws = fade(s.n+1, s.draws+draws, memory/slots)
	s.hours, s.fell = fade(s.hours+dt, s.fell+mass, daysMemory*24/slots)
	if b.steps >= memory {
		for i := range b.pace {
			b.pace[i] *= memory / (b.steps + 1)
		}
	}
	b.steps, b.draws = fade(b.steps+1, b.draws+draws, memory)
	m.enliven()
	b.days += dt / 24
	_, b.evenings = fade(b.days, b.evenings, daysMemory)
	b.days, b.fell = fade(b.days, b.fell+mass, daysMemory)
	if draws > 0.5 {
		b.run += math.Max(mass, 0)
		b.hours += dt
		return
	}
	m.End(1)
}

// enliven finds how often the household draws at its liveliest time.
func (m *Model) enliven() {
	m.bouts.liveliest = 0
	for s := range slots {
		m.bouts.liveliest = max(m.bouts.liveliest, m.byClock(24/slots*float64(s)))
	}
}

// fade keeps no more than most of n, and the same share of x.
func fade(n, x, most float64) (float64, float64) {
	if n > most {
		return most, x * most / n
	}
	return n, x
}

// End counts the bout that goes on, if any, as over, weight times.
func (m *Model) End(weight float64) {
	b := &m.bouts
	if b.hours > 0 && b.run > 0 {
		m.Count(b.run, b.run/b.hours, weight)
	}
	b.run, b.hours = 0, 0
}

// Count counts a bout of mass g at so many g/h, weight times.
func (m *Model) Count(mass, pace, weight float64) {
	b := &m.bouts
	b.n, b.mass = fade(b.n+weight, b.mass+weight*mass, boutMemory)
	b.evenings += weight * m.guests(min(max(int(math.Round(place(pace))), 0), len(Paces)-1), mass)
	for i, share := range around(pace) {
		b.pace[i] += weight * share
	}
}

// Hosted counts g at so many g/h that was thought lost, and was drawn: guests were there, whatever the household draws by itself.
func (m *Model) Hosted(mass, pace float64) {
	b := &m.bouts
	f := &b.feasts
	b.evenings++
	for i, share := range around(pace) {
		_, f.pace[i] = fade(f.n+1, f.pace[i]+share, feastMemory)
	}
	f.n, f.mass = fade(f.n+1, f.mass+mass, feastMemory)
}

// place is where a pace lies among Paces.
func place(pace float64) float64 { return math.Log(pace/Paces[0]) / math.Log(1.5) }

// around spreads one bout over the paces beside its own.
func around(pace float64) (near [len(Paces)]float64) {
	at, sum := place(pace), 0.0
	for i := range near {
		near[i] = math.Pow(rarer, math.Abs(float64(i)-at)*0.585) // octaves
		sum += near[i]
	}
	for i := range near {
		near[i] /= sum
	}
	return near
}

// Mean is the mean mass of a bout, g. Those too small to be seen are told by what goes in a day.
func (m *Model) Mean() float64 {
	b := &m.bouts
	return (boutOfDay*m.Day()*priorBouts + b.mass) / (priorBouts + b.n)
}

// Day is what goes on an average day, g.
func (m *Model) Day() float64 {
	b := &m.bouts
	return math.Max((priorDay*priorDays+b.fell)/(priorDays+b.days), leastDay)
}

// Share is how often the household draws at hour of the week.
func (m *Model) Share(hour float64) float64 {
	return math.Min(m.byClock(hour)*math.Max(m.week[weekday(hour)].busy(), 1), 1)
}

// byClock is how often it draws at that time of any day.
func (m *Model) byClock(hour float64) float64 {
	b := &m.bouts
	s := &b.slot[slot(hour)]
	return (m.average()*priorSteps + s.draws) / (priorSteps + s.n)
}

// average is how often the household draws, all day.
func (m *Model) average() float64 {
	return (priorShare*priorSteps + m.bouts.draws) / (priorSteps + m.bouts.steps)
}

// Moment is how the household draws at one hour of the week.
type Moment struct {
	m        *Model
	share    float64 // of the time that draws
	awake    float64 // how much people are about, beside their liveliest time
	flow     float64 // g/h
	scale, a float64 // of the law of masses
}

// At is how the household draws at hour of the week.
func (m *Model) At(hour float64) Moment {
	return Moment{m: m, share: m.Share(hour), awake: m.awake(hour), flow: m.Flow(hour), scale: m.scale(), a: m.tail()}
}

// Stays is how probable it is that a bout of pace i that has drawn x g goes on, drawing more g. What the household does by
// itself fits the clock and its own mean; guests stay while people are awake.
func (t *Moment) Stays(i int, x, more float64) float64 {
	own, guests, perGram := t.m.starts(i), t.m.company(i), lasting/Paces[i]
	evening := t.m.evening()
	clock, awake := perGram*math.Log(math.Max(t.share, t.room(i))), perGram*math.Log(t.awake)
	left := func(x float64) float64 {
		if x == 0 {
			return own + guests
		}
		return own*math.Exp(clock*x-t.a*math.Log1p(x/t.scale)) + guests*math.Exp((awake-1/evening)*x)
	}
	return left(x+more) / left(x)
}

// Starts is how probable it is that a bout of pace i starts in a step in which none goes on.
func (t *Moment) Starts(i int) float64 {
	own := math.Max(t.m.starts(i)*t.share/t.m.average(), 0.05*t.room(i))
	return math.Min(own+t.m.company(i)*t.awake, 0.3)
}

// room is the largest share of the time that may draw at pace i, given the mean flow.
func (t *Moment) room(i int) float64 { return math.Min(1, (t.flow+1e-3)/Paces[i]) }

// awake is how much people are about at hour, beside their liveliest time.
func (m *Model) awake(hour float64) float64 {
	if m.bouts.liveliest == 0 {
		return 1
	}
	return m.byClock(hour) / m.bouts.liveliest
}

// tail is the shape of the law of masses: what homes have, and wider while the household's own mean is not known.
func (m *Model) tail() float64 {
	d := m.bouts.days
	return tailStart + (tail-tailStart)*d/(d+tailDays)
}

// scale is that of the law of masses, g.
func (m *Model) scale() float64 { return (m.tail() - 1) * m.Mean() }

// Guests come to any household now and then, also to one that never had them before: about once a month, some ten people, who drink a
// litre each of some 10 g. Common practice, no source.
const (
	Evening     = 100.0 // g, the mean of one
	companyRate = 1.0 / 30 / 48
)

// company is how probable it is that guests draw at each pace: 20 to 100 g/h, 45 the likeliest.
var company = func() (c [len(Paces)]float64) {
	sum := 0.0
	for i, p := range Paces {
		z := math.Log2(p / 45)
		c[i] = math.Exp(-2 * z * z)
		sum += c[i]
	}
	for i := range c {
		c[i] /= sum
	}
	return c
}()

// company is how probable it is that guests begin to draw at pace i in a step. Evenings seen, and those that did not come, count beside one month of the
// prior, and so do the paces of feasts beside one evening of it.
func (m *Model) company(i int) float64 {
	b := &m.bouts
	return companyRate * (1 + b.evenings) / (1 + b.days/30) * (company[i] + b.feasts.pace[i]) / (1 + b.feasts.n)
}

// evening is what the household's guests take on average, g.
func (m *Model) evening() float64 {
	f := &m.bouts.feasts
	return (Evening + f.mass) / (1 + f.n)
}

// guests is how probable it is that a bout of x g at pace i was drawn by guests.
func (m *Model) guests(i int, x float64) float64 {
	b, a := m.scale(), m.tail()
	own, guests := m.starts(i)*a/b*math.Pow(1+x/b, -a-1), m.company(i)/m.evening()*math.Exp(-x/m.evening())
	return guests / (own + guests)
}

// starts is how probable it is that a bout of pace i starts in a step, guests apart.
func (m *Model) starts(i int) float64 {
	return (firstStarts[i]*priorStarts + m.bouts.pace[i]) / (priorStarts + m.bouts.steps)
}

// firstStarts is the same before anything is known: each octave of pace is half as likely as the one below.
var firstStarts = func() (p [len(Paces)]float64) {
	for i := range p {
		p[i] = startShare * math.Pow(priorRarer, float64(i)*0.585) * (1 - math.Pow(priorRarer, 0.585))
	}
	return p
}()

// Flow is what the household draws at hour of the week on average, g/h, seen or not.
func (m *Model) Flow(hour float64) float64 {
	return m.flowByClock(hour) * math.Max(m.week[weekday(hour)].heavy(m.Day()), 1)
}

func (m *Model) flowByClock(hour float64) float64 {
	s := &m.bouts.slot[slot(hour)]
	return math.Max(priorFlow*priorHours+s.fell, 0) / (priorHours + s.hours)
}

// Before it has shown anything, a household may draw as much as homes at large draw at most, 500 g a day within its waking
// hours. It counts for one day.
const (
	priorFlow  = 20.0 // g/h
	priorHours = 2.0  // of each slot
)
