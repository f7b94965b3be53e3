package discordtest

import (
	"encoding/json"
	"fmt"
	"hash/crc32"
	"io"
	"math"
	"mime"
	"mime/multipart"
	"net/http"
	"regexp"
	"slices"
	"strconv"
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

// Command is a registered command.
type Command struct {
	Name        string `json:"name"`
	Type        int    `json:"type"`
	Description string `json:"description"`
	ID          string `json:"-"`
	Options     []struct {
		Type         int    `json:"type"`
		Name         string `json:"name"`
		Description  string `json:"description"`
		Required     bool   `json:"required"`
		Autocomplete bool   `json:"autocomplete"`
		Choices      []struct {
			Name  string `json:"name"`
			Value any    `json:"value"`
		} `json:"choices"`
	} `json:"options"`
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
	p.requests = append(p.requests, q)
	p.wake()
	return q.Status, answer
}

func (p *Platform) note(q Request) {
	p.mu.Lock()
	defer p.mu.Unlock()
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

func (f *failure) object() object { return object{"code": f.code, "message": f.message} }

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
		return 401, object{"message": "401: Unauthorized", "code": 0}
	}
	if wait := p.limit(q, parts, h); wait > 0 {
		return 429, object{"message": "You are being rate limited.", "retry_after": wait.Seconds(), "global": false}
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
			return 404, object{"message": "Unknown Member", "code": 10007}
		}
		return 200, p.member(m, true)
	}
	if q.Method == "POST" && path == "/channels/"+p.direct+"/messages" {
		return p.postDirect(q)
	}
	if parts[0] == "channels" && len(parts) >= 2 {
		if parts[1] != p.Channel || p.gone {
			return 404, object{"message": "Unknown Channel", "code": 10003}
		}
		if p.hidden {
			return 403, object{"message": "Missing Access", "code": 50001}
		}
		return p.channelRoute(r, q, parts)
	}
	return 404, object{"message": "404: Not Found", "code": 0}
}

func (p *Platform) channelRoute(r *http.Request, q Request, parts []string) (int, any) {
	switch q.Method + " " + q.Route {
	case "GET /channels/{}":
		last := any(nil)
		if n := len(p.messages); n > 0 {
			last = p.messages[n-1].ID
		}
		return 200, object{"id": p.Channel, "type": 0, "guild_id": p.Guild, "name": "kitchen", "position": 0,
			"permission_overwrites": []any{}, "nsfw": false, "flags": 0, "last_message_id": last}
	case "GET /channels/{}/messages":
		return p.list(r)
	case "POST /channels/{}/messages":
		return p.post(q)
	case "PATCH /channels/{}/messages/{}":
		return p.patch(q, parts[3])
	}
	return 404, object{"message": "404: Not Found", "code": 0}
}

func (p *Platform) post(q Request) (int, any) {
	d, f := parseDraft(q)
	if f != nil {
		return f.status, f.object()
	}
	n := ""
	if d.Nonce != nil {
		n = fmt.Sprint(d.Nonce)
	}
	if len([]rune(n)) > 25 {
		f := invalid("nonce: over 25 characters")
		return f.status, f.object()
	}
	if old, ok := p.nonces[n]; ok && n != "" && d.EnforceNonce && p.Now().Before(old.until) {
		return 200, p.encode(old.message)
	}
	m := &Message{ID: p.nextID(), At: p.Now(), By: p.bot(), Bot: true, Nonce: n}
	if d.Flags&^(1<<2|1<<12|1<<15) != 0 {
		f := invalid("flags: %d can't be set here", d.Flags)
		return f.status, f.object()
	}
	if d.Reference != nil {
		m.ReplyTo = d.Reference.MessageID
		if p.message(m.ReplyTo) == nil && (d.Reference.Fail == nil || *d.Reference.Fail) {
			f := invalid("message_reference: unknown message")
			return f.status, f.object()
		}
	}
	if f := p.apply(m, d); f != nil {
		return f.status, f.object()
	}
	p.messages = append(p.messages, m)
	if n != "" {
		p.nonces[n] = nonce{m, p.Now().Add(p.NonceKept)}
	}
	p.dispatchMessage("MESSAGE_CREATE", m)
	return 200, p.encode(m)
}

