package discord

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"strings"
	"time"

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
	said := read(resp, body)
	var e *Refused
	if !errors.As(said.Err, &e) || !e.page { // what stands in front of the platform knows nothing of its limits
		g.limits.learn(route, resp.Header, said.After, said.All)
	}
	if said.Err != nil {
		return nil, said.Err
	}
	resp.Body = io.NopCloser(bytes.NewReader(body))
	return resp, nil
}

// blocked is the pause after a 429 that does not come from the platform's own API and does not say how long: it
// blocks this machine's address.
const blocked = 10 * time.Minute

// read makes an error of a refusal. What asks for a pause is a chat.RetryAfter with that pause.
func read(resp *http.Response, body []byte) (said chat.RetryAfter) {
	if resp.StatusCode >= 200 && resp.StatusCode < 300 {
		return said
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
	e := &Refused{Status: resp.StatusCode, Code: in.Code, Message: in.Message, page: !isJSON}
	if e.Message == "" || e.Code == codeForm { // which field is wrong stands only in the body
		e.Message = cmp.Or(cut(chat.OneLine(string(body)), 500), http.StatusText(e.Status))
	}
	said.Err = e
	if e.Status != http.StatusTooManyRequests || e.Code == codeChangedTooOften {
		return said // too many changes of a message are no reason to wait with anything else
	}
	said.After = time.Duration(min(in.RetryAfter, 1e6) * float64(time.Second))
	said.All = in.Global || !isJSON || resp.Header.Get("X-RateLimit-Global") != ""
	if said.After <= 0 {
		said.After, _ = seconds(resp.Header.Get("Retry-After"))
	}
	if said.After <= 0 {
		said.After = time.Second // it does not say; not at once, in any case
		if !isJSON {
			said.After = blocked
		}
	}
	return chat.RetryAfter{After: said.After, All: said.All, Err: &chat.RetryAfter{After: said.After, All: said.All, Err: e}}
}
