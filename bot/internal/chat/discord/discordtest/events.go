package discordtest

type event struct {
	Op   int    `json:"op"`
	Seq  int64  `json:"s"`
	Type string `json:"t"`
	Data any    `json:"d"`
}

// Dispatch sends an event with any content.
func (p *Platform) Dispatch(typ string, data any) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.dispatch(typ, data)
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
		if s.intents&intentGuildMessages == 0 || !p.may(View) {
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
