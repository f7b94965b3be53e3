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
	slot := max(0, at.Unix()/(floorHours*3600))
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
	part       int // of the day
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
	b.bin[b.n] = bin{at: r.At, sum: float64(r.Gross), n: 1, sd: float64(r.SD), coarse: coarse(float64(r.SD), float64(r.Grain)), hour: r.Hour, free: r.Free, calm: r.Quiet, part: r.part}
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
	to, nTo := b.bin[last].mean(), b.bin[last].weight()
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
	told := w.logged.between(b.bin[i].at, b.bin[last].at)
	usual := math.Max(0, w.profile.drop(b.bin[last].hour, h))
	sure += fell - (from - to) - 2*usual - told
	if sure < w.profile.novice(h)*b.ceiling(w, b.reach(i, last), last)+2*w.wary*10 || !b.steady(i, last, fell) {
		return Found{}, false
	}
	since := b.began(i, last)
	lost := fell - usual - told
	h = b.bin[last].at.Sub(since).Hours()
	if !b.still(w, lost/h) {
		return Found{}, false
	}
	return Found{
		Kind: Abrupt, Since: since, Lost: grams(lost), LostSD: grams(sd),
		Rate: perHour(lost / h), RateSD: perHour(math.Hypot(sd, lost/h*b.unseen(since)/2) / h),
	}, true
}

// Looks at one moment that are worth their while, and what makes the first of them worth repeating.
const (
	mostLooks = 5
	unlikely  = 2.0 // sigma
)

// curious reports that the last reading lies lower than before by more than a serving and unlikely scatter: the mean of a
// few more, taken at once, would tell a real fall from a chance one.
func (b *burst) curious(w *Watch) bool {
	last := b.n - 1
	if last < 3 || b.bin[last].n >= mostLooks {
		return false
	}
	for i := last - 1; i >= last-3; i-- {
		from, n := b.around(i, -4)
		sd := b.bin[last].sd * math.Sqrt(1/n+1/b.bin[last].n)
		usual := math.Max(0, w.profile.drop(b.bin[last].hour, b.bin[last].at.Sub(b.bin[i].at).Hours()))
		if from-b.bin[last].mean()-2*usual-2*b.bin[last].coarse > w.serving()+unlikely*sd {
			return true
		}
	}
	return false
}

// heedful is how long after a fall, that use hardly explains, the next readings are awaited.
const heedful = 35 * time.Minute

