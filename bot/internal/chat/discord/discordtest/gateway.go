package discordtest

import (
	"bytes"
	"compress/zlib"
	"encoding/json"
	"errors"
	"net/http"
	"os"
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

// conn is one connection to the gateway.
type conn struct {
	ws       *websocket.Conn
	version  int        // of the gateway, as asked for
	mu       sync.Mutex // of writing
	session  *session
	compress bool
	resumes  bool   // made to the address for resuming
	sends    window // of the client
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

// resumeURL is where a session is resumed, and nowhere else.
func (p *Platform) resumeURL() string {
	return "ws" + strings.TrimPrefix(p.URL, "http") + "/gateway-resume"
}

var upgrader = websocket.Upgrader{CheckOrigin: func(*http.Request) bool { return true }}

func (p *Platform) serveGateway(w http.ResponseWriter, r *http.Request) {
	ws, err := upgrader.Upgrade(w, r, nil)
	if err != nil {
		return
	}
	c := &conn{ws: ws, version: 9, resumes: strings.HasPrefix(r.URL.Path, "/gateway-resume")}
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
		_ = ws.SetReadDeadline(time.Now().Add(beat * 3 / 2))
		_, raw, err := ws.ReadMessage()
		if errors.Is(err, os.ErrDeadlineExceeded) { // a client that sends no heartbeats
			c.closeWith(4009, "Session timed out.")
			return
		}
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
		if c.sends.add(time.Now(), time.Minute) > 120 {
			c.closeWith(4008, "You are being rate limited.")
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
	if t, ok := c.ws.UnderlyingConn().(lingerer); ok {
		_ = t.SetLinger(0)
	}
	_ = c.ws.Close()
}