func (p *Platform) patch(q Request, id string) (int, any) {
	m := p.message(id)
	if m == nil {
		return 404, object{"message": "Unknown Message", "code": 10008}
	}
	if !m.Bot {
		return 403, object{"message": "Cannot edit a message authored by another user", "code": 50005}
	}
	d, f := parseDraft(q)
	if f != nil {
		return f.status, f.object()
	}
	changed := *m
	if f := p.apply(&changed, d); f != nil {
		return f.status, f.object()
	}
	changed.Edits++
	*m = changed
	p.dispatchMessage("MESSAGE_UPDATE", m)
	return 200, p.encode(m)
}

// openDirect opens the channel of direct messages with the owner; nobody else is written to.
func (p *Platform) openDirect(q Request) (int, any) {
	var b struct {
		To string `json:"recipient_id"`
	}
	if err := json.Unmarshal(q.Body, &b); err != nil || b.To != p.Owner {
		return 400, object{"message": "Invalid Recipient(s)", "code": 50033}
	}
	return 200, object{"id": p.direct, "type": 1, "flags": 0, "last_message_id": nil, "recipients": []any{object{"id": p.Owner, "username": "owner"}}}
}

func (p *Platform) postDirect(q Request) (int, any) {
	d, f := parseDraft(q)
	m := &Message{ID: p.nextID(), At: p.Now(), By: p.bot(), Bot: true}
	if f == nil {
		f = p.apply(m, d)
	}
	if f != nil {
		return f.status, f.object()
	}
	p.told = append(p.told, *m)
	return 200, p.encode(m)
}

// Told is what the bot wrote to its owner directly.
func (p *Platform) Told() []Message {
	p.mu.Lock()
	defer p.mu.Unlock()
	return slices.Clone(p.told)
}

func (p *Platform) message(id string) *Message {
	for _, m := range p.messages {
		if m.ID == id && !m.Deleted {
			return m
		}
	}
	return nil
}

// list is up to limit messages, newest first: those right after "after", or right before "before", or the
// newest.
func (p *Platform) list(r *http.Request) (int, any) {
	limit := 50
	if s := r.URL.Query().Get("limit"); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil || n < 1 || n > 100 {
			f := invalid("limit: 1 to 100")
			return f.status, f.object()
		}
		limit = n
	}
	var all []*Message
	for _, m := range p.messages {
		if m.Deleted || m.Private {
			continue
		}
		if a := r.URL.Query().Get("after"); a != "" && !(snow(m.ID) > snow(a)) {
			continue
		}
		if b := r.URL.Query().Get("before"); b != "" && !(snow(m.ID) < snow(b)) {
			continue
		}
		all = append(all, m)
	}
	if len(all) > limit {
		if r.URL.Query().Get("after") != "" {
			all = all[:limit]
		} else {
			all = all[len(all)-limit:]
		}
	}
	out := []any{}
	for _, m := range slices.Backward(all) {
		o := p.encode(m)
		if !p.MessageContent && !m.Bot && !strings.Contains(m.Content, "<@"+p.App+">") {
			o["content"] = ""
		}
		out = append(out, o)
	}
	return 200, out
}

func snow(id string) int64 {
	n, _ := strconv.ParseInt(id, 10, 64)
	return n
}

var commandName = regexp.MustCompile(`^[-_'\p{L}\p{N}]{1,32}$`)

func (p *Platform) putCommands(parts []string, q Request) (int, any) {
	if parts[1] != p.App || parts[3] != p.Guild {
		return 403, object{"message": "Missing Access", "code": 50001}
	}
	var list []Command
	if err := json.Unmarshal(q.Body, &list); err != nil {
		f := invalid("%v", err)
		return f.status, f.object()
	}
	for _, c := range list {
		if f := checkCommand(c); f != nil {
			return f.status, f.object()
		}
	}
	out := []any{}
	for i, c := range list {
		list[i].ID = p.commandID(c.Name)
		options := []any{}
		for _, o := range c.Options {
			options = append(options, o)
		}
		out = append(out, object{"id": list[i].ID, "application_id": p.App, "guild_id": p.Guild, "version": p.nextID(), "options": options,
			"default_member_permissions": nil, "type": 1, "name": c.Name, "description": c.Description, "nsfw": false})
	}
	p.commands = list
	return 200, out
}

