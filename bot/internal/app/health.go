package app

import (
	"time"

	"tarebell/bot/internal/chat/discord"
	"tarebell/bot/internal/store"
)

// health is what /healthz answers. Status is 200 when OK, else 503.
type health struct {
	OK     bool                   `json:"ok"`
	Starts string                 `json:"starting_since,omitempty"` // nothing else is known yet
	Ledger string                 `json:"ledger_error,omitempty"`   // why nothing can be written
	Chat   *chatHealth            `json:"chat,omitempty"`
	Outbox outboxHealth           `json:"outbox"`
	Scales map[string]scaleHealth `json:"scales,omitempty"`
}

type chatHealth struct {
	Connected  bool     `json:"connected"`
	Since      string   `json:"since,omitempty"`
	Reconnects int      `json:"reconnects"`
	Registered bool     `json:"commands_registered"`
	CaughtUp   bool     `json:"caught_up"`            // what was typed while nobody listened has been read
	Troubles   []string `json:"troubles,omitempty"`   // what does not work although it is connected
	Unread     int      `json:"unreadable,omitempty"` // messages that could not be read
	Undecided  int      `json:"undecided,omitempty"`  // messages whose authors' roles are not known yet
	Error      string   `json:"error,omitempty"`
}

type outboxHealth struct {
	Posted  string `json:"last_posted,omitempty"`
	Failing int    `json:"failing"` // attempts that failed since then
	GivenUp int    `json:"given_up"`
	Error   string `json:"error,omitempty"`
	Waits   []wait `json:"waits,omitempty"` // dangers first
}

// wait is a notice that was tried and is not there yet.
type wait struct {
	Notice string `json:"notice"`
	Urgent bool   `json:"urgent"`
	Tries  int    `json:"tries"`
	Since  string `json:"since"`
	Next   string `json:"next_try"`
	Error  string `json:"error"`
}

func waits(list []store.Outgoing) (out []wait) {
	for _, w := range list[:min(len(list), 20)] {
		out = append(out, wait{w.Key, w.Urgent, w.Attempts, stampOf(w.Created), stampOf(w.Next), w.Err})
	}
	return out
}

type scaleHealth struct {
	Answered string `json:"last_answer,omitempty"`
	Error    string `json:"error,omitempty"`
}

func stampOf(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format(time.RFC3339)
}

// Health is how the program is doing.
func (a *App) Health() health {
	o := a.Outbox.Health()
	h := health{OK: true, Scales: a.devices.health(),
		Outbox: outboxHealth{Posted: stampOf(o.Posted), Failing: o.Failing, GivenUp: o.GivenUp, Error: o.Err, Waits: waits(o.Waits)}}
	if c, ok := a.Channel.(*discord.Channel); ok {
		d := c.Health()
		h.Chat = &chatHealth{Connected: d.Connected, Since: stampOf(d.Since), Reconnects: d.Reconnects, Error: d.Err, Registered: d.Registered,
			CaughtUp: d.CaughtUp, Troubles: d.Troubles, Unread: d.Unread, Undecided: d.Undecided}
		h.OK = d.OK()
	}
	if h.Ledger = a.store.trouble(); h.Ledger == "" {
		h.Ledger, _ = a.trouble.Load().(string)
	}
	if o.Failing > 0 || h.Ledger != "" {
		h.OK = false
	}
	for _, s := range h.Scales {
		if s.Error != "" {
			h.OK = false
		}
	}
	return h
}
