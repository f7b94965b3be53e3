package discord

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"strconv"
	"sync"
	"time"

	"tarebell/bot/internal/backoff"
	"tarebell/bot/internal/chat"
)

// limits is what the platform has said about how many requests it takes (Discord documentation: rate limits). A limit
// belongs to one route, or to a bucket that several routes share; only one that is said to be global holds all.
type limits struct {
	mu      sync.Mutex
	routes  map[string]*limit // by our name of the route
	buckets map[string]*limit // by the platform's name of the bucket and the route's channel
	global  time.Time         // nothing before
}

// limit is that of one bucket.
type limit struct {
	turn  chan struct{} // one request at a time
	spent bool          // none are left until then
	until time.Time
}

func newLimits() *limits {
	return &limits{routes: map[string]*limit{}, buckets: map[string]*limit{}}
}

// take waits for the route's turn, or says how long its limit still lasts. What is urgent waits in its turn until the
// limit is over, and if there is no time for that it is tried all the same. done ends the turn.
func (l *limits) take(ctx context.Context, route string, urgent bool) (done func(), err error) {
	l.mu.Lock()
	at := l.routes[route]
	if at == nil {
		at = &limit{turn: make(chan struct{}, 1)}
		l.routes[route] = at
	}
	l.mu.Unlock()
	select {
	case at.turn <- struct{}{}:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	l.mu.Lock()
	wait, all := time.Until(l.global), true
	if own := time.Until(at.until); at.spent && own > wait {
		wait, all = own, false
	}
	l.mu.Unlock()
	if urgent && wait > 0 {
		if backoff.Pause(ctx, wait); ctx.Err() != nil {
			<-at.turn
			return nil, ctx.Err()
		}
		wait = 0
	}
	if wait > 0 {
		<-at.turn
		return nil, &chat.RetryAfter{After: wait, All: all, Err: fmt.Errorf("the platform's limit of requests is used up for %v", wait.Round(time.Millisecond))}
	}
	return func() { <-at.turn }, nil
}

// learn reads the limit of a route from an answer; after is the pause that a refusal asks for, of this route or of all.
func (l *limits) learn(route, scope string, h http.Header, after time.Duration, all bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	now := time.Now()
	if all {
		l.global = now.Add(after)
		return
	}
	at := l.routes[route]
	if at == nil {
		return
	}
	if name := h.Get("X-RateLimit-Bucket"); name != "" {
		name += " " + scope
		if shared := l.buckets[name]; shared != nil {
			l.routes[route], at = shared, shared
		}
		l.buckets[name] = at
	}
	if after > 0 {
		at.spent, at.until = true, now.Add(after)
		return
	}
	left, err1 := strconv.Atoi(h.Get("X-RateLimit-Remaining"))
	reset, err2 := seconds(h.Get("X-RateLimit-Reset-After"))
	if err1 == nil && err2 == nil {
		at.spent, at.until = left <= 0, now.Add(reset)
	}
}

// seconds reads a number of seconds, as the platform's headers have it.
func seconds(s string) (time.Duration, error) {
	x, err := strconv.ParseFloat(s, 64)
	if err != nil || !(x >= 0) {
		return 0, fmt.Errorf("%q is no number of seconds", s)
	}
	return time.Duration(min(x, math.MaxInt32) * float64(time.Second)), nil
}
