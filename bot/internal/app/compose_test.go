package app

import (
	"encoding/json"
	"errors"
	"log/slog"
	"strings"
	"testing"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/notice"
)

// TestNoticeWithoutItsPicture: what cannot be drawn keeps no words back.
func TestNoticeWithoutItsPicture(t *testing.T) {
	n := notice.Notice{Key: "main/refill-due/1", Headline: "Time to book.", Severity: notice.Warning, Picture: &notice.Situation{},
		Actions: []notice.Action{{ID: "mine:main", Label: "I'll see to it"}}}
	for name, draw := range map[string]func(notice.Situation) ([]byte, error){
		"drawn": func(notice.Situation) ([]byte, error) { return []byte("PNG"), nil },
		"not":   func(notice.Situation) ([]byte, error) { return nil, errors.New("no ink") },
	} {
		var said strings.Builder
		payload, err := compose(draw, slog.New(slog.NewTextHandler(&said, nil)))(n)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		var m chat.Message
		if err := json.Unmarshal(payload, &m); err != nil {
			t.Fatal(err)
		}
		if m.Headline != n.Headline || m.Severity != chat.Warning || len(m.Buttons) != 1 || len(m.Files) == 1 != (name == "drawn") {
			t.Errorf("%s: %+v", name, m)
		}
		if strings.Contains(said.String(), "no ink") != (name == "not") {
			t.Errorf("%s: logged %q", name, said.String())
		}
	}
}
