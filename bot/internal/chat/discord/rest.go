package discord

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"time"

	"github.com/bwmarrin/discordgo"

	"tarebell/bot/internal/chat"
)

// rest makes requests through the client library, without its ways of trying again: it repeats a 502 at once
// and sleeps through rate limits without looking at the context. Trying again is the caller's business.
type rest struct {
	session *discordgo.Session
	limits  *limits
}

// newSession is a session of the client library as we use it: no reconnecting of its own, no repeats, events
// in order, no copy of the server's state.
func newSession(token string, client *http.Client) (*discordgo.Session, error) {
	s, err := discordgo.New("Bot " + token)
	if err != nil {
		return nil, fmt.Errorf("preparing the connection: %w", err)
	}
	s.Client = client
	s.MaxRestRetries = 0
	s.ShouldRetryOnRateLimit = false
	s.ShouldReconnectOnError = false
	s.ShouldReconnectVoiceOnSessionError = false
	s.StateEnabled = false
	s.SyncEvents = true
	s.LogLevel = discordgo.LogWarning // never LogDebug: it prints the token
	return s, nil
}

// call is one request.
type call struct {
	doing  string // for errors: "posting to the channel"
	method string // "": GET
	url    string
	bucket string // names requests that share a rate limit; "": those of the same method and url
	free   bool   // it falls under no limit of ours, as what belongs to an interaction
	urgent bool   // goes before others of its bucket
	body   any
	files  []chat.File
	into   any // what the answer is decoded into; nil: it is not looked at
}

// do makes the request once, within requestTimeout.
func (r *rest) do(ctx context.Context, q call) error {
	contentType, body, err := encode(q)
	if err != nil {
		return fmt.Errorf("%s: %w", q.doing, err)
	}
	q.method = cmp.Or(q.method, http.MethodGet)
	route := ""
	if !q.free {
		route = q.method + " " + cmp.Or(q.bucket, q.url)
		done, err := r.limits.take(ctx, route, q.urgent)
		if err != nil {
			return explain(q.doing, err)
		}
		defer done()
	}
	ctx, cancel := context.WithTimeout(context.WithValue(ctx, routeKey{}, route), requestTimeout)
	defer cancel()
	unused := discordgo.NewRatelimiter().GetBucket("") // the library keeps its buckets for ever; ours are in limits
	unused.Lock()
	answer, err := r.session.RequestWithLockedBucket(q.method, q.url, contentType, body, unused, 0, discordgo.WithContext(ctx))
	if err != nil {
		return explain(q.doing, err)
	}
	if q.into == nil {
		return nil
	}
	if err := json.Unmarshal(answer, q.into); err != nil && !errors.As(err, new(*json.UnmarshalTypeError)) { // an odd field is left out
		return fmt.Errorf("%s: understanding the platform's answer: %w", q.doing, err)
	}
	return nil
}

// requestTimeout bounds one request: after that the platform or the way to it is taken to be away.
const requestTimeout = 10 * time.Second

func encode(q call) (contentType string, body []byte, err error) {
	if len(q.files) > 0 {
		files := make([]*discordgo.File, len(q.files))
		for i, f := range q.files {
			files[i] = &discordgo.File{Name: f.Name, ContentType: f.Type, Reader: bytes.NewReader(f.Data)}
		}
		return discordgo.MultipartBodyWithJSON(q.body, files)
	}
	if q.body == nil {
		return "", nil, nil
	}
	body, err = json.Marshal(q.body)
	return "application/json", body, err
}
