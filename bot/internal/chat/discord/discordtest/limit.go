package discordtest

import (
	"fmt"
	"hash/crc32"
	"math"
	"net/http"
	"strconv"
	"time"
)

// window counts what happens until its end.
type window struct {
	count int
	end   time.Time
}

// add counts one more at now, in a window of that length.
func (w *window) add(now time.Time, length time.Duration) int {
	if !now.Before(w.end) {
		*w = window{end: now.Add(length)}
	}
	w.count++
	return w.count
}

// The ban of an address that makes too many invalid requests (Discord documentation: rate limits).
const (
	maxInvalid    = 10000
	invalidWindow = 10 * time.Minute
)

// banned says whether the address is blocked; with mu held.
func (p *Platform) banned() bool {
	return p.Now().Before(p.invalid.end) && p.invalid.count >= maxInvalid
}

// count notes a request that counts toward a ban; with mu held.
func (p *Platform) count(status int, scope string) {
	if status == http.StatusUnauthorized || status == http.StatusForbidden || status == http.StatusTooManyRequests && scope != "shared" {
		p.invalid.add(p.Now(), invalidWindow)
		p.stats.Invalid++
	}
}

// limit counts a request against the global limit and its bucket, and sets the headers; a wait means that it is refused.
func (p *Platform) limit(q Request, parts []string, h http.Header) (wait time.Duration, global bool) {
	now := p.Now()
	if p.window.add(now, time.Second) > p.GlobalLimit {
		wait = p.window.end.Sub(now)
		h.Set("X-RateLimit-Global", "true")
		refuse(h, wait, "global")
		return wait, true
	}
	key := q.Method + " " + q.Route
	if len(parts) > 1 {
		key += " " + parts[1] // the major parameter
	}
	b := p.buckets[key]
	if b == nil {
		b = &window{}
		p.buckets[key] = b
	}
	used := b.add(now, p.BucketWindow)
	after := b.end.Sub(now)
	h.Set("X-RateLimit-Limit", strconv.Itoa(p.BucketLimit))
	h.Set("X-RateLimit-Remaining", strconv.Itoa(max(p.BucketLimit-used, 0)))
	h.Set("X-RateLimit-Reset", fmt.Sprintf("%.3f", float64(b.end.UnixMilli())/1000))
	h.Set("X-RateLimit-Reset-After", fmt.Sprintf("%.3f", after.Seconds()))
	h.Set("X-RateLimit-Bucket", fmt.Sprintf("%08x", crc32.ChecksumIEEE([]byte(q.Method+q.Route))))
	if used > p.BucketLimit {
		refuse(h, after, "user")
		return after, false
	}
	return 0, false
}

func refuse(h http.Header, wait time.Duration, scope string) {
	h.Set("Retry-After", strconv.Itoa(int(math.Ceil(wait.Seconds()))))
	h.Set("X-RateLimit-Scope", scope)
}
