// Package discordtest is a stand-in for Discord on loopback or in memory, for tests and benchmarks only: the part of its REST
// interface and of its gateway that a bot in one channel meets, with its checks, limits and ways of failing.
// Members type, call commands, press buttons; what the bot did can be looked at. Behaviour follows Discord's
// documentation (resources message, channel, application commands; interactions; gateway; rate limits).
package discordtest

import (
	"context"
	"encoding/base64"
	"fmt"
	"net"
	"net/http"
	"slices"
	"strconv"
	"sync"
	"testing"
	"time"
)

// Platform is one server with one channel and one bot.
type Platform struct {
	URL     string   // of the REST interface, such as http://127.0.0.1:40123
	Net     *Network // of one made by Inside
	Token   string   // the bot's, without "Bot "
	App     string   // id of the application, and of the bot's user
	Guild   string
	Channel string
	Role    string // a role that some members have
	Owner   string // id of whoever made the application

	// Settings, to be changed before the bot connects.
	MessageContent bool          // the intent is switched on in the developer portal
	Heartbeat      time.Duration // interval told to clients, default 41.25 s
	NonceKept      time.Duration // how long a nonce is enforced, default 5 min
	AnswerWithin   time.Duration // for the first reaction to an interaction, default 3 s
	BucketLimit    int           // requests in BucketWindow to one route; default 5
	BucketWindow   time.Duration // default 5 s in memory; 20 ms on the real clock, to which tests should not have to wait
	GlobalLimit    int           // requests a second to all routes; default 50
	LoginsLeft     int           // of the 1000 a day; one more, and the token is reset
	LoginGap       time.Duration // between two logins; default 5 s in memory, none on the real clock
	Kind           int           // of the channel: 0 text (default), 5 announcements, 11 a thread, 15 a forum and so on
	OldForms       bool          // forms of Action Rows, which are deprecated, are taken too

	// Chance may let any request go wrong that no Fault is waiting for; nil: all is well.
	Chance func(Request) *Fault
	// Inspect sees every REST request before it is handled.
	Inspect func(Request)
	// Now is the platform's clock; default time.Now.
	Now func() time.Time

	server *http.Server
	closed context.Context
	close  context.CancelFunc

	mu           sync.Mutex
	changed      chan struct{}
	token        string // accepted; differs from Token after Revoke
	lastID       int64
	gone         bool       // the channel was deleted
	denied       Permission // what the bot may not do there
	parent       string     // of a thread: the channel that it belongs to
	window       window     // of all requests, for the global limit
	invalid      window     // of those that count toward a ban
	loggedIn     time.Time  // the last login
	direct       string     // channel of direct messages with the owner
	told         []Message
	messages     []*Message
	nonces       map[string]nonce
	commands     []Command
	members      map[string]Member
	interactions map[string]*Interaction // by token
	requests     []Request
	underWay     int           // requests that are being handled
	late         int           // requests that wait for arrival
	arrival      chan struct{} // closed by Arrive
	faults       []*Fault
	buckets      map[string]*window
	sessions     map[string]*session
	conns        map[*conn]bool
	logins       []Login
	muted        bool
	stats        Stats
}

// Stats counts what happened at the gateway.
type Stats struct {
	Connections, Identifies, Resumes, Heartbeats, Readies int

	Invalid int // requests that count toward a ban of the address: 401, 403, and 429 that are not of a shared limit
	Hasty   int // logins within LoginGap of the one before
}

// Permission is a set of what a bot may do in a channel (Discord documentation: permissions, bitwise flags).
type Permission int64

// The permissions that a bot of this kind needs.
const (
	View         Permission = 1 << 10
	Send         Permission = 1 << 11
	EmbedLinks   Permission = 1 << 14
	AttachFiles  Permission = 1 << 15
	ReadHistory  Permission = 1 << 16
	SendInThread Permission = 1 << 38

	allGiven = View | Send | EmbedLinks | AttachFiles | ReadHistory | SendInThread
)

// Deny takes permissions away from the bot; Grant gives them back.
func (p *Platform) Deny(what Permission) { p.permit(func() { p.denied |= what }) }

// Grant gives permissions back.
func (p *Platform) Grant(what Permission) { p.permit(func() { p.denied &^= what }) }

func (p *Platform) permit(change func()) {
	p.mu.Lock()
	defer p.mu.Unlock()
	change()
	p.wake()
}

// may says whether the bot has a permission; with mu held.
func (p *Platform) may(what Permission) bool { return p.denied&what == 0 }

type nonce struct {
	message *Message
	until   time.Time
}

// Member is somebody in the server.
type Member struct {
	ID, Name string
	Roles    []string
}

// New starts a platform that lives as long as the test.
func New(t testing.TB) *Platform {
	t.Helper()
	p, err := Start()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(p.Close)
	return p
}

// Start starts a platform on a free port of the loopback interface.
func Start() (*Platform, error) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, fmt.Errorf("starting the stand-in platform: %w", err)
	}
	return start(l), nil
}

