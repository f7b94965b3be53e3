package loss

import (
	"math"
	"time"
)

// burst looks at the last hours for a fall that no party explains. Readings closer together than binWidth
// are averaged, so that the memory spans at least half a day.
type burst struct {
	bin   [bins]bin // the newest last
	n     int
	floor floor
}

// floor remembers how low the reading has been: gas does not come back, so what has risen since is something
// else, and may fall again without any loss.
type floor struct {
	sum, n [floors]float64 // of thirds of a shift, as a ring
	slot   int64
}

const (
	floors     = 12
	floorHours = 3
)

// add counts a reading of mass y.
func (f *floor) add(at time.Time, y float64) {
	slot := at.Unix() / (floorHours * 3600)
	for s := max(f.slot+1, slot-floors+1); s <= slot; s++ {
		f.sum[s%floors], f.n[s%floors] = 0, 0
	}
	f.slot = slot
	f.sum[slot%floors] += y
	f.n[slot%floors]++
}

// lowest is the lowest mean of three hours that ended by before, in the last day and a half; +Inf if there
// is none of at least three readings. That the lowest of a dozen noisy means lies below the truth is allowed
// for.
func (f *floor) lowest(before time.Time, sd float64) float64 {
	low := math.Inf(1)
	end := before.Unix() / (floorHours * 3600)
	for s := max(0, f.slot-floors+1); s < min(end, f.slot); s++ {
		if n := f.n[s%floors]; n >= 3 {
			low = math.Min(low, f.sum[s%floors]/n+1.5*sd/math.Sqrt(n))
		}
	}
	return low
}

type bin struct {
	at         time.Time // of its last reading
	sum        float64
	n          float64
	sd, coarse float64
	hour       float64
	free, calm bool
}

const (
	bins     = 64
	binWidth = 9 * time.Minute
	surely   = 3.5 // sigma of the measured fall that are not counted
)

func (b *bin) mean() float64 { return b.sum / b.n }

// add takes a reading. A step taken out makes what came before useless.
func (b *burst) add(r Reading) {
	b.floor.add(r.At, float64(r.Gross))
	if r.StepSD > 0 {
		b.n = 0
	}
	if b.n > 0 {
		if l := &b.bin[b.n-1]; r.At.Sub(l.at) < binWidth/2 && l.n < 20 {
			l.sum += float64(r.Gross)
			l.n++
			return
		}
	}
	if b.n == bins {
		copy(b.bin[:], b.bin[1:])
		b.n--
	}
	b.bin[b.n] = bin{at: r.At, sum: float64(r.Gross), n: 1, sd: float64(r.SD), coarse: coarse(float64(r.SD), float64(r.Grain)), hour: r.Hour, free: r.Free, calm: r.Quiet}
	b.n++
}

// spans are the numbers of bins looked back over.
var spans = [...]int{2, 3, 4, 5, 6, 8, 10, 12, 16, 20, 24, 32, 40, 48}

// test reports a fall that goes on and is beyond what lively use takes.
func (b *burst) test(w *Watch) (Found, bool) {
	last := b.n - 1
	if last < 3 || b.bin[last-2].mean() <= b.bin[last].mean() {
		return Found{}, false
	}
	for _, j := range spans {
		if j >= last {
			break
		}
		if f, ok := b.span(w, last-j, last); ok {
			return f, true
		}
	}
	return Found{}, false
}

// span tests the fall from bin i to bin last.
func (b *burst) span(w *Watch, i, last int) (Found, bool) {
	from, nFrom := b.around(i, -4)
	to, nTo := b.bin[last].mean(), b.bin[last].n
	if last-i > 5 {
		to, nTo = b.around(last, -2)
	}
	sd := b.bin[last].sd * math.Sqrt(1/nFrom+1/nTo)
	sure := from - to - surely*sd - 2*b.bin[last].coarse
	if sure < w.serving() { // most readings end here
		return Found{}, false
	}
	h := b.bin[last].at.Sub(b.bin[i].at).Hours()
	fell := math.Min(from, b.floor.lowest(b.bin[i].at, b.bin[i].sd)) - to
	usual := math.Max(0, w.profile.drop(b.bin[last].hour, h))
	sure += fell - (from - to) - 2*usual
	if sure < w.profile.novice(h)*b.ceiling(w, i, last)+2*w.wary*10 || !b.steady(i, last, fell) {
		return Found{}, false
	}
	return Found{
		Kind: Abrupt, Since: b.bin[i].at, Lost: grams(fell - usual), LostSD: grams(sd),
		Rate: perHour((fell - usual) / h), RateSD: perHour(sd / h),
	}, true
}

