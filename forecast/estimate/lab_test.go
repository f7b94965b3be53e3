package estimate

import (
	"encoding/json"
	"fmt"
	"os"
	"strconv"
	"strings"
	"sync"
	"testing"
)

// TestLab measures many invented cylinders; for development.
func TestLab(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("LAB"))
	if n == 0 {
		t.Skip("set LAB to a number of cylinders")
	}
	kinds := "worlds"
	if k := os.Getenv("LAB_KINDS"); k != "" {
		kinds = k
	}
	defer saveCache()
	for _, kind := range strings.Split(kinds, ",") {
		for _, manual := range []bool{false, true} {
			res := make([][]trial, n)
			var wg sync.WaitGroup
			for w := range 2 {
				wg.Add(1)
				go func() {
					defer wg.Done()
					for i := w; i < n; i += 2 {
						res[i] = tryCylinder(uint64(i+1), kind, manual, 200)
					}
				}()
			}
			wg.Wait()
			report(kind, manual, res)
		}
	}
}

var (
	cacheMu sync.Mutex
	cache   map[string][7]float64
)

func cachedOracle(key string, f func() [7]float64) [7]float64 {
	cacheMu.Lock()
	if cache == nil {
		cache = map[string][7]float64{}
		b, _ := os.ReadFile("/tmp/estimate/oracle.json")
		json.Unmarshal(b, &cache)
	}
	q, ok := cache[key]
	cacheMu.Unlock()
	if ok {
		return q
	}
	q = f()
	cacheMu.Lock()
	cache[key] = q
	cacheMu.Unlock()
	return q
}

func saveCache() {
	b, _ := json.Marshal(cache)
	os.WriteFile("/tmp/estimate/oracle.json", b, 0o600)
}

func report(kind string, manual bool, res [][]trial) {
	type acc struct{ n, l, o, c80, c90, lo, hi, med, gz, gm float64 }
	tot := map[float64]*acc{}
	for _, ts := range res {
		for _, tr := range ts {
			for _, k := range []float64{tr.frac, 0} {
				a := tot[k]
				if a == nil {
					a = &acc{}
					tot[k] = a
				}
				a.n++
				a.l += pinball(tr.q, tr.y) / tr.y
				a.o += pinball(tr.orc, tr.y) / tr.y
				if tr.y < tr.q[1] {
					a.lo++
				} else if tr.y > tr.q[5] {
					a.hi++
				} else {
					a.c80++
				}
				if tr.y >= tr.q[0] && tr.y <= tr.q[6] {
					a.c90++
				}
				if tr.y < tr.q[3] {
					a.med++
				}
				a.gz += tr.gasZ * tr.gasZ
				a.gm += tr.gasZ
			}
		}
	}
	for _, k := range []float64{0, .8, .6, .4, .25, .15, .08} {
		a := tot[k]
		if a == nil {
			continue
		}
		fmt.Printf("%s manual=%v frac %.2f n %.0f ratio %.3f loss %.4f cover80 %.3f cover90 %.3f below10 %.3f above90 %.3f belowmed %.3f gas z2 %.2f mean %.2f\n",
			kind, manual, k, a.n, a.l/a.o, a.l/a.n, a.c80/a.n, a.c90/a.n, a.lo/a.n, a.hi/a.n, a.med/a.n, a.gz/a.n, a.gm/a.n)
	}
}
