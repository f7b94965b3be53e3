package discordtest

import (
	"fmt"
	"io"
	"math"
	"net/http"
	"strconv"
	"strings"
	"time"
)

// Fault is how one request (or Times of them) goes wrong.
type Fault struct {
	Match      string // beginning of method and route, such as "POST /channels/{}/messages"; empty: any
	Times      int    // 0 means once
	Stored     bool   // the request is carried out before it goes wrong
	Status     int
	Code       int
	RetryAfter time.Duration // of a 429
	Page       bool          // the body is a web page, as from something in front of the platform
	Hang       bool          // nothing is answered until the client gives up
	Late       bool          // as Hang, but the request is carried out at the next Arrive
	Cut        bool          // the connection is reset
	Hit        func()        // called when it comes up; if the request hangs, when it begins to
}

// Fail makes the next requests that match go wrong, each fault in turn.
func (p *Platform) Fail(faults ...Fault) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, f := range faults {
		f.Times = max(f.Times, 1)
		p.faults = append(p.faults, &f)
	}
}

// Faults is how many faults have not come up yet.
func (p *Platform) Faults() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return len(p.faults)
}

// Mend takes back the faults that have not come up yet.
func (p *Platform) Mend() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.faults = nil
}

func (p *Platform) fault(q Request) *Fault {
	p.mu.Lock()
	defer p.mu.Unlock()
	for i, f := range p.faults {
		if !strings.HasPrefix(q.Method+" "+q.Route, f.Match) {
			continue
		}
		if f.Times--; f.Times == 0 {
			p.faults = append(p.faults[:i:i], p.faults[i+1:]...)
		}
		return f
	}
	if p.Chance != nil {
		return p.Chance(q)
	}
	return nil
}

func (p *Platform) misbehave(w http.ResponseWriter, r *http.Request, f Fault) {
	f.hit()
	switch {
	case f.Hang:
		p.hang(r)
		cutOff(w)
	case f.Cut:
		cutOff(w)
	case f.Page:
		refusePage(w, f.Status)
	case f.Status == http.StatusTooManyRequests:
		w.Header().Set("Retry-After", strconv.Itoa(int(math.Ceil(f.RetryAfter.Seconds()))))
		w.Header().Set("X-RateLimit-Scope", "shared")
		said := object{"message": "The resource is being rate limited.", "retry_after": f.RetryAfter.Seconds(), "global": false}
		if f.Code != 0 {
			said["code"] = f.Code
		}
		reply(w, f.Status, said)
	default:
		reply(w, f.Status, object{"message": fmt.Sprintf("%d: %s", f.Status, http.StatusText(f.Status)), "code": f.Code})
	}
}

// refusePage answers as something in front of the platform does.
func refusePage(w http.ResponseWriter, status int) {
	w.Header().Del("Via")
	w.Header().Set("Content-Type", "text/html")
	w.WriteHeader(status)
	_, _ = io.WriteString(w, "<html><body>error "+strconv.Itoa(status)+"</body></html>")
}

func (f Fault) hit() {
	if f.Hit != nil {
		f.Hit()
	}
}

// Arrive lets late requests be carried out whose clients have given up.
func (p *Platform) Arrive() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.underWay += p.late
	p.late = 0
	close(p.arrival)
	p.arrival = make(chan struct{})
}

// linger waits until Arrive; in the meantime the request does not count as under way.
func (p *Platform) linger() {
	p.mu.Lock()
	p.underWay--
	p.late++
	arrival := p.arrival
	p.wake()
	p.mu.Unlock()
	select {
	case <-arrival:
	case <-p.closed.Done():
	}
}

// hang waits until the client gives up.
func (p *Platform) hang(r *http.Request) {
	select {
	case <-r.Context().Done():
	case <-p.closed.Done():
	}
}

// lingerer is a connection that can be told to be reset when it is closed.
type lingerer interface{ SetLinger(seconds int) error }

// cutOff resets the connection under the request.
func cutOff(w http.ResponseWriter) {
	h, ok := w.(http.Hijacker)
	if !ok {
		return
	}
	c, _, err := h.Hijack()
	if err != nil {
		return
	}
	if t, ok := c.(lingerer); ok {
		_ = t.SetLinger(0)
	}
	_ = c.Close()
}
