package discordtest

import (
	"bytes"
	"compress/zlib"
	"encoding/json"
	"net"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/gorilla/websocket"
)

// Intents that matter here (Discord documentation: gateway, list of intents).
const (
	intentGuilds         = 1 << 0
	intentGuildMessages  = 1 << 9
	intentMessageContent = 1 << 15
)

// session is what can be resumed.
type session struct {
	id      string
	intents int
	seq     int64
	events  []event // kept for resuming
	conn    *conn   // nil while disconnected
}

type event struct {
	Op   int    `json:"op"`
	Seq  int64  `json:"s"`
	Type string `json:"t"`
	Data any    `json:"d"`
}

// conn is one connection to the gateway.
type conn struct {
	ws       *websocket.Conn
	version  int        // of the gateway, as asked for
	mu       sync.Mutex // of writing
	session  *session
	compress bool
}

// Login is how a login is answered in place of READY.
type Login func(c *conn) (goOn bool)

// Refuse closes the connection with a code; ReconnectFirst, AckFirst send that packet in place of READY;
// NeverReady says nothing at all; InvalidFirst declares the session invalid, so that the client logs in again
// on the same connection; DropFirst resets the connection.
func Refuse(code int, text string) Login {
	return func(c *conn) bool { c.closeWith(code, text); return false }
}

// ReconnectFirst asks the client to reconnect, as its first packet.
func ReconnectFirst(c *conn) bool { c.send(object{"op": 7, "d": nil}); return false }

// AckFirst acknowledges a heartbeat, as its first packet, and then goes on as usual.
func AckFirst(c *conn) bool { c.send(object{"op": 11}); return true }

// NeverReady says nothing.
func NeverReady(*conn) bool { return false }

// InvalidFirst declares the session invalid.
func InvalidFirst(c *conn) bool { c.send(object{"op": 9, "d": false}); return false }

// DropFirst resets the connection.
func DropFirst(c *conn) bool { c.cut(); return false }

// Meanwhile lets something happen before READY, which the client then is not told.
func Meanwhile(do func()) Login { return func(*conn) bool { do(); return true } }

// NextLogins says how the next logins are answered, in turn; then they succeed again.
func (p *Platform) NextLogins(l ...Login) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.logins = append(p.logins, l...)
}

// Reconnect asks all clients to reconnect (op 7); Invalidate declares their sessions invalid (op 9).
func (p *Platform) Reconnect() { p.each(func(c *conn) { c.send(object{"op": 7, "d": nil}) }) }

// Invalidate declares all sessions invalid. A client may log in again on the same connection.
func (p *Platform) Invalidate() {
	p.forget()
	p.each(func(c *conn) { c.send(object{"op": 9, "d": false}) })
}

// forget ends all sessions: none can be resumed, and nothing more is sent to their connections.
func (p *Platform) forget() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.sessions = map[string]*session{}
	for c := range p.conns {
		c.session = nil
	}
}

// AskHeartbeat asks all clients for a heartbeat (op 1).
func (p *Platform) AskHeartbeat() { p.each(func(c *conn) { c.send(object{"op": 1, "d": nil}) }) }

// CloseAll closes all connections with a code. After 4007 and 4009 a session can't be resumed.
func (p *Platform) CloseAll(code int, text string) {
	if code == 4007 || code == 4009 {
		p.forget()
	}
	p.each(func(c *conn) { c.closeWith(code, text) })
}

// CutAll resets all connections.
func (p *Platform) CutAll() { p.each((*conn).cut) }

// Mute stops answering heartbeats, or starts again.
func (p *Platform) Mute(yes bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.muted = yes
}

// Dispatch sends an event with any content.
func (p *Platform) Dispatch(typ string, data any) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.dispatch(typ, data)
}

// Connected is how many connections are logged in.
func (p *Platform) Connected() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	n := 0
	for c := range p.conns {
		if c.session != nil {
			n++
		}
	}
	return n
}

func (p *Platform) each(do func(*conn)) {
	p.mu.Lock()
	all := make([]*conn, 0, len(p.conns))
	for c := range p.conns {
		all = append(all, c)
	}
	p.mu.Unlock()
	for _, c := range all {
		do(c)
	}
}

