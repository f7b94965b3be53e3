package discordtest

import (
	"encoding/json"
	"strings"
	"time"
)

// interactionRoute handles what needs no login but an interaction's token; with mu held.
func (p *Platform) interactionRoute(q Request, parts []string) (int, any) {
	if len(parts) < 3 {
		return refusal(404, 0, "404: Not Found")
	}
	x := p.interactions[parts[2]]
	if parts[0] == "interactions" {
		if q.Method != "POST" || len(parts) != 4 || parts[3] != "callback" || x == nil || x.ID != parts[1] || p.Now().Sub(x.At) > p.AnswerWithin && x.first.IsZero() {
			return refusal(404, 10062, "Unknown interaction")
		}
		return p.callback(x, q)
	}
	if x == nil || parts[1] != p.App || x.first.IsZero() || p.Now().Sub(x.At) > 15*time.Minute {
		return refusal(404, 10015, "Unknown Webhook")
	}
	switch {
	case q.Method == "POST" && len(parts) == 3:
		return p.followUp(x, q)
	case len(parts) == 5 && parts[3] == "messages" && parts[4] == "@original":
		return p.originalRoute(x, q)
	}
	return refusal(404, 0, "404: Not Found")
}

func (p *Platform) callback(x *Interaction, q Request) (int, any) {
	if !x.first.IsZero() {
		return refusal(400, 40060, "Interaction has already been acknowledged.")
	}
	body, files, err := Payload(q)
	if err != nil {
		return invalid("%v", err).answer()
	}
	var b struct {
		Type int             `json:"type"`
		Data json.RawMessage `json:"data"`
	}
	var d draft
	if err := json.Unmarshal(body, &b); err != nil {
		return invalid("%v", err).answer()
	}
	if len(b.Data) > 0 && b.Type != 9 {
		if err := json.Unmarshal(b.Data, &d); err != nil {
			return invalid("%v", err).answer()
		}
	}
	d.files = files
	if f := p.react(x, b.Type, d, b.Data); f != nil {
		return f.answer()
	}
	x.first, x.Type = p.Now(), b.Type
	if q.Query == "with_response=true" {
		return 200, p.response(x, b.Type)
	}
	return 204, nil
}

// response is what a client that asks for it is told of its reaction.
func (p *Platform) response(x *Interaction, typ int) object {
	about := object{"id": x.ID, "type": x.kind, "response_message_loading": x.loading, "response_message_ephemeral": x.private}
	resource := object{"type": typ}
	if x.original != nil {
		about["response_message_id"] = x.original.ID
		resource["message"] = p.encode(x.original)
	}
	return object{"interaction": about, "resource": resource}
}

func (p *Platform) react(x *Interaction, typ int, d draft, raw json.RawMessage) *failure {
	onMessage := x.kind == kindPress || x.kind == kindForm && x.on != nil
	switch {
	case typ == 4 && x.kind != kindSuggest:
		m, f := p.answer(d, d.Flags&(1<<6) != 0)
		x.original = m
		return f
	case typ == 5 && x.kind != kindSuggest:
		if d.Flags&^(1<<6) != 0 {
			return invalid("data.flags")
		}
		x.loading, x.private = true, d.Flags != 0
		return nil
	case typ == 6 && onMessage:
		x.original = x.on
		return nil
	case typ == 7 && onMessage:
		x.original = x.on
		changed := *x.on
		if f := p.apply(&changed, d); f != nil {
			return f
		}
		p.edit(&changed)
		*x.on = changed
		p.edited(x.on)
		return nil
	case typ == 8 && x.kind == kindSuggest:
		if len(d.Choices) > 25 {
			return invalid("data.choices: %d, 25 are allowed", len(d.Choices))
		}
		for i, c := range d.Choices {
			if f := checkChoice(i, c); f != nil {
				return f
			}
		}
		x.choices, x.got = d.Choices, true
		return nil
	case typ == 9 && (x.kind == kindCommand || x.kind == kindPress):
		return x.open(raw)
	}
	return invalid("type: %d is no answer to an interaction of type %d", typ, x.kind)
}

