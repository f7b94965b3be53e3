package outbox

import (
	"crypto/sha256"
	"encoding/binary"
	"strconv"
	"time"

	"tarebell/bot/internal/backoff"
)

// The gaps between attempts. A danger is tried again at least once a minute, for as long as it takes; what can wait is
// tried at least every quarter of an hour. What was refused needs somebody to change something, which takes longer.
var (
	urgentGaps  = backoff.Gaps{First: time.Second, Most: time.Minute}
	calmGaps    = backoff.Gaps{First: 2 * time.Second, Most: 15 * time.Minute}
	refusedGaps = backoff.Gaps{First: 30 * time.Second, Most: time.Hour}
)

// spread is the gap after a number of failed attempts, times a number in [0.75, 1.25) that depends on key and attempt only, so that
// the notices of an outage do not all come back in the same moment and a test knows what will happen.
func spread(g backoff.Gaps, key string, failed int) time.Duration {
	sum := sha256.Sum256([]byte(key + "\x00" + strconv.Itoa(failed)))
	factor := 0.75 + 0.5*float64(binary.BigEndian.Uint64(sum[:])>>11)/(1<<53)
	return time.Duration(float64(g.After(failed)) * factor)
}
