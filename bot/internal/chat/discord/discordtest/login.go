package discordtest

import (
	"encoding/json"
	"strings"
)

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
	hasty := p.Now().Sub(p.loggedIn) < p.LoginGap
	p.loggedIn = p.Now()
	if hasty {
		p.stats.Hasty++
	}
	if p.LoginsLeft < 0 { // all sessions end, and the owner has to make a new token
		p.token = "reset by the platform"
	}
	var login Login
	if !hasty {
		login = p.nextLogin()
	}
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
	if hasty {
		c.send(object{"op": 9, "d": false})
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
	p.emit(s, "READY", object{"v": c.version, "session_id": s.id, "resume_gateway_url": p.resumeURL(), "shard": []int{0, 1}, "user": p.user(p.bot()),
		"application": object{"id": p.App, "flags": 0}, "guilds": []any{object{"id": p.Guild, "unavailable": true}}, "private_channels": []any{}, "_trace": []string{}})
	if s.intents&intentGuilds != 0 {
		p.emit(s, "GUILD_CREATE", object{"id": p.Guild, "name": "Linden Row", "unavailable": false, "member_count": len(p.members) + 1, "channels": []any{object{"id": p.Channel, "type": p.Kind, "name": "kitchen"}}, "members": []any{}, "roles": []any{}})
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
	case s == nil || !c.resumes || d.Seq+1 < s.events[0].Seq: // gone, or what was missed is
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