func (p *Platform) gatewayURL() string {
	return "ws" + strings.TrimPrefix(p.URL, "http") + "/gateway-socket"
}

var upgrader = websocket.Upgrader{CheckOrigin: func(*http.Request) bool { return true }}

func (p *Platform) serveGateway(w http.ResponseWriter, r *http.Request) {
	ws, err := upgrader.Upgrade(w, r, nil)
	if err != nil {
		return
	}
	c := &conn{ws: ws, version: 9}
	if v, err := strconv.Atoi(r.URL.Query().Get("v")); err == nil {
		c.version = v
	}
	if c.version != 9 && c.version != 10 {
		c.closeWith(4012, "Invalid API version.")
		return
	}
	p.mu.Lock()
	p.conns[c] = true
	p.stats.Connections++
	p.wake()
	beat := p.Heartbeat
	p.mu.Unlock()
	defer p.leave(c)
	c.send(object{"op": 10, "d": object{"heartbeat_interval": beat.Milliseconds(), "_trace": []string{}}})
	for {
		var m struct {
			Op   int             `json:"op"`
			Data json.RawMessage `json:"d"`
		}
		_, raw, err := ws.ReadMessage()
		if websocket.IsCloseError(err, websocket.CloseNormalClosure, websocket.CloseGoingAway) {
			p.end(c)
		}
		if err != nil {
			return
		}
		if len(raw) > 4096 || json.Unmarshal(raw, &m) != nil {
			c.closeWith(4002, "Error while decoding payload.")
			return
		}
		switch m.Op {
		case 1:
			p.heartbeat(c)
		case 2:
			p.identify(c, m.Data)
		case 6:
			p.resume(c, m.Data)
		case 3, 4, 8:
		default:
			c.closeWith(4001, "Unknown opcode.")
			return
		}
	}
}

// end ends a session for good, whose client said goodbye.
func (p *Platform) end(c *conn) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if c.session != nil {
		delete(p.sessions, c.session.id)
	}
}

func (p *Platform) leave(c *conn) {
	_ = c.ws.Close()
	p.mu.Lock()
	defer p.mu.Unlock()
	delete(p.conns, c)
	if c.session != nil && c.session.conn == c {
		c.session.conn = nil
	}
	p.wake()
}

func (p *Platform) heartbeat(c *conn) {
	p.mu.Lock()
	p.stats.Heartbeats++
	muted := p.muted
	p.wake()
	p.mu.Unlock()
	if !muted {
		c.send(object{"op": 11})
	}
}

