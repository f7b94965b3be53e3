package discordtest

// Retypes lets a member change the text of a message.
func (p *Platform) Retypes(m Message, text string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	now := p.message(m.ID)
	now.Content = text
	p.edit(now)
	p.dispatchMessage("MESSAGE_UPDATE", now)
	p.wake()
}

// edit notes that a message was changed; with mu held.
func (p *Platform) edit(m *Message) { m.Edits, m.EditedAt = m.Edits+1, p.Now() }

// Deletes lets somebody delete a message, or several at once.
func (p *Platform) Deletes(list ...Message) {
	p.mu.Lock()
	defer p.mu.Unlock()
	ids := make([]string, len(list))
	for i, m := range list {
		p.message(m.ID).Deleted = true
		ids[i] = m.ID
	}
	if len(ids) == 1 {
		p.dispatch("MESSAGE_DELETE", object{"id": ids[0], "channel_id": p.Channel, "guild_id": p.Guild})
	} else {
		p.dispatch("MESSAGE_DELETE_BULK", object{"ids": ids, "channel_id": p.Channel, "guild_id": p.Guild})
	}
	p.wake()
}
