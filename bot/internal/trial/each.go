package trial

import (
	"runtime"
	"sync"
)

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
