package app

import (
	"encoding/json"
	"log/slog"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/notice"
)

// compose makes the message of a notice, with its picture. The words matter more: a picture that cannot be drawn is left out.
func compose(draw func(notice.Situation) ([]byte, error), log *slog.Logger) func(notice.Notice) ([]byte, error) {
	return func(n notice.Notice) ([]byte, error) {
		m := message(n)
		if n.Picture != nil {
			if png, err := draw(*n.Picture); err != nil {
				log.Error("a notice goes without its picture", "notice", n.Key, "err", err)
			} else {
				m.Files = append(m.Files, chat.File{Name: "cylinder.png", Type: "image/png", Data: png, Alt: n.Headline})
			}
		}
		return json.Marshal(m)
	}
}

// message is a notice without its picture. The outbox numbers it.
func message(n notice.Notice) chat.Message {
	m := chat.Message{Headline: n.Headline, Body: n.Body, Severity: n.Severity}
	for _, a := range n.Actions {
		m.Buttons = append(m.Buttons, chat.Button{ID: a.ID, Label: a.Label})
	}
	return m
}
