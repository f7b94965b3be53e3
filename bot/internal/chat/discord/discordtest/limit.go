package discordtest

import (
	"fmt"
	"hash/crc32"
	"math"
	"net/http"
	"strconv"
	"time"
)

// bucket is the count of requests of one route in a window.
type bucket struct {
	left  int
	reset time.Time
}

// limit counts a request against its bucket and sets the headers; a wait means that it is refused.
func (p *Platform) limit(q Request, parts []string, h http.Header) time.Duration {
	key := q.Method + " " + q.Route
	if len(parts) > 1 {
		key += " " + parts[1] // the major parameter
	}
	b := p.buckets[key]
	if b == nil || p.Now().After(b.reset) {
		b = &bucket{left: p.BucketLimit, reset: p.Now().Add(p.BucketWindow)}
		p.buckets[key] = b
	}
	wait := b.reset.Sub(p.Now())
	if b.left > 0 {
		b.left--
		wait = 0
	}
	after := max(b.reset.Sub(p.Now()), 0).Seconds()
	h.Set("X-RateLimit-Limit", strconv.Itoa(p.BucketLimit))
	h.Set("X-RateLimit-Remaining", strconv.Itoa(b.left))
	h.Set("X-RateLimit-Reset", fmt.Sprintf("%.3f", float64(b.reset.UnixMilli())/1000))
	h.Set("X-RateLimit-Reset-After", fmt.Sprintf("%.3f", after))
	h.Set("X-RateLimit-Bucket", fmt.Sprintf("%08x", crc32.ChecksumIEEE([]byte(q.Method+q.Route))))
	if wait > 0 {
		h.Set("Retry-After", strconv.Itoa(int(math.Ceil(after))))
		h.Set("X-RateLimit-Scope", "user")
	}
	return wait
}
