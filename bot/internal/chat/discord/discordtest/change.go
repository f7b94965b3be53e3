package discordtest

// Retypes lets a member change the text of a message.
func (p *Platform) Retypes(m Message, text string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	now := p.message(m.ID)
	now.Content = text
	now.Edits++
	p.dispatchMessage("MESSAGE_UPDATE", now)
	p.wake()
}

// Deletes lets somebody delete a message.
func (p *Platform) Deletes(m Message) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.message(m.ID).Deleted = true
	p.dispatch("MESSAGE_DELETE", object{"id": m.ID, "channel_id": p.Channel, "guild_id": p.Guild})
	p.wake()
}
