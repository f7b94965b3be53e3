package discord

import (
	"bytes"
	"cmp"
	"encoding/json"
	"io"
	"net/http"
	"strings"
	"time"

	"github.com/bwmarrin/discordgo"

	"tarebell/bot/internal/chat"
)

// maxAnswer bounds what is read of an answer, in bytes.
const maxAnswer = 16 << 20

// guard stands between the client library and the network. It bounds what is read, learns the platform's limits, and
// makes an error of every refusal, so that the library neither repeats nor sleeps nor loses what was said.
type guard struct {
	next   http.RoundTripper
	limits *limits
}

// routeKey is the key in a request's context of the limit that it falls under.
type routeKey struct{}

func (g guard) RoundTrip(r *http.Request) (*http.Response, error) {
	resp, err := g.next.RoundTrip(r)
	if err != nil {
		return nil, err
	}
	body, err := io.ReadAll(io.LimitReader(resp.Body, maxAnswer))
	_ = resp.Body.Close()
	if err != nil {
		return nil, err
	}
	route, _ := r.Context().Value(routeKey{}).(string)
	refused := refusal(resp, body)
	g.limits.learn(route, resp.Header, refused)
	if refused != nil {
		return nil, refused
	}
	resp.Body = io.NopCloser(bytes.NewReader(body))
	return resp, nil
}

// blocked is the pause after a 429 that does not come from the platform's own API and does not say how long: it
// blocks this machine's address.
const blocked = 10 * time.Minute

// refusal makes an error of a refusal; nil for an answer that is none.
func refusal(resp *http.Response, body []byte) *chat.Refusal {
	if resp.StatusCode >= 200 && resp.StatusCode < 300 {
		return nil
	}
	var in struct {
		Code       int     `json:"code"`
		Message    string  `json:"message"`
		RetryAfter float64 `json:"retry_after"`
		Global     bool    `json:"global"`
	}
	isJSON := strings.Contains(resp.Header.Get("Content-Type"), "json")
	if isJSON {
		_ = json.Unmarshal(body, &in)
	}
	e := &chat.Refusal{Status: resp.StatusCode, Code: in.Code, Message: in.Message, Page: !isJSON, Final: resp.StatusCode == http.StatusUnauthorized && isJSON}
	if e.Message == "" || e.Code == discordgo.ErrCodeInvalidFormBody { // which field is wrong stands only in the body
		e.Message = cmp.Or(cut(chat.OneLine(string(body)), 500), http.StatusText(e.Status))
	}
	if e.Status != http.StatusTooManyRequests || e.Code == codeChangedTooOften {
		return e // too many changes of a message are no reason to wait with anything else
	}
	e.After, e.All = time.Duration(min(in.RetryAfter, 1e6)*float64(time.Second)), in.Global || !isJSON || resp.Header.Get("X-RateLimit-Global") != ""
	if e.After <= 0 {
		e.After, _ = seconds(resp.Header.Get("Retry-After"))
	}
	if e.After <= 0 {
		e.After = time.Second // it does not say; not at once, in any case
		if !isJSON {
			e.After = blocked
		}
	}
	return e
}
