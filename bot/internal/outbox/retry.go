package outbox

import (
	"crypto/sha256"
	"encoding/binary"
	"math"
	"math/bits"
	"strconv"
	"time"
)

// Table says how long to wait before the next attempt: First after the first failure, doubling, at most Most.
type Table struct{ First, Most time.Duration }

// The tables. A danger is tried again at least once a minute, for as long as it takes; what can wait is tried at
// least every quarter of an hour. What was refused needs somebody to change something, which takes longer.
var (
	UrgentTable = Table{First: time.Second, Most: time.Minute}
	CalmTable   = Table{First: 2 * time.Second, Most: 15 * time.Minute}

	RefusedTable = Table{First: 30 * time.Second, Most: time.Hour}
)

// Gap is the plain gap after a number of failed attempts (1, 2, …).
func (t Table) Gap(attempts int) time.Duration { return min(growth(t.First, attempts), t.Most) }

// growth is first·2^(attempts-1), or the longest Duration where that is longer still.
func growth(first time.Duration, attempts int) time.Duration {
	shift := max(attempts, 1) - 1
	if spare := bits.LeadingZeros64(uint64(first)) - 1; shift > spare { // the sign bit is not for us
		return math.MaxInt64
	}
	return first << shift
}

// spread is a number in [0.75, 1.25) that depends on key and attempt only, so that the notices of an outage
// do not all come back in the same moment and a test knows what will happen.
func spread(key string, attempts int) float64 {
	sum := sha256.Sum256([]byte(key + "\x00" + strconv.Itoa(attempts)))
	return 0.75 + 0.5*float64(binary.BigEndian.Uint64(sum[:])>>11)/(1<<53)
}

// Wait is the gap with its spread.
func (t Table) Wait(key string, attempts int) time.Duration {
	return time.Duration(float64(t.Gap(attempts)) * spread(key, attempts))
}

func table(urgent bool) Table {
	if urgent {
		return UrgentTable
	}
	return CalmTable
}
