package loss

import "math"

// Gas that leaves must still be leaving when it is told: an evening's use that has ended by itself is use.
const (
	stillShare = 0.6  // of the rate believed, that the last stretch must show at least
	tells      = 0.25 // of the rate believed, that its slope may be uncertain by
	stillMost  = 4.0  // h looked back at most
)

// still reports whether the last readings go on falling at about rate g/h, beyond the usual drop. The stretch is the
// shortest one whose straight line tells the rate well enough; if none within four hours does, nothing speaks against
// it.
//
//	slope = Σ(t-t̄)(y-ȳ)/Σ(t-t̄)², its standard error σ/√Σ(t-t̄)²; t in hours, y in g, σ of a bin's mean
func (b *burst) still(w *Watch, rate float64) bool {
	last := b.n - 1
	var n, st, sy, stt, sty float64
	for i := last; i >= 0; i-- {
		t := b.bin[i].at.Sub(b.bin[last].at).Hours()
		if -t > stillMost {
			return true
		}
		y := b.bin[i].mean()
		n, st, sy, stt, sty = n+1, st+t, sy+y, stt+t*t, sty+t*y
		about := stt - st*st/n
		if n < 3 || b.bin[last].sd/math.Sqrt(b.bin[last].n*about) > tells*rate {
			continue
		}
		usual := math.Max(0, w.profile.drop(b.bin[last].hour, -t)) / -t
		return -(sty-st*sy/n)/about-usual >= stillShare*rate
	}
	return true
}