// Inside starts a platform on a network in memory, for a test in a synctest bubble. Its clock is the bubble's.
func Inside(t testing.TB) *Platform {
	n := newNetwork()
	p := start(n)
	p.Net, p.BucketWindow, p.LoginGap = n, 5*time.Second, 5*time.Second
	t.Cleanup(p.Close)
	return p
}

func start(l net.Listener) *Platform {
	p := &Platform{
		URL: "http://" + l.Addr().String(), Now: time.Now,
		Heartbeat: 41250 * time.Millisecond, NonceKept: 5 * time.Minute, AnswerWithin: 3 * time.Second,
		BucketLimit: 5, BucketWindow: 20 * time.Millisecond, GlobalLimit: 50, LoginsLeft: 1000,
		changed: make(chan struct{}), arrival: make(chan struct{}), nonces: map[string]nonce{}, members: map[string]Member{},
		interactions: map[string]*Interaction{}, buckets: map[string]*window{},
		sessions: map[string]*session{}, conns: map[*conn]bool{},
	}
	p.closed, p.close = context.WithCancel(context.Background())
	p.Guild, p.parent, p.Channel, p.Role, p.App, p.Owner, p.direct = p.id(), p.id(), p.id(), p.id(), p.id(), p.id(), p.id()
	p.Token = base64.RawStdEncoding.EncodeToString([]byte(p.App)) + ".Gt3stx.stand-in-secret-of-the-bot-0123456789"
	p.token = p.Token
	mux := http.NewServeMux()
	mux.HandleFunc("/gateway-socket", p.serveGateway) // libraries differ in whether they add a slash
	mux.HandleFunc("/gateway-socket/", p.serveGateway)
	mux.HandleFunc("/gateway-resume", p.serveGateway)
	mux.HandleFunc("/gateway-resume/", p.serveGateway)
	mux.HandleFunc("/", p.serveREST)
	p.server = &http.Server{Handler: mux}
	go func() { _ = p.server.Serve(l) }()
	return p
}

// Close ends the platform and every connection to it.
func (p *Platform) Close() {
	p.close()
	p.CutAll()
	_ = p.server.Close()
}

// Transport sends the requests of a client meant for Discord to the platform at base.
func Transport(base string) http.RoundTripper {
	return rehost{host: base[len("http://"):], next: &http.Transport{MaxIdleConnsPerHost: 16}}
}

type rehost struct {
	host string
	next http.RoundTripper
}

func (h rehost) RoundTrip(r *http.Request) (*http.Response, error) {
	r = r.Clone(r.Context())
	r.URL.Scheme, r.URL.Host, r.Host = "http", h.host, h.host
	return h.next.RoundTrip(r)
}

// CloseIdleConnections lets http.Client.CloseIdleConnections work.
func (h rehost) CloseIdleConnections() {
	if t, ok := h.next.(*http.Transport); ok {
		t.CloseIdleConnections()
	}
}

// Join adds a member.
func (p *Platform) Join(name string, roles ...string) Member {
	p.mu.Lock()
	defer p.mu.Unlock()
	m := Member{ID: p.nextID(), Name: name, Roles: roles}
	p.members[m.ID] = m
	return m
}

// Revoke makes the bot's token worthless, as resetting it in the portal does.
func (p *Platform) Revoke() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.token = "another"
}

// DeleteChannel removes the channel; denying View only hides it from the bot.
func (p *Platform) DeleteChannel() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.gone = true
}

// Stats returns the counts so far.
func (p *Platform) Stats() Stats {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.stats
}

// Requests returns the REST requests so far.
func (p *Platform) Requests() []Request {
	p.mu.Lock()
	defer p.mu.Unlock()
	return slices.Clone(p.requests)
}

// Commands returns what the bot registered.
func (p *Platform) Commands() []Command {
	p.mu.Lock()
	defer p.mu.Unlock()
	return slices.Clone(p.commands)
}

// Wait returns when is is true, which is asked with the platform locked each time something happened, or
// ctx's error.
func (p *Platform) wait(ctx context.Context, what string, is func() bool) error {
	for {
		p.mu.Lock()
		ok, changed := is(), p.changed
		p.mu.Unlock()
		if ok {
			return nil
		}
		select {
		case <-changed:
		case <-ctx.Done():
			return fmt.Errorf("waiting for %s: %w", what, ctx.Err())
		}
	}
}

// WaitStats waits until the counts are as wanted.
func (p *Platform) WaitStats(ctx context.Context, what string, is func(Stats) bool) error {
	return p.wait(ctx, what, func() bool { return is(p.stats) })
}

// wake tells all who wait that something happened; with mu held.
func (p *Platform) wake() {
	close(p.changed)
	p.changed = make(chan struct{})
}

func (p *Platform) id() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.nextID()
}

// nextID is a new snowflake, greater than all before; with mu held.
func (p *Platform) nextID() string {
	const epoch = 1420070400000
	p.lastID = max(p.lastID+1, (p.Now().UnixMilli()-epoch)<<22)
	return strconv.FormatInt(p.lastID, 10)
}