// open checks a modal and shows it.
func (x *Interaction) open(raw json.RawMessage) *failure {
	var f struct {
		CustomID   string      `json:"custom_id"`
		Title      string      `json:"title"`
		Components []Component `json:"components"`
	}
	if err := json.Unmarshal(raw, &f); err != nil {
		return invalid("%v", err)
	}
	if n := units(f.Title); n < 1 || n > 45 || f.CustomID == "" || len(f.CustomID) > 100 || len(f.Components) < 1 || len(f.Components) > 5 {
		return invalid("modal %q titled %q with %d rows", f.CustomID, f.Title, len(f.Components))
	}
	form := &Form{ID: f.CustomID, Title: f.Title, from: x}
	for _, row := range f.Components {
		in, f := x.platform.input(row)
		if f != nil {
			return f
		}
		form.old = form.old || row.Type == 1
		form.Inputs = append(form.Inputs, in)
	}
	x.form = form
	return nil
}

// input is the text input in a line of a form: within a Label, or within an Action Row, which is deprecated.
func (p *Platform) input(row Component) (in Component, f *failure) {
	switch {
	case row.Type == 18 && row.Component != nil && row.Component.Type == 4 && row.Component.Label == "":
		in = *row.Component
		in.Label = row.Label
	case row.Type == 1 && p.OldForms && len(row.Components) == 1 && row.Components[0].Type == 4:
		in = row.Components[0]
	default:
		return in, invalid("modal: a line is a Label with a text input, not a component of type %d", row.Type)
	}
	if l := units(in.Label); l < 1 || l > 45 || in.CustomID == "" || len(in.CustomID) > 100 || units(in.Placeholder) > 100 || units(in.Value) > 4000 || in.Style < 1 || in.Style > 2 {
		return in, invalid("modal: input %q labelled %q", in.CustomID, in.Label)
	}
	return in, nil
}

// answer makes a message that answers an interaction.
func (p *Platform) answer(d draft, private bool) (*Message, *failure) {
	if d.Flags&^(1<<2|1<<6|1<<12|1<<15) != 0 || d.Nonce != nil || d.Reference != nil {
		return nil, invalid("data: flags, nonce or message_reference")
	}
	m := &Message{ID: p.nextID(), At: p.Now(), By: p.bot(), Bot: true, Private: private}
	if f := p.apply(m, d); f != nil {
		return nil, f
	}
	p.messages = append(p.messages, m)
	if !private {
		p.dispatchMessage("MESSAGE_CREATE", m)
	}
	return m, nil
}

func (p *Platform) followUp(x *Interaction, q Request) (int, any) {
	d, f := parseDraft(q)
	if f != nil {
		return f.answer()
	}
	m, f := p.answer(d, d.Flags&(1<<6) != 0 || x.loading && x.private)
	if f != nil {
		return f.answer()
	}
	if x.loading { // the first one takes the waiting sign's place and its privacy
		x.loading, x.original = false, m
		m.Private = x.private
		return 200, p.encode(m)
	}
	x.follow = append(x.follow, m)
	return 200, p.encode(m)
}

func (p *Platform) originalRoute(x *Interaction, q Request) (int, any) {
	unknown := object{"message": "Unknown Message", "code": 10008}
	if !x.loading && (x.original == nil || x.original.Deleted) {
		return 404, unknown
	}
	switch q.Method {
	case "DELETE":
		x.loading = false
		if x.original != nil {
			x.original.Deleted = true
		}
		return 204, nil
	case "PATCH":
		d, f := parseDraft(q)
		if f != nil {
			return f.answer()
		}
		if x.loading {
			m, f := p.answer(d, x.private)
			if f != nil {
				return f.answer()
			}
			x.loading, x.original = false, m
			return 200, p.encode(m)
		}
		changed := *x.original
		if f := p.apply(&changed, d); f != nil {
			return f.answer()
		}
		p.edit(&changed)
		*x.original = changed
		p.edited(x.original)
		return 200, p.encode(x.original)
	case "GET":
		if x.original == nil {
			return 404, unknown
		}
		return 200, p.encode(x.original)
	}
	return refusal(404, 0, "404: Not Found")
}

// edited tells all who see the message that it changed.
func (p *Platform) edited(m *Message) {
	if !m.Private {
		p.dispatchMessage("MESSAGE_UPDATE", m)
	}
}

// mentions says whether a message names the bot, so that its text is shown without the privileged intent.
func (p *Platform) mentions(m *Message) bool {
	return strings.Contains(m.Content, "<@"+p.App+">") || strings.Contains(m.Content, "<@!"+p.App+">")
}