// commandID is the id of a command: a name that is registered again keeps it.
func (p *Platform) commandID(name string) string {
	for _, c := range p.commands {
		if c.Name == name {
			return c.ID
		}
	}
	return p.nextID()
}

func checkCommand(c Command) *failure {
	if !commandName.MatchString(c.Name) || strings.ToLower(c.Name) != c.Name {
		return invalid("name %q", c.Name)
	}
	if n := len([]rune(c.Description)); n < 1 || n > 100 {
		return invalid("%s: description of %d characters", c.Name, n)
	}
	if len(c.Options) > 25 {
		return invalid("%s: %d options", c.Name, len(c.Options))
	}
	optional := false
	for _, o := range c.Options {
		if n := len([]rune(o.Description)); !commandName.MatchString(o.Name) || n < 1 || n > 100 || len(o.Choices) > 25 {
			return invalid("%s: option %q", c.Name, o.Name)
		}
		if o.Required && optional {
			return invalid("%s: required option %q after an optional one", c.Name, o.Name)
		}
		optional = optional || !o.Required
		if o.Autocomplete && len(o.Choices) > 0 {
			return invalid("%s: option %q has choices and autocomplete", c.Name, o.Name)
		}
	}
	return nil
}

// parseDraft reads a body, of JSON or of a form with payload_json and files.
func parseDraft(q Request) (d draft, f *failure) {
	body, files, err := Payload(q)
	if err != nil {
		return d, invalid("%v", err)
	}
	if err := json.Unmarshal(body, &d); err != nil {
		return d, invalid("%v", err)
	}
	d.files = files
	return d, nil
}

// Payload is the JSON of a request's body, and its files.
func Payload(q Request) (body []byte, files []File, err error) {
	kind, params, err := mime.ParseMediaType(q.Header.Get("Content-Type"))
	if err != nil {
		return nil, nil, fmt.Errorf("content type: %w", err)
	}
	if kind != "multipart/form-data" {
		return q.Body, nil, nil
	}
	parts := multipart.NewReader(strings.NewReader(string(q.Body)), params["boundary"])
	for {
		part, err := parts.NextPart()
		if err == io.EOF {
			return body, files, nil
		}
		if err != nil {
			return nil, nil, fmt.Errorf("form: %w", err)
		}
		data, err := io.ReadAll(part)
		if err != nil {
			return nil, nil, fmt.Errorf("form: %w", err)
		}
		if part.FormName() == "payload_json" {
			body = data
			continue
		}
		if part.FormName() != fmt.Sprintf("files[%d]", len(files)) || part.FileName() == "" {
			return nil, nil, fmt.Errorf("form: part %q with file name %q", part.FormName(), part.FileName())
		}
		files = append(files, File{Name: part.FileName(), Type: part.Header.Get("Content-Type"), Data: data})
	}
}

// bucket is the count of requests of one route in a window.
type bucket struct {
	left  int
	reset time.Time
}

// limit counts a request against its bucket and sets the headers; a wait means that it is refused.
func (p *Platform) limit(q Request, parts []string, h http.Header) time.Duration {
	key := q.Method + " " + q.Route
	if len(parts) > 1 {
		key += " " + parts[1] // the major parameter
	}
	b := p.buckets[key]
	if b == nil || p.Now().After(b.reset) {
		b = &bucket{left: p.BucketLimit, reset: p.Now().Add(p.BucketWindow)}
		p.buckets[key] = b
	}
	wait := b.reset.Sub(p.Now())
	if b.left > 0 {
		b.left--
		wait = 0
	}
	after := max(b.reset.Sub(p.Now()), 0).Seconds()
	h.Set("X-RateLimit-Limit", strconv.Itoa(p.BucketLimit))
	h.Set("X-RateLimit-Remaining", strconv.Itoa(b.left))
	h.Set("X-RateLimit-Reset", fmt.Sprintf("%.3f", float64(b.reset.UnixMilli())/1000))
	h.Set("X-RateLimit-Reset-After", fmt.Sprintf("%.3f", after))
	h.Set("X-RateLimit-Bucket", fmt.Sprintf("%08x", crc32.ChecksumIEEE([]byte(q.Method+q.Route))))
	if wait > 0 {
		h.Set("Retry-After", strconv.Itoa(int(math.Ceil(after))))
		h.Set("X-RateLimit-Scope", "user")
	}
	return wait
}