// around is the mean of up to -k bins that end with bin i, and the readings in it.
func (b *burst) around(i, k int) (mean, n float64) {
	var sum float64
	for j := max(0, i+k+1); j <= i; j++ {
		sum += b.bin[j].sum
		n += b.bin[j].n
	}
	return sum / n, n
}

// ramped is by how much, in units of the scatter's variance, a steady fall must fit better than a single step:
// a likelihood ratio of e².
const ramped = 4.0

// steady reports that the fall goes on and is no step: a straight line fits the bins from i to last clearly
// better than any two levels do. One thing taken off the platform is a step; so is a single wild reading.
func (b *burst) steady(i, last int, fell float64) bool {
	half := (i + last) / 2
	if b.bin[half].mean()-b.bin[last].mean() < 0.25*fell {
		return false
	}
	n, base := float64(last-i+1), b.bin[i].mean()
	var st, sy, stt, sty, syy float64
	for j := i; j <= last; j++ {
		t, y := b.bin[j].at.Sub(b.bin[i].at).Hours(), b.bin[j].mean()-base
		st, sy, stt, sty, syy = st+t, sy+y, stt+t*t, sty+t*y, syy+y*y
	}
	about := syy - sy*sy/n
	cov := sty - st*sy/n
	line := about - cov*cov/(stt-st*st/n)
	step, left := about, 0.0
	for j := i; j < last; j++ {
		left += b.bin[j].mean() - base
		k := float64(j - i + 1)
		gap := left/k - (sy-left)/(n-k)
		step = math.Min(step, about-gap*gap*k*(n-k)/n)
	}
	sd := b.bin[last].sd
	return step-line > ramped*sd*sd
}

// ceiling is the most that a lively evening takes between bins i and last: three servings at once, eight
// more within an hour, six, four and three within the next ones. By day it is less, at night hardly
// anything. Our guess at a party; common practice, no source.
func (b *burst) ceiling(w *Watch, i, last int) float64 {
	var hours, lively [3]float64 // by part of the day, plain and weighted
	top := 0.0
	for j := i + 1; j <= last; j++ {
		if b.bin[j].calm {
			continue
		}
		h, p := b.bin[j].at.Sub(b.bin[j-1].at).Hours(), part(b.bin[j].hour)
		x := liveliness(p, b.bin[j].free)
		hours[p] += h
		lively[p] += h * x
		top = math.Max(top, x)
	}
	guests := party(hours[evening])
	if awake := hours[evening] + hours[daytime]; awake > 0 {
		guests = math.Max(guests, party(awake)*(lively[evening]+lively[daytime])/awake)
	}
	return w.serving() * (1 + 2*top + guests + liveliness(night, false)*party(hours[night]))
}

// serving is a large serving, g.
func (w *Watch) serving() float64 {
	if w.opt.Serving > 0 {
		return 1.3 * float64(w.opt.Serving)
	}
	return 11
}

// party is how many servings guests may take in h hours of an evening, beyond the first three.
func party(h float64) float64 {
	return 8*clip(h, 1) + 6*clip(h-1, 1) + 4*clip(h-2, 1) + 3*clip(h-3, 1)
}

func clip(x, most float64) float64 { return math.Max(0, math.Min(x, most)) }

// liveliness weighs a part of the day: 1 in the evening.
func liveliness(p int, free bool) float64 {
	switch {
	case p == evening:
		return 1
	case p == daytime && free:
		return 0.8
	case p == daytime:
		return 0.5
	}
	return 0.12
}
