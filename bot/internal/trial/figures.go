package trial

import (
	"math"
	"runtime"
	"slices"
	"sync"
)

// probabilities are those at which a forecast is judged.
var probabilities = [7]float64{0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95}

// quantileLoss is twice the mean pinball loss of quantiles q, at probabilities, when y came: the CRPS by its quantiles
// (Gneiting and Raftery 2007, doi:10.1198/016214506000001437, section 4.2).
func quantileLoss(q [7]float64, y float64) float64 {
	sum := 0.0
	for i, p := range probabilities {
		if y < q[i] {
			p--
		}
		sum += p * (y - q[i])
	}
	return 2 * sum / float64(len(q))
}

// median is the upper one of an even number; NaN of none.
func median(xs []float64) float64 {
	if len(xs) == 0 {
		return math.NaN()
	}
	xs = slices.Clone(xs)
	slices.Sort(xs)
	return xs[len(xs)/2]
}

func mean(xs []float64) float64 {
	sum := 0.0
	for _, x := range xs {
		sum += x
	}
	return sum / float64(len(xs))
}

// share is a count of how many of how many.
type share struct{ n, of int }

func (s *share) add(yes bool) {
	s.of++
	if yes {
		s.n++
	}
}

func (s share) value() float64 { return float64(s.n) / float64(s.of) }

// Each runs f for 0 to n-1 on so many goroutines; 0: on all processors. It returns the first error by number.
func Each(n, jobs int, f func(i int) error) error {
	if jobs <= 0 {
		jobs = runtime.GOMAXPROCS(0)
	}
	errs := make([]error, n)
	next := make(chan int)
	var wg sync.WaitGroup
	for range jobs {
		wg.Go(func() {
			for i := range next {
				errs[i] = f(i)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}
