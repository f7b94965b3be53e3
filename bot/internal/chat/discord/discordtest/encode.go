package discordtest

import (
	"maps"
	"time"
)

// The functions here write things as the platform does (Discord documentation: message, user, guild member,
// interaction objects). They run with mu held.

func (p *Platform) bot() Member { return Member{ID: p.App, Name: "Tarebell"} }

func (p *Platform) user(m Member) object {
	return object{"id": m.ID, "username": m.Name, "discriminator": "0", "global_name": nil, "avatar": nil,
		"bot": m.ID == p.App, "public_flags": 0, "flags": 0}
}

func (p *Platform) member(m Member, withUser bool) object {
	roles := m.Roles
	if roles == nil {
		roles = []string{}
	}
	o := object{"nick": m.Name, "avatar": nil, "banner": nil, "roles": roles, "joined_at": stamp(p.Now()), "premium_since": nil,
		"deaf": false, "mute": false, "flags": 0, "pending": false, "communication_disabled_until": nil}
	if withUser {
		o["user"] = p.user(m)
	}
	return o
}

func stamp(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000000-07:00") }

func (p *Platform) encode(m *Message) object {
	mentions := []any{}
	for _, id := range m.Pinged {
		if id == p.App {
			mentions = append(mentions, p.user(p.bot()))
		} else if who, ok := p.members[id]; ok {
			mentions = append(mentions, p.user(who))
		}
	}
	attachments := []any{}
	for i, f := range m.Files {
		o := object{"id": m.fileIDs[i], "filename": f.Name, "content_type": f.Type, "size": len(f.Data), "url": p.URL + "/cdn/" + f.Name, "proxy_url": p.URL + "/cdn/" + f.Name}
		if f.Alt != "" {
			o["description"] = f.Alt
		}
		attachments = append(attachments, o)
	}
	embeds, components := []any{}, []any{}
	for _, e := range m.Embeds {
		embeds = append(embeds, e)
	}
	for _, c := range m.Components {
		components = append(components, c)
	}
	flags := 0
	if m.Private {
		flags = 1 << 6
	}
	o := object{"id": m.ID, "type": 0, "channel_id": p.Channel, "author": p.user(m.By), "content": m.Content,
		"timestamp": stamp(m.At), "edited_timestamp": nil, "tts": false, "mention_everyone": m.Everyone, "mentions": mentions, "mention_roles": []any{},
		"attachments": attachments, "embeds": embeds, "components": components, "pinned": false, "flags": flags}
	if m.Edits > 0 {
		o["edited_timestamp"] = stamp(m.EditedAt)
	}
	if m.Nonce != "" {
		o["nonce"] = m.Nonce
	}
	if m.ReplyTo != "" {
		o["type"] = 19
		o["message_reference"] = object{"type": 0, "message_id": m.ReplyTo, "channel_id": p.Channel, "guild_id": p.Guild}
	}
	maps.Copy(o, m.extra)
	return o
}
