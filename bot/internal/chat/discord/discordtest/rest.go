package discordtest

import (
	"encoding/json"
	"io"
	"net/http"
	"regexp"
	"strings"
	"time"
)

// Request is a REST request that was made.
type Request struct {
	Method, Path string // as sent, /api/v9 included
	Query        string
	Route        string // with ids and tokens replaced: /channels/{}/messages
	Header       http.Header
	Body         []byte
	At           time.Time
	Status       int // what was answered; 0 if nothing was
}

var (
	version = regexp.MustCompile(`^/api/v(9|10)`)
	digits  = regexp.MustCompile(`/[0-9]+`)
	secrets = regexp.MustCompile(`^/(interactions|webhooks)/(\{\})/[^/]+`)
)

// route replaces what differs from request to request.
func route(path string) string {
	return secrets.ReplaceAllString(digits.ReplaceAllString(path, "/{}"), "/$1/$2/{}")
}

func (p *Platform) serveREST(w http.ResponseWriter, r *http.Request) {
	p.begin(1)
	defer p.begin(-1)
	body, err := io.ReadAll(io.LimitReader(r.Body, 30<<20))
	if err != nil {
		return
	}
	path := version.ReplaceAllString(r.URL.Path, "")
	q := Request{Method: r.Method, Path: r.URL.Path, Query: r.URL.RawQuery, Route: route(path), Header: r.Header.Clone(), Body: body, At: p.Now()}
	if p.Inspect != nil {
		p.Inspect(q)
	}
	w.Header().Set("Via", "1.1 google") // not documented; without it libraries take a 429 for a blocked address
	fault := p.fault(q)
	if p.block(w) {
		return
	}
	switch {
	case fault == nil:
		status, answer := p.carryOut(r, path, q, w.Header())
		reply(w, status, answer)
	case fault.Late:
		fault.hit()
		p.hang(r)
		p.linger()
		p.carryOut(r, path, q, w.Header())
		cutOff(w)
	case fault.Stored:
		p.carryOut(r, path, q, w.Header())
		p.misbehave(w, r, *fault)
	default:
		q.Status = fault.Status
		p.note(q)
		p.misbehave(w, r, *fault)
	}
}

// block answers the requests of an address that is banned.
func (p *Platform) block(w http.ResponseWriter) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	if !p.banned() {
		return false
	}
	refusePage(w, http.StatusTooManyRequests)
	return true
}

// begin counts the requests that are being handled.
func (p *Platform) begin(n int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.underWay += n
	p.wake()
}

// carryOut does what a request asks for, and notes it.
func (p *Platform) carryOut(r *http.Request, path string, q Request, h http.Header) (status int, answer any) {
	p.mu.Lock()
	defer p.mu.Unlock()
	q.Status, answer = p.handle(r, path, q, h)
	p.count(q.Status, h.Get("X-RateLimit-Scope"))
	p.requests = append(p.requests, q)
	p.wake()
	return q.Status, answer
}

func (p *Platform) note(q Request) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.count(q.Status, "shared")
	p.requests = append(p.requests, q)
	p.wake()
}

func reply(w http.ResponseWriter, status int, answer any) {
	if answer == nil {
		w.WriteHeader(status)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	_ = json.NewEncoder(w).Encode(answer)
}

type object = map[string]any

// handle carries a request out; with mu held.
func (p *Platform) handle(r *http.Request, path string, q Request, h http.Header) (int, any) {
	parts := strings.Split(strings.Trim(path, "/"), "/")
	if parts[0] == "interactions" || parts[0] == "webhooks" {
		return p.interactionRoute(q, parts)
	}
	if q.Method == "GET" && path == "/gateway" { // needs no login
		return 200, object{"url": p.gatewayURL()}
	}
	if r.Header.Get("Authorization") != "Bot "+p.token {
		return refusal(401, 0, "401: Unauthorized")
	}
	if wait, global := p.limit(q, parts, h); wait > 0 {
		return 429, object{"message": "You are being rate limited.", "retry_after": wait.Seconds(), "global": global}
	}
	switch q.Method + " " + q.Route {
	case "GET /gateway/bot":
		return 200, object{"url": p.gatewayURL(), "shards": 1, "session_start_limit": object{
			"total": 1000, "remaining": p.LoginsLeft, "reset_after": 3600_000, "max_concurrency": 1}}
	case "GET /users/@me":
		return 200, p.user(p.bot())
	case "PUT /applications/{}/guilds/{}/commands":
		return p.putCommands(parts, q)
	case "GET /oauth2/applications/@me":
		return 200, object{"id": p.App, "name": "Tarebell", "flags": 0, "owner": object{"id": p.Owner, "username": "owner"}, "team": nil}
	case "POST /users/@me/channels":
		return p.openDirect(q)
	case "GET /guilds/{}/members/{}":
		m, ok := p.members[parts[3]]
		if !ok || parts[1] != p.Guild {
			return refusal(404, 10007, "Unknown Member")
		}
		return 200, p.member(m, true)
	}
	if q.Method == "POST" && path == "/channels/"+p.direct+"/messages" {
		return p.postDirect(q)
	}
	if parts[0] == "channels" && len(parts) >= 2 {
		if parts[1] != p.Channel || p.gone {
			return refusal(404, 10003, "Unknown Channel")
		}
		if !p.may(View) {
			return refusal(403, 50001, "Missing Access")
		}
		return p.channelRoute(r, q, parts)
	}
	return refusal(404, 0, "404: Not Found")
}

func (p *Platform) channelRoute(r *http.Request, q Request, parts []string) (int, any) {
	switch q.Method + " " + q.Route {
	case "GET /channels/{}":
		last := any(nil)
		if n := len(p.messages); n > 0 {
			last = p.messages[n-1].ID
		}
		return 200, p.channel(last)
	case "GET /channels/{}/messages/{}":
		return p.one(parts[3])
	case "GET /channels/{}/messages":
		return p.list(r)
	case "POST /channels/{}/messages":
		return p.post(q)
	case "PATCH /channels/{}/messages/{}":
		return p.patch(q, parts[3])
	}
	return refusal(404, 0, "404: Not Found")
}

// channel is what the platform says of the channel.
func (p *Platform) channel(last any) object {
	o := object{"id": p.Channel, "type": p.Kind, "guild_id": p.Guild, "name": "kitchen", "flags": 0, "last_message_id": last}
	if p.thread() {
		o["parent_id"], o["owner_id"], o["message_count"], o["member_count"], o["total_message_sent"] = p.parent, p.Owner, 0, 1, 0
		o["thread_metadata"] = object{"archived": false, "auto_archive_duration": 1440, "archive_timestamp": stamp(p.Now()), "locked": false}
		return o
	}
	o["position"], o["permission_overwrites"], o["nsfw"] = 0, []any{}, false
	return o
}

// thread says whether the channel is a thread.
func (p *Platform) thread() bool { return p.Kind >= 10 && p.Kind <= 12 }

// takesMessages says whether messages can stand in the channel: in voice channels too, in forums and categories not.
func (p *Platform) takesMessages() bool { return p.Kind != 4 && p.Kind < 14 }
