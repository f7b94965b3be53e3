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

	"tarebell/bot/internal/chat"
)

// Run implements chat.Channel. It owns the connection: the client library's own reconnecting can repeat a
// refused login for ever and can lock up, so each try is a new session, watched from outside. What a Message
// of Handler.Say asks to be private is posted for all to see: the platform has no such thing there.
func (c *Channel) Run(ctx context.Context, h chat.Handler) error {
	ctx, cancel := context.WithCancel(ctx)
	c.handler = h
	var work sync.WaitGroup
	work.Go(func() { c.work(ctx) })
	defer func() {
		cancel()
		work.Wait()
		c.sends.Wait()
	}()
	gap := backoff{pace: c.opt.Pace}
	for {
		began := time.Now()
		held, err := c.connection(ctx)
		if ctx.Err() != nil {
			return nil
		}
		if c.pointless(err) {
			c.lost(err, 0)
			return err
		}
		wait := gap.after(held, time.Since(began))
		var asked *chat.RetryAfter
		if errors.As(err, &asked) {
			wait = max(wait, asked.After)
		}
		c.lost(err, wait)
		if !pause(ctx, wait) {
			return nil
		}
	}
}

// pointless says whether connecting again can't help. A channel that was there before may come back, when
// somebody mends what was changed by mistake; a token that is refused must not be tried again.
func (c *Channel) pointless(err error) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	var r *Refused
	return isFinal(err) || errors.As(err, &r) && r.Status == http.StatusUnauthorized || !c.ever && errors.Is(err, chat.ErrPermanent)
}

// backoff is the gap between connections.
type backoff struct {
	pace Pace
	next time.Duration
}

// after is the gap after a connection that held that long. The platform allows 1000 logins a day and then
// takes the token away, so a link that drops at once must not be tried again and again. One that was good is
// made anew without delay, but not within First of the last login.
func (b *backoff) after(held, sinceTry time.Duration) time.Duration {
	if held >= b.pace.Good {
		b.next = b.pace.First
		return max(b.pace.First-sinceTry, b.pace.First/10)
	}
	d := max(b.next, b.pace.First)
	b.next = min(2*d, b.pace.Most)
	return d
}

// lost notes that the connection is gone, and logs a reason once.
func (c *Channel) lost(err error, wait time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	now := time.Now()
	text := "the connection ended"
	if err != nil {
		text = err.Error()
	}
	if text != c.health.Err || c.health.Connected {
		c.log.Warn("not connected to Discord", "err", text, "again in", wait)
	}
	if c.health.Connected || c.health.Since.IsZero() {
		c.health.Since = now
	}
	c.health.Connected, c.health.Err, c.health.Next = false, text, now.Add(wait)
}

// connection makes one connection and returns when it has ended, with how long it held.
func (c *Channel) connection(ctx context.Context) (held time.Duration, err error) {
	if err := c.locate(ctx); err != nil {
		return 0, err
	}
	if err := c.allowance(ctx); err != nil {
		return 0, err
	}
	epoch := c.begin()
	l, err := c.open(ctx)
	if err != nil {
		return 0, err
	}
	defer l.drop()
	start := time.Now()
	c.gained(start)
	up, cancel := context.WithCancel(ctx)
	var settling sync.WaitGroup
	settling.Go(func() { c.settleIn(up, epoch) })
	defer settling.Wait()
	defer cancel()
	err = c.watch(ctx, l)
	return time.Since(start), err
}

// begin says that from now on something may have been missed, until the next catch-up.
func (c *Channel) begin() (epoch int) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.epoch++
	c.caught = false
	return c.epoch
}

func (c *Channel) gained(now time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.ever {
		c.health.Reconnects++
	}
	c.ever = true
	c.health.Connected, c.health.Since, c.health.Err, c.health.Next = true, now, "", time.Time{}
	c.log.Info("connected to Discord", "channel", c.opt.Channel, "reconnects", c.health.Reconnects)
}