func (p *Platform) identify(c *conn, data json.RawMessage) {
	var d struct {
		Token    string `json:"token"`
		Intents  *int   `json:"intents"`
		Compress bool   `json:"compress"`
	}
	_ = json.Unmarshal(data, &d)
	p.mu.Lock()
	p.stats.Identifies++
	p.LoginsLeft--
	login := p.nextLogin()
	token, content := p.token, p.MessageContent
	p.wake()
	p.mu.Unlock()
	switch {
	case strings.TrimPrefix(d.Token, "Bot ") != token:
		c.closeWith(4004, "Authentication failed.")
		return
	case d.Intents == nil || *d.Intents < 0 || *d.Intents >= 1<<26:
		c.closeWith(4013, "Invalid intent(s).")
		return
	case *d.Intents&intentMessageContent != 0 && !content:
		c.closeWith(4014, "Disallowed intent(s).")
		return
	case c.session != nil:
		c.closeWith(4005, "Already authenticated.")
		return
	}
	if login != nil && !login(c) {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	for id, old := range p.sessions { // a client that logs in afresh will not resume
		if old.conn == nil {
			delete(p.sessions, id)
		}
	}
	s := &session{id: "session-" + p.nextID(), intents: *d.Intents, conn: c}
	p.sessions[s.id], c.session, c.compress = s, s, d.Compress
	p.stats.Readies++
	p.emit(s, "READY", object{"v": c.version, "session_id": s.id, "resume_gateway_url": p.gatewayURL(), "shard": []int{0, 1}, "user": p.user(p.bot()),
		"application": object{"id": p.App, "flags": 0}, "guilds": []any{object{"id": p.Guild, "unavailable": true}}, "private_channels": []any{}, "_trace": []string{}})
	if s.intents&intentGuilds != 0 {
		p.emit(s, "GUILD_CREATE", object{"id": p.Guild, "name": "Linden Row", "unavailable": false, "member_count": len(p.members) + 1, "channels": []any{object{"id": p.Channel, "type": 0, "name": "kitchen"}}, "members": []any{}, "roles": []any{}})
	}
	p.wake()
}

func (p *Platform) nextLogin() Login {
	if len(p.logins) == 0 {
		return nil
	}
	l := p.logins[0]
	p.logins = p.logins[1:]
	return l
}

func (p *Platform) resume(c *conn, data json.RawMessage) {
	var d struct {
		Token   string `json:"token"`
		Session string `json:"session_id"`
		Seq     int64  `json:"seq"`
	}
	_ = json.Unmarshal(data, &d)
	p.mu.Lock()
	defer p.mu.Unlock()
	p.stats.Resumes++
	s := p.sessions[d.Session]
	switch {
	case strings.TrimPrefix(d.Token, "Bot ") != p.token:
		c.closeWith(4004, "Authentication failed.")
		return
	case s == nil || d.Seq+1 < s.events[0].Seq: // gone, or what was missed is
		c.send(object{"op": 9, "d": false})
		return
	case d.Seq > s.seq:
		c.closeWith(4007, "Invalid seq.")
		return
	}
	s.conn, c.session = c, s
	for _, e := range s.events {
		if e.Seq > d.Seq {
			c.send(e)
		}
	}
	p.emit(s, "RESUMED", object{})
	p.wake()
}

// emit sends an event to one session, and keeps it for resuming; with mu held.
func (p *Platform) emit(s *session, typ string, data any) {
	s.seq++
	e := event{Seq: s.seq, Type: typ, Data: data}
	s.events = append(s.events, e)
	if len(s.events) > 500 {
		s.events = s.events[100:]
	}
	if s.conn != nil {
		s.conn.send(e)
	}
}

// dispatch sends an event to all sessions that are connected or may be resumed; with mu held.
func (p *Platform) dispatch(typ string, data any) {
	for _, s := range p.sessions {
		p.emit(s, typ, data)
	}
}

// dispatchMessage tells the sessions that want messages; the text only to those that may see it; with mu held.
func (p *Platform) dispatchMessage(typ string, m *Message) {
	for _, s := range p.sessions {
		if s.intents&intentGuildMessages == 0 {
			continue
		}
		o := p.encode(m)
		o["guild_id"] = p.Guild
		if !m.Bot {
			o["member"] = p.member(m.By, false)
		}
		if s.intents&intentMessageContent == 0 && !m.Bot && !p.mentions(m) && !p.toBot(m) {
			o["content"], o["embeds"], o["attachments"], o["components"] = "", []any{}, []any{}, []any{}
		}
		p.emit(s, typ, o)
	}
}

// toBot says whether m is a reply to a message of the bot; members leave "ping on reply" on.
func (p *Platform) toBot(m *Message) bool {
	to := p.message(m.ReplyTo)
	return to != nil && to.Bot
}

func (c *conn) send(v any) {
	c.mu.Lock()
	defer c.mu.Unlock()
	b, err := json.Marshal(v)
	if err != nil {
		return
	}
	_ = c.ws.SetWriteDeadline(time.Now().Add(5 * time.Second))
	if c.compress && len(b) > 512 { // as a client asked with "compress"
		var z bytes.Buffer
		w := zlib.NewWriter(&z)
		_, _ = w.Write(b)
		_ = w.Close()
		_ = c.ws.WriteMessage(websocket.BinaryMessage, z.Bytes())
		return
	}
	_ = c.ws.WriteMessage(websocket.TextMessage, b)
}

func (c *conn) closeWith(code int, text string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	_ = c.ws.WriteControl(websocket.CloseMessage, websocket.FormatCloseMessage(code, text), time.Now().Add(time.Second))
	_ = c.ws.Close()
}

func (c *conn) cut() {
	if t, ok := c.ws.UnderlyingConn().(*net.TCPConn); ok {
		_ = t.SetLinger(0)
	}
	_ = c.ws.Close()
}
