package discord

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"sync"
	"time"

	"github.com/bwmarrin/discordgo"

	"tarebell/bot/internal/chat"
)

// rest makes requests through the client library, without its ways of trying again: it repeats a 502 at once
// and sleeps through rate limits without looking at the context. Trying again is the caller's business.
type rest struct {
	session *discordgo.Session
	mu      sync.Mutex
	turns   map[string]chan struct{} // one request at a time for each bucket
}

func newRest(session *discordgo.Session) *rest {
	return &rest{session: session, turns: map[string]chan struct{}{}}
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
	method string
	url    string
	bucket string // requests that share a rate limit; empty: one of its own, soon forgotten
	body   any
	files  []chat.File
	into   any // what the answer is decoded into; nil: it is not looked at
}

// do makes the request once.
func (r *rest) do(ctx context.Context, q call) error {
	contentType, body, err := encode(q)
	if err != nil {
		return fmt.Errorf("%s: %w", q.doing, err)
	}
	bucket, done, err := r.bucket(ctx, q.bucket)
	if err != nil {
		return explain(q.doing, err)
	}
	defer done()
	answer, err := r.session.RequestWithLockedBucket(q.method, q.url, contentType, body, bucket, 0,
		discordgo.WithContext(ctx), discordgo.WithRetryOnRatelimit(false), discordgo.WithRestRetries(0))
	if err != nil {
		return explain(q.doing, err)
	}
	if q.into == nil {
		return nil
	}
	if err := json.Unmarshal(answer, q.into); err != nil {
		return fmt.Errorf("%s: understanding the platform's answer: %w", q.doing, err)
	}
	return nil
}

// bucket waits for its turn and returns the bucket locked, or says how long its limit still lasts.
func (r *rest) bucket(ctx context.Context, key string) (*discordgo.Bucket, func(), error) {
	if key == "" { // of an interaction: the library would keep its bucket for ever
		b := discordgo.NewRatelimiter().GetBucket("once")
		b.Lock()
		return b, func() {}, nil
	}
	turn := r.turn(key)
	select {
	case turn <- struct{}{}:
	case <-ctx.Done():
		return nil, nil, ctx.Err()
	}
	b := r.session.Ratelimiter.GetBucket(key)
	b.Lock() // uncontended: all go through turn
	if wait := r.session.Ratelimiter.GetWaitTime(b, 1); wait > 0 {
		b.Unlock()
		<-turn
		return nil, nil, &chat.RetryAfter{After: wait, Err: fmt.Errorf("the platform's limit of requests is used up for %v", wait.Round(time.Millisecond))}
	}
	b.Remaining--
	return b, func() { <-turn }, nil
}

func (r *rest) turn(key string) chan struct{} {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.turns[key] == nil {
		r.turns[key] = make(chan struct{}, 1)
	}
	return r.turns[key]
}

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