// locate asks where the channel belongs, which also tells a wrong token or channel before logging in.
func (c *Channel) locate(ctx context.Context) error {
	var ch struct {
		Guild  string `json:"guild_id"`
		Newest string `json:"last_message_id"`
	}
	at := discordgo.EndpointChannel(c.opt.Channel)
	if err := c.rest.do(ctx, call{doing: "looking at the channel", method: http.MethodGet, url: at, bucket: at, into: &ch}); err != nil {
		if c.where.app != "" && code(err) == codeNoAccess {
			return fmt.Errorf("%w: %s", err, InviteLink(c.where.app))
		}
		return err
	}
	if ch.Guild == "" {
		return final{fmt.Errorf("channel %s is not in a server: only a channel of a server can be used, not a direct message", c.opt.Channel)}
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	c.where.guild, c.where.newest = ch.Guild, ch.Newest
	return nil
}

// allowance waits when few logins are left for today.
func (c *Channel) allowance(ctx context.Context) error {
	var gw discordgo.GatewayBotResponse
	at := discordgo.EndpointGatewayBot
	if err := c.rest.do(ctx, call{doing: "asking for logins left", method: http.MethodGet, url: at, bucket: at, into: &gw}); err != nil {
		return err
	}
	if limit := gw.SessionStartLimit; limit.Total > 0 && limit.Remaining < 10 {
		wait := time.Duration(limit.ResetAfter) * time.Millisecond
		return &chat.RetryAfter{After: wait, Err: fmt.Errorf("only %d of %d logins are left for today; waiting until they are renewed", limit.Remaining, limit.Total)}
	}
	return nil
}

// line is one connection. Its session is used for this connection only.
type line struct {
	session *discordgo.Session
	ready   chan *discordgo.Ready
	gone    chan struct{} // closed when the network connection has ended
	left    chan struct{} // closed when the goodbye has been written
	once    sync.Once
	bye     sync.Once
	dropped atomic.Bool
	leaving atomic.Bool

	mu    sync.Mutex
	conns []net.Conn
}

// open logs in and waits until the platform says READY. A session that hangs is left behind: it can't be
// stopped, but its network connection is closed and it is not listened to any more.
func (c *Channel) open(ctx context.Context) (*line, error) {
	l := &line{ready: make(chan *discordgo.Ready, 1), gone: make(chan struct{}), left: make(chan struct{})}
	if err := c.prepare(l); err != nil {
		return nil, err
	}
	opened := make(chan error, 1)
	go func() { opened <- l.session.Open() }()
	limit := time.NewTimer(c.opt.Pace.Open)
	defer limit.Stop()
	gone := l.gone
	for {
		select {
		case err := <-opened:
			if err != nil {
				l.drop()
				return nil, refusal(err)
			}
			opened, gone = nil, l.gone
		case r := <-l.ready:
			if opened != nil { // READY came, Open is about to return
				if err := <-opened; err != nil {
					l.drop()
					return nil, refusal(err)
				}
			}
			c.introduced(r)
			return l, nil
		case <-gone: // Open notices, unless it is stuck
			limit.Reset(min(2*time.Second, c.opt.Pace.Open))
			gone = nil
			if opened == nil {
				l.drop()
				return nil, errors.New("logging in: the connection was closed before the platform was ready")
			}
		case <-limit.C:
			l.drop()
			return nil, fmt.Errorf("logging in: the platform was not ready within %v", c.opt.Pace.Open)
		case <-ctx.Done():
			l.drop()
			return nil, ctx.Err()
		}
	}
}

func (c *Channel) prepare(l *line) error {
	s, err := newSession(c.opt.Token, c.http)
	if err != nil {
		return err
	}
	s.Identify.Intents = discordgo.IntentsGuilds | discordgo.IntentsGuildMessages
	if c.opt.ReadMessages {
		s.Identify.Intents |= discordgo.IntentMessageContent
	}
	s.Dialer = &websocket.Dialer{Proxy: http.ProxyFromEnvironment, HandshakeTimeout: 20 * time.Second, NetDialContext: l.dial}
	s.AddHandler(func(_ *discordgo.Session, r *discordgo.Ready) {
		select {
		case l.ready <- r:
		default: // a second one, after an invalid session: we know all of it
		}
	})
	s.AddHandler(func(_ *discordgo.Session, m *discordgo.MessageCreate) {
		if m != nil && !l.dropped.Load() {
			c.queue.put(func(ctx context.Context) { c.hear(ctx, m.Message) })
		}
	})
	s.AddHandler(func(_ *discordgo.Session, i *discordgo.InteractionCreate) {
		if i != nil && i.Interaction != nil && !l.dropped.Load() {
			c.interaction(i.Interaction)
		}
	})
	l.session = s
	return nil
}

// introduced notes who we are.
func (c *Channel) introduced(r *discordgo.Ready) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if r.User != nil {
		c.where.self = r.User.ID
	}
	if r.Application != nil && r.Application.ID != "" {
		c.where.app = r.Application.ID
	}
	if c.where.app == "" {
		c.where.app = c.where.self
	}
}

func (c *Channel) place() place {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.where
}

// watch waits until the connection ends or falls silent.
func (c *Channel) watch(ctx context.Context, l *line) error {
	tick := time.NewTicker(c.opt.Pace.Silent / 8)
	defer tick.Stop()
	alive := time.Now()
	for {
		select {
		case <-l.gone:
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
			if silent := time.Since(alive); silent > c.opt.Pace.Silent {
				return fmt.Errorf("the platform has not answered a heartbeat for %v", silent.Round(time.Second))
			}
		}
	}
}

// leave says goodbye, so that the platform shows the bot as away at once. The library's Close sleeps for a
// second whatever happens; we go as soon as the goodbye is on its way.
func (l *line) leave() {
	l.leaving.Store(true)
	closed := make(chan struct{})
	go func() {
		_ = l.session.Close()
		close(closed)
	}()
	limit := time.NewTimer(1500 * time.Millisecond)
	defer limit.Stop()
	select {
	case <-l.left:
	case <-closed:
	case <-limit.C:
	}
}

// drop ends the connection without ceremony; nothing that its session still says is listened to.
func (l *line) drop() {
	l.dropped.Store(true)
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, c := range l.conns {
		_ = c.Close()
	}
}

// dial makes the network connection for the library, so that we know when it ends and can end it.
func (l *line) dial(ctx context.Context, network, addr string) (net.Conn, error) {
	raw, err := (&net.Dialer{}).DialContext(ctx, network, addr)
	if err != nil {
		return nil, err
	}
	c := &watched{Conn: raw, line: l}
	l.mu.Lock()
	l.conns = append(l.conns, c)
	l.mu.Unlock()
	if l.dropped.Load() {
		_ = c.Close()
		return nil, net.ErrClosed
	}
	return c, nil
}

// watched tells its line when it can't be read from any more.
type watched struct {
	net.Conn
	line *line
}

func (w *watched) Read(b []byte) (int, error) {
	n, err := w.Conn.Read(b)
	if err != nil {
		w.line.once.Do(func() { close(w.line.gone) })
	}
	return n, err
}

func (w *watched) Write(b []byte) (int, error) {
	n, err := w.Conn.Write(b)
	if w.line.leaving.Load() {
		w.line.bye.Do(func() { close(w.line.left) })
	}
	return n, err
}

func (w *watched) Close() error {
	w.line.once.Do(func() { close(w.line.gone) })
	return w.Conn.Close()
}
