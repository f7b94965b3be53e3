package trial

import (
	"runtime"

	"golang.org/x/sync/errgroup"
)

// Each runs f for 0 to n-1 on so many goroutines; 0: on all processors. It returns the first error.
func Each(n, jobs int, f func(i int) error) error {
	if jobs <= 0 {
		jobs = runtime.GOMAXPROCS(0)
	}
	var g errgroup.Group
	g.SetLimit(jobs)
	for i := range n {
		g.Go(func() error { return f(i) })
	}
	return g.Wait()
}
