package discord

import (
	"context"
	"fmt"
	"net/http"

	"github.com/bwmarrin/discordgo"

	"tarebell/bot/internal/chat"
)

var _ chat.Owner = (*Channel)(nil)

// TellOwner implements chat.Owner: it writes a direct message to whoever owns the application. That needs the
// token to be good, and a server that both are in.
func (c *Channel) TellOwner(ctx context.Context, m chat.Message) error {
	const doing = "writing to the bot's owner"
	owner, err := c.owner(ctx)
	if err != nil {
		return err
	}
	var direct struct {
		ID string `json:"id"`
	}
	body := map[string]string{"recipient_id": owner}
	if err := c.rest.do(ctx, call{doing: doing, method: http.MethodPost, url: discordgo.EndpointUserChannels("@me"), body: body, into: &direct}); err != nil {
		return err
	}
	m.Private, m.Notify, m.Buttons = false, nil, nil
	l := render(m)
	return c.rest.do(ctx, call{doing: doing, method: http.MethodPost, url: discordgo.EndpointChannelMessages(direct.ID), body: l.payload, files: l.files})
}

// owner is the id of the application's owner; of a team's application, the team's owner.
func (c *Channel) owner(ctx context.Context) (string, error) {
	var app struct {
		Owner *struct {
			ID string `json:"id"`
		} `json:"owner"`
		Team *struct {
			Owner string `json:"owner_user_id"`
		} `json:"team"`
	}
	if err := c.rest.do(ctx, call{doing: "asking who owns the bot", url: discordgo.EndpointOAuth2 + "applications/@me", into: &app}); err != nil {
		return "", err
	}
	switch {
	case app.Team != nil && app.Team.Owner != "":
		return app.Team.Owner, nil
	case app.Owner != nil && app.Owner.ID != "":
		return app.Owner.ID, nil
	}
	return "", fmt.Errorf("asking who owns the bot: the platform doesn't say: %w", chat.ErrPermanent)
}
