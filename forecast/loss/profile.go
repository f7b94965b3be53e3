package loss

import "math"

// profile is the household's ordinary day: how the reading moves with the hour, be it by use or by the
// warmth of the day. Three harmonics over a straight line are enough and steady enough; single hours drown in
// noise.
type profile struct {
	use    float64 // g/day
	coef   harmonics
	warm   harmonics // the same of the temperature, °C
	sumT   [24]float64
	meanT  float64 // °C, slowly following
	days   float64 // learned from
	day    int
	sum    [24]float64
	n      [24]int
	mean   float64 // of the day before
	known  bool    // mean is that of the day just before
	opened bool
}

const (
	useStart      = 30.0  // g/day, before anything is known
	profileMemory = 30.0  // days
	apprentice    = 5.0   // days until a day's course is known
	fewestHours   = 18    // of a day, for it to teach
	mostShape     = 200.0 // g, what one day may pull at a harmonic
	mostWarmth    = 10.0  // °C, the same
	mostDay       = 1500.0
)

func (p *profile) reset(use float64) {
	*p = profile{use: useStart}
	if use > 0 {
		p.use = use
	}
}

// drop is how much the reading falls in the dt hours before hour, on an ordinary day, g.
func (p *profile) drop(hour, dt float64) float64 {
	return p.use/24*dt + p.wave(hour-dt) - p.wave(hour)
}

// wave is the daily wave of the reading at hour, g.
func (p *profile) wave(hour float64) float64 { return wave(&p.coef, hour) }

// harmonics are cosine and sine amplitudes of the daily wave, the fundamental first.
type harmonics [6]float64

func wave(c *harmonics, hour float64) float64 {
	s1, c1 := math.Sincos(hour * math.Pi / 12)
	s2, c2 := 2*s1*c1, c1*c1-s1*s1
	s3, c3 := s1*c2+c1*s2, c1*c2-s1*s2
	return c[0]*c1 + c[1]*s1 + c[2]*c2 + c[3]*s2 + c[4]*c3 + c[5]*s3
}

// novice is how many times a party a fall within h hours must be while the household's days are still being
// learned: up to three times when it took more than an hour. People still handle the new scale, and what goes
// on by day is not known yet.
func (p *profile) novice(h float64) float64 {
	return 1 + 2*math.Max(0, 1-p.days/apprentice)*clip(h-1, 1)
}

// warmth is what a day warmer than usual at this hour has added to the reading, g. What every day does alike
// stays in, as part of the profile.
func (p *profile) warmth(r Reading) float64 {
	if r.Coef == 0 || p.days < 2 {
		return 0
	}
	return r.Coef * (r.Cell - p.meanT - wave(&p.warm, r.Hour))
}

// add takes a reading; with the first of a new day it learns from the one that ended, unless gas was leaving.
func (p *profile) add(r Reading, losing bool) {
	if r.Day != p.day {
		if p.opened {
			p.close(losing)
		}
		p.known = p.known && r.Day == p.day+1
		p.day, p.opened = r.Day, true
		p.sum, p.sumT, p.n = [24]float64{}, [24]float64{}, [24]int{}
	}
	h := int(r.Hour) % 24
	p.sum[h] += float64(r.Gross)
	p.sumT[h] += r.Cell
	p.n[h]++
}

// interrupt forgets the running day.
func (p *profile) interrupt() {
	p.opened, p.known = false, false
	p.day = -1
}

// close learns from the day that has ended.
func (p *profile) close(losing bool) {
	var m, mT [24]float64
	if !p.hourly(&p.sum, &m) || losing {
		p.known = false
		return
	}
	p.hourly(&p.sumT, &mT)
	mean, meanT := average(&m), average(&mT)
	fell := p.use
	if p.known {
		fell = math.Max(-mostDay/15, math.Min(p.mean-mean, mostDay))
	}
	w := 1 / math.Min(p.days+2, profileMemory)
	p.use = math.Max(0, p.use+w*(fell-p.use))
	pull(&p.coef, &m, mean, fell, w, mostShape)
	pull(&p.warm, &mT, meanT, 0, w, mostWarmth)
	if p.days == 0 {
		p.meanT = meanT
	}
	p.meanT += (meanT - p.meanT) / 60
	p.mean, p.known = mean, true
	p.days++
}

func average(m *[24]float64) (mean float64) {
	for _, x := range m {
		mean += x / 24
	}
	return mean
}

// hourly fills m with the hours' means of sum, the missing ones between their neighbours; false: too many miss.
func (p *profile) hourly(sum, m *[24]float64) bool {
	have, last := 0, -1
	for h := range m {
		if p.n[h] == 0 {
			continue
		}
		have++
		m[h] = sum[h] / float64(p.n[h])
		for k := last + 1; k < h; k++ {
			m[k] = m[h]
			if last >= 0 {
				m[k] = m[last] + (m[h]-m[last])*float64(k-last)/float64(h-last)
			}
		}
		last = h
	}
	for k := last + 1; k < 24 && last >= 0; k++ {
		m[k] = m[last]
	}
	return have >= fewestHours
}

// pull moves the harmonics a part w towards those of a day with hourly means m that fell by fell.
func pull(coef *harmonics, m *[24]float64, mean, fell, w, most float64) {
	var c harmonics
	for h, x := range m {
		t := float64(h) + 0.5
		x += fell*(t-12)/24 - mean
		for k := range c {
			s1, c1 := math.Sincos(t * float64(k/2+1) * math.Pi / 12)
			c[k] += x * [2]float64{c1, s1}[k%2] / 12
		}
	}
	for i := range c {
		coef[i] += w * clipTo(c[i]-coef[i], most)
	}
}

// Parts of the household's day.
const (
	night = iota
	daytime
	evening
)

// When nobody draws, unless the household's quiet hours are shorter; and when company comes. Common practice, no source.
const (
	nightFrom    = 23.0
	nightTo      = 6.0
	eveningFrom  = 17.0
	leastOfNight = 4.0 // h; of a shorter night nothing can be learned
)

// span is a part of each day, in hours of the household's clock; it may reach over midnight.
type span struct{ from, to float64 }

// covers reports that hour lies in s.
func (s span) covers(hour float64) bool { return mod24(hour-s.from) < mod24(s.to-s.from) }

// nightWithin is the night as far as it lies within the household's quiet hours: who is up late may draw late, but
// nobody draws because messages are allowed. Quiet hours that leave no night say nothing about it.
func nightWithin(quietFrom, quietTo float64) span {
	usual := span{nightFrom, nightTo}
	if quietFrom == quietTo {
		return usual
	}
	length := mod24(nightTo - nightFrom)
	from, to := mod24(quietFrom-nightFrom), mod24(quietTo-nightFrom)
	if from > 12 { // before the night
		from = 0
	}
	to = math.Min(to, length)
	if to-from < leastOfNight {
		return usual
	}
	return span{mod24(nightFrom + from), mod24(nightFrom + to)}
}

func mod24(h float64) float64 { return math.Mod(math.Mod(h, 24)+24, 24) }

// part names the part of the day at hour.
func (w *Watch) part(hour float64) int {
	switch {
	case w.night.covers(hour):
		return night
	case hour >= eveningFrom || hour < nightTo:
		return evening
	default:
		return daytime
	}
}

// decay is the share left after h hours with the given time constant in hours.
func decay(h, constant float64) float64 { return math.Exp(-h / constant) }
