package estimate

import (
	"math"
	"sync"
	"testing"
)

// TestCoverage runs invented cylinders of six laws to their end and asks how many of the true run-outs fell inside the
// forecast's p10-p90. Of each cylinder one forecast counts, so that the counts are binomial: with n cylinders and a true
// share of 0.8 their standard deviation is √(0.8·0.2/n), and three of them are allowed, plus a stated bias for a law the
// filter's own differs from.
func TestCoverage(t *testing.T) {
	kinds := []struct {
		name string
		how  weighing
		n    int
		bias float64
	}{
		{"worlds", typed, 120, 0.03}, {"worlds", scale, 24, 0.03},
		{"steady", typed, 48, 0.05}, {"weekend", typed, 48, 0.05}, {"regime", typed, 48, 0.05}, {"walk", typed, 48, 0.05},
		{"season", typed, 48, 0.12}, // nobody knows a year's swing in the first year
	}
	var all, in int
	for _, k := range kinds {
		n := k.n
		if testing.Short() {
			n /= 8
		}
		c := covered(k.name, k.how, n)
		all, in = all+c[1], in+c[0]
		share, sd := float64(c[0])/float64(c[1]), math.Sqrt(0.8*0.2/float64(c[1]))
		t.Logf("%s, %v: %.3f of %d, tolerance %.3f", k.name, k.how, share, c[1], 3*sd+k.bias)
		if math.Abs(share-0.8) > 3*sd+k.bias {
			t.Errorf("%s, typed %v: p10-p90 holds %.3f of %d run-outs, want 0.8 ± %.3f", k.name, k.how, share, c[1], 3*sd+k.bias)
		}
	}
	share, sd := float64(in)/float64(all), math.Sqrt(0.8*0.2/float64(all))
	t.Logf("all: %.3f of %d", share, all)
	if math.Abs(share-0.8) > 3*sd+0.02 {
		t.Errorf("all laws: p10-p90 holds %.3f of %d run-outs, want 0.8 ± %.3f", share, all, 3*sd+0.02)
	}
}

// covered counts the cylinders of a kind whose run-out fell inside, and the cylinders.
func covered(kind string, how weighing, n int) (c [2]int) {
	var mu sync.Mutex
	var wg sync.WaitGroup
	for w := range 2 {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for i := w; i < n; i += 2 {
				trials := tryCylinder(uint64(1000+i), kind, how, nil)
				if len(trials) == 0 {
					continue
				}
				tr := trials[i/2%len(trials)]
				mu.Lock()
				c[1]++
				if tr.y >= tr.q[1] && tr.y <= tr.q[5] {
					c[0]++
				}
				mu.Unlock()
			}
		}()
	}
	wg.Wait()
	return c
}
