package app

import (
	"crypto/sha256"
	"encoding/base32"
	"encoding/json"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/notice"
)

// compose makes the message of a notice, with its picture drawn.
func compose(draw func(notice.Situation) ([]byte, error)) func(notice.Notice) ([]byte, error) {
	return func(n notice.Notice) ([]byte, error) {
		m := message(n)
		if n.Picture != nil && draw != nil {
			png, err := draw(*n.Picture)
			if err != nil {
				return nil, err
			}
			m.Files = append(m.Files, chat.File{Name: "cylinder.png", Type: "image/png", Data: png, Alt: n.Headline})
		}
		return json.Marshal(m)
	}
}

func message(n notice.Notice) chat.Message {
	m := chat.Message{ID: number(n.Key), Headline: n.Headline, Body: n.Body, Severity: chat.Severity(n.Severity)}
	for _, a := range n.Actions {
		m.Buttons = append(m.Buttons, chat.Button{ID: a.ID, Label: a.Label})
	}
	return m
}

// number is a short name for a notice that is the same whenever the same notice is composed: 80 bits of
// SHA-256 of its key, 16 characters.
func number(key string) string {
	sum := sha256.Sum256([]byte(key))
	return base32.StdEncoding.EncodeToString(sum[:10])
}
