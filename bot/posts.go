package main

import (
	"fmt"
	"strings"

	"tarebell/bot/internal/chat/discord"
	"tarebell/bot/internal/schedule"
)

func (r *reading) chat() {
	fmt.Fprintf(r, "\nchat\n")
	d := r.cfg.Chat.Discord
	if d == nil {
		r.row("channel", "this terminal")
		return
	}
	r.row("channel", "Discord, %s", d.Channel)
	token, err := d.Token.Read(r.getenv)
	app, ok := discord.AppID(token.Reveal())
	switch {
	case err != nil:
		r.row("token", "%v: set it before bot run", err)
	case !ok:
		r.row("token", "found, but it does not look like a bot's token")
	default:
		r.row("invite", "%s", discord.InviteLink(app))
	}
	if d.FreeText {
		r.row("typed weights", "read as they are typed; switch on “Message Content Intent” in the developer portal")
	} else {
		r.row("typed weights", "only by /weigh; to read them as they are typed set chat.discord.free_text: true")
	}
}

func (r *reading) posts() error {
	s, err := schedule.Parse(r.cfg.Schedule.Status, r.cfg.Household.Location)
	if err != nil {
		return err
	}
	fmt.Fprintf(r, "\nposts\n")
	var next []string
	for t, i := s.Next(r.now), 0; i < 3 && !t.IsZero(); i++ {
		next = append(next, t.In(r.cfg.Household.Location).Format("Mon 2 Jan 2006 15:04 MST"))
		t = s.Next(t)
	}
	r.row("weekly status", "%s", strings.Join(next, ", "))
	if q := r.cfg.Household.Quiet; q.Any() {
		r.row("quiet", "%s to %s, but for dangers", q.From, q.To)
	}
	return nil
}
