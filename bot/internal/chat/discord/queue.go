package discord

import (
	"context"
	"sync"
)

// queue hands jobs to one worker in order. Putting one in never blocks: the client library calls us from the
// goroutine that also answers heartbeats.
type queue struct {
	mu    sync.Mutex
	jobs  []func(context.Context)
	ready chan struct{}
}

func newQueue() *queue { return &queue{ready: make(chan struct{}, 1)} }

func (q *queue) put(job func(context.Context)) {
	q.mu.Lock()
	q.jobs = append(q.jobs, job)
	q.mu.Unlock()
	select {
	case q.ready <- struct{}{}:
	default:
	}
}

// take returns the next job, or false when ctx ends first.
func (q *queue) take(ctx context.Context) (func(context.Context), bool) {
	for {
		q.mu.Lock()
		if len(q.jobs) > 0 && ctx.Err() == nil {
			job := q.jobs[0]
			q.jobs[0] = nil
			q.jobs = q.jobs[1:]
			q.mu.Unlock()
			return job, true
		}
		q.mu.Unlock()
		select {
		case <-q.ready:
		case <-ctx.Done():
			return nil, false
		}
	}
}

// ring remembers the newest n ids.
type ring struct {
	mu   sync.Mutex
	ids  []string
	next int
	in   map[string]bool
}

func newRing(n int) *ring { return &ring{ids: make([]string, n), in: map[string]bool{}} }

// has says whether id is remembered.
func (r *ring) has(id string) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.in[id]
}

// add remembers id, and says whether it was new.
func (r *ring) add(id string) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.in[id] {
		return false
	}
	delete(r.in, r.ids[r.next])
	r.ids[r.next] = id
	r.in[id] = true
	r.next = (r.next + 1) % len(r.ids)
	return true
}
