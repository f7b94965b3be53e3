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

// limits is what the platform has said about how many requests it takes (Discord documentation: rate limits): of each
// route, and of all. That several routes may share a limit is left to its refusals, which say how long to wait.
type limits struct {
	mu     sync.Mutex
	routes map[string]*limit
	global time.Time // nothing before
}

// limit is that of one route.
type limit struct {
	turn  chan struct{} // one request at a time
	until time.Time     // none are left before
}

func newLimits() *limits { return &limits{routes: map[string]*limit{}} }

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
	all, own := time.Until(l.global), time.Until(at.until)
	l.mu.Unlock()
	wait := max(all, own)
	if urgent && wait > 0 {
		backoff.Pause(ctx, wait)
		wait, err = 0, ctx.Err()
	}
	if wait > 0 {
		err = &chat.Refusal{After: wait, All: all >= own, Message: fmt.Sprintf("the platform's limit of requests is used up for %v", wait.Round(time.Millisecond))}
	}
	if err != nil {
		<-at.turn
		return nil, err
	}
	return func() { <-at.turn }, nil
}

// learn reads the limit of a route from an answer, and the pause that a refusal asks for. What stands in front of the platform knows nothing
// of its limits.
func (l *limits) learn(route string, h http.Header, refused *chat.Refusal) {
	l.mu.Lock()
	defer l.mu.Unlock()
	now, at := time.Now(), l.routes[route]
	switch {
	case refused != nil && refused.Page:
	case refused != nil && refused.All:
		l.global = now.Add(refused.After)
	case at == nil:
	case refused != nil && refused.After > 0:
		at.until = now.Add(refused.After)
	case h.Get("X-RateLimit-Remaining") == "0":
		if reset, err := seconds(h.Get("X-RateLimit-Reset-After")); err == nil {
			at.until = now.Add(reset)
		}
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
