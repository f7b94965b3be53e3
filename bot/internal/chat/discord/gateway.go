package discord

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"sync"
	"sync/atomic"
	"time"

	"github.com/bwmarrin/discordgo"
	"github.com/gorilla/websocket"
)

// gateway is one connection to the platform. Its session is used for this connection only.
type gateway struct {
	reach   Dial
	session *discordgo.Session
	ready   signal       // the platform has said READY
	gone    signal       // the network connection has ended
	left    signal       // the goodbye has been written
	closed  signal       // the library has closed the session that we leave
	seq     atomic.Int64 // of the last event
	opened  atomic.Bool  // the library has opened the session, or failed to
	dropped atomic.Bool
	leaving atomic.Bool

	mu    sync.Mutex
	conns []net.Conn
}

// signal is that something has happened, for good: its context is done then.
type signal struct {
	context.Context
	give func()
}

func newSignal() signal {
	ctx, give := context.WithCancel(context.Background())
	return signal{ctx, give}
}

// open logs in and waits until the platform says READY. A session that hangs is left behind: it can't be
// stopped, but its network connection is closed and it is not listened to any more.
func (c *Channel) open(ctx context.Context) (*gateway, error) {
	l, err := c.newGateway()
	if err != nil {
		return l, err
	}
	if err := l.login(ctx, openWithin); err != nil {
		l.drop()
		return l, err
	}
	return l, nil
}

// newGateway prepares a session. The library calls its handlers one after the other, in the order of events.
func (c *Channel) newGateway() (*gateway, error) {
	s, err := newSession(c.opt.Token, c.http)
	l := &gateway{reach: c.opt.Dial, session: s, ready: newSignal(), gone: newSignal(), left: newSignal(), closed: newSignal()}
	if err != nil {
		return l, err
	}
	s.Identify.Intents = discordgo.IntentsGuilds | discordgo.IntentsGuildMessages
	if c.opt.ReadMessages {
		s.Identify.Intents |= discordgo.IntentMessageContent
	}
	s.Dialer = &websocket.Dialer{Proxy: http.ProxyFromEnvironment, HandshakeTimeout: requestTimeout, NetDialContext: l.dial}
	s.AddHandler(func(_ *discordgo.Session, r *discordgo.Ready) {
		if l.dropped.Load() {
			return
		}
		c.noteReady(r)
		l.ready.give()
	})
	s.AddHandler(func(_ *discordgo.Session, e *discordgo.Event) { // as it came: the library's types fail at what they don't know
		l.seq.Store(e.Sequence)
		switch {
		case l.dropped.Load():
		case e.Type == "MESSAGE_CREATE":
			c.queue.put(func(ctx context.Context) { c.receive(ctx, e.RawData, false) })
		case e.Type == "MESSAGE_UPDATE":
			c.queue.put(func(ctx context.Context) { c.messageEdited(ctx, e.RawData) })
		case e.Type == "MESSAGE_DELETE" || e.Type == "MESSAGE_DELETE_BULK":
			c.queue.put(func(ctx context.Context) { c.messagesDeleted(ctx, e.RawData) })
		case e.Type == "INTERACTION_CREATE":
			c.interaction(e.RawData)
		}
	})
	return l, nil
}

// loggedIn says whether the platform was told who we are: that happens as soon as it has said hello.
func (l *gateway) loggedIn() bool {
	s := l.session
	if s == nil {
		return false
	}
	if !s.TryRLock() { // stuck, which it can be only after that
		return true
	}
	defer s.RUnlock()
	return !s.LastHeartbeatAck.IsZero()
}

// beat sends a heartbeat besides those that the library sends in the platform's interval, so that a connection over which
// nothing comes any more is noticed within seconds. A session that is being closed is left alone: it holds its lock.
func (l *gateway) beat() {
	if s := l.session; s.TryRLock() {
		s.RUnlock()
		_ = s.GatewayWriteStruct(map[string]int64{"op": 1, "d": l.seq.Load()})
	}
}