// expectant reports that within the last half hour the readings fell by more than a serving and unlikely scatter, and
// stayed down: a few minutes more would tell whether gas goes on leaving.
func (b *burst) expectant(w *Watch) bool {
	last := b.n - 1
	var sum, n float64
	for k := last; k >= 3 && b.bin[last].at.Sub(b.bin[k].at) <= heedful; k-- {
		sum, n = sum+b.bin[k].weight()*b.bin[k].mean(), n+b.bin[k].weight()
		from, nFrom := b.around(k-1, -4)
		sd := b.bin[last].sd * math.Sqrt(1/nFrom+1/n)
		usual := math.Max(0, w.profile.drop(b.bin[last].hour, b.bin[last].at.Sub(b.bin[k-1].at).Hours()))
		if from-sum/n-2*usual-2*b.bin[last].coarse > w.serving()+unlikely*sd {
			return true
		}
	}
	return false
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

// ramped is by how much, in units of the scatter's variance, a fall that goes on must fit better than a single step:
// a likelihood ratio of e².
const ramped = 4.0

// flatBins is how many bins before a fall say where it began.
const flatBins = 3

// steady reports that the fall from bin i to last goes on and is no step. Either a straight line fits the bins clearly
// better than any two levels do, or, with some bins before them, a level that turns into a straight line within them
// does: that one sees a fall which began between two readings, but only if it is clear that it did begin. One thing
// taken off the platform is a step; so is a single wild reading.
func (b *burst) steady(i, last int, fell float64) bool {
	half := (i + last) / 2
	if b.bin[half].mean()-b.bin[last].mean() < 0.25*fell {
		return false
	}
	clear := ramped * b.bin[last].sd * b.bin[last].sd
	if b.step(i, last)-b.bent(i, last, b.bin[i].at) > clear {
		return true
	}
	before := max(0, i-flatBins)
	sse, from := b.hinge(before, last)
	return !from.Before(b.bin[i].at) && b.step(before, last)-sse > clear && b.bent(before, last, b.bin[before].at)-sse > clear
}

// reach is the bin from which on guests may have drawn what is missing since bin i. The level there is a mean that
// reaches back; late in an evening that lasts, this tells a party that is still on from a quiet night.
func (b *burst) reach(i, last int) int {
	if b.bin[last].part != night {
		return i
	}
	return max(0, i-2)
}

// began is when the fall found from bin i to last is thought to have begun: between bins, or somewhat before i.
func (b *burst) began(i, last int) time.Time {
	_, from := b.hinge(max(0, i-flatBins), last)
	return from
}

// unseen is for how long nobody looked around at, h: from the last bin before it to the next one.
func (b *burst) unseen(at time.Time) float64 {
	for j := b.n - 1; j > 0; j-- {
		if !b.bin[j-1].at.After(at) {
			return b.bin[j].at.Sub(b.bin[j-1].at).Hours()
		}
	}
	return 0
}

// step is the smallest sum of squares that two levels leave over the bins from i to last, g². Bins count by their readings.
func (b *burst) step(i, last int) float64 {
	base := b.bin[i].mean()
	var n, sy, syy float64
	for j := i; j <= last; j++ {
		w, y := b.bin[j].weight(), b.bin[j].mean()-base
		n, sy, syy = n+w, sy+w*y, syy+w*y*y
	}
	about := syy - sy*sy/n
	best, k, left := about, 0.0, 0.0
	for j := i; j < last; j++ {
		w := b.bin[j].weight()
		k, left = k+w, left+w*(b.bin[j].mean()-base)
		gap := left/k - (sy-left)/(n-k)
		best = math.Min(best, about-gap*gap*k*(n-k)/n)
	}
	return best
}

// hinge is the smallest sum of squares that a level, followed by a straight line down from some moment on, leaves over
// the bins from i to last, g². Moments at and half-way between bins are tried.
func (b *burst) hinge(i, last int) (least float64, from time.Time) {
	least = math.Inf(1)
	for k := 2 * i; k < 2*last-1; k++ {
		at := b.bin[k/2].at
		if k%2 == 1 {
			at = at.Add(b.bin[k/2+1].at.Sub(at) / 2)
		}
		if s := b.bent(i, last, at); s < least {
			least, from = s, at
		}
	}
	return least, from
}

// bent is the sum of squares left by a level until from and a straight line afterwards.
func (b *burst) bent(i, last int, from time.Time) float64 {
	base := b.bin[i].mean()
	var n, st, sy, stt, sty, syy float64
	for j := i; j <= last; j++ {
		w, t, y := b.bin[j].weight(), math.Max(0, b.bin[j].at.Sub(from).Hours()), b.bin[j].mean()-base
		n, st, sy, stt, sty, syy = n+w, st+w*t, sy+w*y, stt+w*t*t, sty+w*t*y, syy+w*y*y
	}
	cov := sty - st*sy/n
	return syy - sy*sy/n - cov*cov/(stt-st*st/n)
}

// weight is how many readings a bin counts for: the scale's wandering is the same for all of one moment.
func (b *bin) weight() float64 { return math.Min(b.n, mostLooks) }

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
		h, p := b.bin[j].at.Sub(b.bin[j-1].at).Hours(), b.bin[j].part
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

// liveliness weighs a part of the day: 1 in the evening. On a working day few guests come before it.
func liveliness(p int, free bool) float64 {
	switch {
	case p == evening:
		return 1
	case p == daytime && free:
		return 0.8
	case p == daytime:
		return 0.3
	}
	return 0.12
}
