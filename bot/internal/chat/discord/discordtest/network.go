package discordtest

import (
	"context"
	"io"
	"net"
	"net/http"
	"os"
	"sync"
	"sync/atomic"
	"syscall"
	"time"
)

// Network is a way to a platform that lies in memory, for tests in a time of their own (testing/synctest): nothing on
// it waits for the real clock. It can fail as a real one does.
type Network struct {
	mu     sync.Mutex
	state  state
	conns  []*end
	accept chan net.Conn
	closed chan struct{}
	once   sync.Once
}

type state int

const (
	up      state = iota
	refused       // nothing listens
	silent        // what is sent gets lost, without a word
)

func newNetwork() *Network {
	return &Network{accept: make(chan net.Conn, 1<<10), closed: make(chan struct{})}
}

// Refuse resets all connections, and refuses new ones until Mend.
func (n *Network) Refuse() { n.fail(refused) }

// Silence loses all that is sent on the connections there are, for ever, and lets new ones hang until Mend.
func (n *Network) Silence() { n.fail(silent) }

// Mend lets new connections be made.
func (n *Network) Mend() { n.fail(up) }

func (n *Network) fail(s state) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.state = s
	if s == up {
		return
	}
	for _, c := range n.conns {
		if s == refused {
			c.reset()
		} else {
			c.r.lose()
			c.w.lose()
		}
	}
	n.conns = nil
}

// Dial makes a connection to the platform, whatever the address.
func (n *Network) Dial(ctx context.Context, network, _ string) (net.Conn, error) {
	n.mu.Lock()
	defer n.mu.Unlock()
	switch n.state {
	case refused:
		return nil, &net.OpError{Op: "dial", Net: network, Err: syscall.ECONNREFUSED}
	case silent:
		n.mu.Unlock()
		select {
		case <-ctx.Done():
		case <-n.closed:
		}
		n.mu.Lock()
		return nil, &net.OpError{Op: "dial", Net: network, Err: os.ErrDeadlineExceeded}
	}
	a, b := newPipe(), newPipe()
	client, server := &end{r: a, w: b}, &end{r: b, w: a}
	n.conns = append(n.conns, client)
	select {
	case n.accept <- server:
		return client, nil
	case <-n.closed:
		return nil, net.ErrClosed
	}
}

// Transport sends the requests of a client meant for Discord over the network.
func (n *Network) Transport() http.RoundTripper {
	return rehost{host: "platform.example", next: &http.Transport{DialContext: n.Dial, MaxIdleConnsPerHost: 16}}
}

// Accept implements net.Listener, for the platform's side.
func (n *Network) Accept() (net.Conn, error) {
	select {
	case c := <-n.accept:
		return c, nil
	case <-n.closed:
		return nil, net.ErrClosed
	}
}

// Close implements net.Listener.
func (n *Network) Close() error {
	n.once.Do(func() { close(n.closed) })
	return nil
}

// Addr implements net.Listener.
func (n *Network) Addr() net.Addr { return address{} }

type address struct{}

func (address) Network() string { return "memory" }
func (address) String() string  { return "platform.example" }

// pipe is one direction of a connection: what was written and not yet read.
type pipe struct {
	mu       sync.Mutex
	changed  *sync.Cond
	data     []byte
	err      error // to readers, once all is read
	lost     bool  // what is written vanishes
	deadline time.Time
	timer    *time.Timer
}

func newPipe() *pipe {
	p := &pipe{}
	p.changed = sync.NewCond(&p.mu)
	return p
}

func (p *pipe) do(change func()) {
	p.mu.Lock()
	defer p.mu.Unlock()
	change()
	p.changed.Broadcast()
}

func (p *pipe) lose() { p.do(func() { p.lost, p.data = true, nil }) }

func (p *pipe) end(err error) {
	p.do(func() {
		if p.err == nil && !p.lost {
			p.err = err
		}
	})
}

// end is one side of a connection.
type end struct {
	r, w   *pipe
	linger atomic.Bool // Close resets
}

func (e *end) Read(b []byte) (int, error) {
	p := e.r
	p.mu.Lock()
	defer p.mu.Unlock()
	for {
		switch {
		case !p.deadline.IsZero() && !time.Now().Before(p.deadline):
			return 0, os.ErrDeadlineExceeded
		case len(p.data) > 0:
			n := copy(b, p.data)
			p.data = p.data[n:]
			return n, nil
		case p.err != nil:
			return 0, p.err
		}
		p.changed.Wait()
	}
}

func (e *end) Write(b []byte) (n int, err error) {
	e.w.do(func() {
		if err = e.w.err; err == nil && !e.w.lost {
			e.w.data = append(e.w.data, b...)
		}
	})
	if err != nil {
		return 0, syscall.EPIPE
	}
	return len(b), nil
}

func (e *end) Close() error {
	if e.linger.Load() {
		e.reset()
		return nil
	}
	e.w.end(io.EOF)
	e.r.do(func() {
		e.r.lost, e.r.data = true, nil
		if e.r.err == nil {
			e.r.err = net.ErrClosed
		}
	})
	return nil
}

func (e *end) reset() {
	for _, p := range []*pipe{e.r, e.w} {
		p.do(func() {
			if !p.lost {
				p.data, p.err = nil, syscall.ECONNRESET
			}
		})
	}
}

// SetLinger lets Close reset the connection, as that of a TCP connection with 0 does.
func (e *end) SetLinger(int) error {
	e.linger.Store(true)
	return nil
}

func (e *end) SetReadDeadline(t time.Time) error {
	p := e.r
	p.do(func() {
		if p.timer != nil {
			p.timer.Stop()
		}
		if p.deadline = t; !t.IsZero() {
			p.timer = time.AfterFunc(time.Until(t), func() { p.do(func() {}) })
		}
	})
	return nil
}

func (e *end) SetDeadline(t time.Time) error    { return e.SetReadDeadline(t) }
func (e *end) SetWriteDeadline(time.Time) error { return nil } // writing never waits
func (e *end) LocalAddr() net.Addr              { return address{} }
func (e *end) RemoteAddr() net.Addr             { return address{} }
