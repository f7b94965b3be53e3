package discordtest

import (
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
)

func (p *Platform) post(q Request) (int, any) {
	if !p.takesMessages() {
		return refusal(400, 50008, "Cannot send messages in a non-text channel")
	}
	if !p.may(Send) && !p.thread() || !p.may(SendInThread) && p.thread() {
		return refusal(403, 50013, "Missing Permissions")
	}
	d, f := parseDraft(q)
	if f != nil {
		return f.answer()
	}
	n := ""
	if d.Nonce != nil {
		n = fmt.Sprint(d.Nonce)
	}
	if len([]rune(n)) > 25 {
		return invalid("nonce: over 25 characters").answer()
	}
	if old, ok := p.nonces[n]; ok && n != "" && d.EnforceNonce && p.Now().Before(old.until) {
		return 200, p.encode(old.message)
	}
	m := &Message{ID: p.nextID(), At: p.Now(), By: p.bot(), Bot: true, Nonce: n}
	if d.Flags&^(1<<2|1<<12|1<<15) != 0 {
		return invalid("flags: %d can't be set here", d.Flags).answer()
	}
	if d.Reference != nil {
		m.ReplyTo = d.Reference.MessageID
		if !p.may(ReadHistory) {
			return refusal(400, 160002, "Cannot reply without permission to read message history")
		}
		if p.message(m.ReplyTo) == nil && (d.Reference.Fail == nil || *d.Reference.Fail) {
			return invalid("message_reference: unknown message").answer()
		}
	}
	if f := p.apply(m, d); f != nil {
		return f.answer()
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
		return refusal(404, 10008, "Unknown Message")
	}
	if !m.Bot {
		return refusal(403, 50005, "Cannot edit a message authored by another user")
	}
	d, f := parseDraft(q)
	if f != nil {
		return f.answer()
	}
	changed := *m
	if f := p.apply(&changed, d); f != nil {
		return f.answer()
	}
	p.edit(&changed)
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
		return refusal(400, 50033, "Invalid Recipient(s)")
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
		return f.answer()
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
			return invalid("limit: 1 to 100").answer()
		}
		limit = n
	}
	var all []*Message
	for _, m := range p.messages {
		if m.Deleted || m.Private || !p.may(ReadHistory) {
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

// one is a single message, which only those see who may read the history.
func (p *Platform) one(id string) (int, any) {
	if !p.may(ReadHistory) {
		return refusal(403, 50001, "Missing Access")
	}
	if m := p.message(id); m != nil {
		return 200, p.encode(m)
	}
	return refusal(404, 10008, "Unknown Message")
}

func snow(id string) int64 {
	n, _ := strconv.ParseInt(id, 10, 64)
	return n
}
