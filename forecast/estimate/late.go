package estimate

import "math"

// push appends to the ring.
func (f *Filter) push(e entry) {
	f.ring[(f.head+f.count)%ringSize] = e
	f.total++
	if f.count < ringSize {
		f.count++
		return
	}
	f.head = (f.head + 1) % ringSize
}

// keep takes a snapshot before an entry when the youngest one is old enough, so that a late word can be heard. Ages roughly
// double from one to the next.
func (f *Filter) keep(t float64) {
	if !f.core.started {
		return
	}
	if f.snapped > 0 && f.core.t-f.snap[f.snapped-1].t < 1.5*secondsDay {
		return
	}
	if f.snapped == snapshots {
		f.thin()
	}
	f.snap[f.snapped], f.snapAt[f.snapped] = f.core, f.total-1
	f.snapped++
}

// thin drops the snapshot whose going widens the relative spacing least.
func (f *Filter) thin() {
	best, drop := math.Inf(1), 0
	now := f.core.t + secondsDay
	for i := range snapshots - 1 {
		older := math.Inf(1)
		if i > 0 {
			older = now - f.snap[i-1].t
		}
		if f.snapAt[i] <= f.total-f.count {
			drop = i // its entries are gone
			break
		}
		if i == 0 {
			continue
		}
		if ratio := older / (now - f.snap[i+1].t); ratio < best {
			best, drop = ratio, i
		}
	}
	copy(f.snap[drop:], f.snap[drop+1:])
	copy(f.snapAt[drop:], f.snapAt[drop+1:])
	f.snapped--
}

// rewind puts the core back to the youngest snapshot not after t and returns the index, in entries ever, from which to
// go on. Without one it goes back as far as it can.
func (f *Filter) rewind(t float64) (from int, ok bool) {
	for f.snapped > 0 {
		i := f.snapped - 1
		if f.snapAt[i] < f.total-f.count {
			return 0, false
		}
		if f.snap[i].t <= t || i == 0 || f.snapAt[i-1] < f.total-f.count {
			f.core = f.snap[i]
			return f.snapAt[i], true
		}
		f.snapped--
	}
	return 0, false
}

// again applies the entries from index from on.
func (f *Filter) again(from int) {
	for i := from; i < f.total; i++ {
		f.apply(&f.core, *f.slotAt(i))
	}
}

// insert puts a late entry in its place and goes over what came after it.
func (f *Filter) insert(e entry) {
	from, ok := f.rewind(e.t)
	if !ok {
		if e.kind == filling { // too long ago to go over again: take off what was used since
			g, _ := f.core.mix.collapse()
			mean, v := g.level()
			used := math.Exp(mean+math.Min(v, maxLogVar)/2) * (f.core.t - e.t) / secondsDay
			e.y, e.r = math.Max(e.y-used, 0), e.r+used*used/10
		}
		e.t = f.core.t
		f.push(e)
		f.apply(&f.core, e)
		return
	}
	f.push(e)
	at := f.total - 1
	for at > from && f.slotAt(at-1).t > e.t {
		*f.slotAt(at) = *f.slotAt(at - 1)
		at--
	}
	*f.slotAt(at) = e
	if e.t < f.core.t {
		f.slotAt(at).t = f.core.t
	}
	f.again(from)
}

func (f *Filter) slotAt(i int) *entry {
	return &f.ring[(f.head+i-(f.total-f.count))%ringSize]
}

// review goes over everything since t again, after something was told about that time.
func (f *Filter) review(t float64) {
	if !f.core.started || t >= f.core.t {
		return
	}
	if from, ok := f.rewind(t); ok {
		f.again(from)
	}
}

// addLoss notes a loss in place of one with the same beginning; the oldest goes when there is no room.
func (rep *reports) addLoss(l outflow) {
	for i := range rep.loss[:rep.nl] {
		if rep.loss[i].from == l.from && rep.loss[i].open == l.open {
			rep.loss[i] = l
			return
		}
	}
	if rep.nl == len(rep.loss) {
		copy(rep.loss[:], rep.loss[1:])
		rep.nl--
	}
	rep.loss[rep.nl] = l
	rep.nl++
}