// login returns when the library has opened the session and the platform has said READY, in either order.
func (l *gateway) login(ctx context.Context, limit time.Duration) error {
	opened := make(chan error, 1)
	go func() {
		err := l.session.Open()
		l.opened.Store(true)
		opened <- err
	}()
	patience := time.NewTimer(limit)
	defer patience.Stop()
	late := fmt.Errorf("logging in: the platform was not ready within %v", limit)
	ready, gone := l.ready.Done(), l.gone.Done()
	for opened != nil || ready != nil {
		select {
		case err := <-opened:
			if err != nil {
				return loginRefused(err)
			}
			opened, gone = nil, l.gone.Done()
			if l.ready.Err() == nil { // the library calls our handler before Open returns
				return errors.New("logging in: the platform did not take it; the next login needs a pause")
			}
		case <-ready:
			ready = nil
		case <-gone:
			late = errors.New("logging in: the connection was closed before the platform was ready")
			if opened == nil {
				return late
			}
			gone = nil // Open notices and knows more, unless it is stuck
			patience.Reset(min(2*time.Second, limit))
		case <-patience.C:
			return late
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	return nil
}

// watch waits until the connection ends or falls silent.
func (l *gateway) watch(ctx context.Context, silence time.Duration) error {
	tick := time.NewTicker(silence / 4)
	defer tick.Stop()
	alive := time.Now()
	for {
		select {
		case <-l.gone.Done():
			return errors.New("the connection was closed")
		case <-ctx.Done():
			l.leave()
			return ctx.Err()
		case <-tick.C:
			// A session that holds its lock for good is stuck, so this must not wait for the lock.
			if s := l.session; s.TryRLock() {
				if s.LastHeartbeatAck.After(alive) {
					alive = s.LastHeartbeatAck
				}
				s.RUnlock()
			}
			if silent := time.Since(alive); silent >= silence {
				return fmt.Errorf("the platform has not answered a heartbeat for %v", silent.Round(time.Second))
			}
			l.beat()
		}
	}
}

// leave says goodbye, so that the platform shows the bot as away at once. The library's Close sleeps for a
// second whatever happens; we go as soon as the goodbye is on its way.
func (l *gateway) leave() {
	l.leaving.Store(true)
	if l.closing() { // the library holds its lock for a second then
		l.closed.give()
		return
	}
	go func() {
		time.Sleep(settle)
		_ = l.session.Close()
		l.closed.give()
	}()
	limit := time.NewTimer(1500 * time.Millisecond)
	defer limit.Stop()
	select {
	case <-l.left.Done():
	case <-l.closed.Done():
	case <-limit.C:
	}
}

// closing says whether the connection has ended, or is about to.
func (l *gateway) closing() bool {
	if l.gone.Err() != nil || !l.session.TryRLock() {
		return true
	}
	l.session.RUnlock()
	return false
}

// drop ends the connection without ceremony; nothing that its session still says is listened to.
func (l *gateway) drop() {
	l.dropped.Store(true)
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, c := range l.conns {
		_ = c.Close()
	}
}

// dial makes the network connection for the library, so that we know when it ends and can end it.
func (l *gateway) dial(ctx context.Context, network, addr string) (net.Conn, error) {
	raw, err := l.reach(ctx, network, addr)
	if err != nil {
		return nil, err
	}
	c := &watched{Conn: raw, gateway: l}
	l.mu.Lock()
	l.conns = append(l.conns, c)
	l.mu.Unlock()
	if l.dropped.Load() {
		_ = c.Close()
		return nil, net.ErrClosed
	}
	return c, nil
}

// settle is a moment in which the library's goroutines come to where they wait. Its Close sleeps for a second with a lock
// held that they need on their way there.
const settle = time.Millisecond

// watched tells its gateway when it can't be read from any more.
type watched struct {
	net.Conn
	gateway *gateway
}

func (w *watched) Read(b []byte) (int, error) {
	n, err := w.Conn.Read(b)
	if err != nil {
		w.gateway.gone.give()
		time.Sleep(settle)
	}
	if w.gateway.leaving.Load() { // the library would look what was read and wait for Close
		<-w.gateway.closed.Done()
	}
	return n, err
}

// largest is more than a heartbeat takes on the connection, in bytes, and less than a login.
const largest = 200

// Write refuses what can only be a second login: the library logs in again at once when a session is declared invalid,
// where the platform wants a pause, and allows one login in five seconds.
func (w *watched) Write(b []byte) (int, error) {
	if len(b) > largest && (w.gateway.ready.Err() != nil || w.gateway.opened.Load()) {
		_ = w.Close()
		return len(b), nil
	}
	if _, err := w.Conn.Write(b); err != nil { // the reader notices; two that close the session get into each other's way
		_ = w.Close()
	}
	if w.gateway.leaving.Load() {
		w.gateway.left.give()
	}
	return len(b), nil
}

func (w *watched) Close() error {
	w.gateway.gone.give()
	return w.Conn.Close()
}
