// Package chattest is a group channel in memory, for the tests of everything that talks to one. It keeps what
// was posted, lets members speak, and fails on demand, before or after a message was stored.
package chattest

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"tarebell/bot/internal/chat"
)

// Posted is a message as it stands in the channel.
type Posted struct {
	Where   string // the id that Post returned
	At      time.Time
	Edits   int
	Answer  bool // to something a member did; false: a notice
	To      chat.Member
	Message chat.Message
}

// Text is everything that can be read in the message, one line each.
func (p Posted) Text() string {
	return strings.Join(append([]string{p.Message.Headline}, p.Message.Body...), "\n")
}

// Channel is a chat.Channel in memory. The zero value is not usable; see New.
type Channel struct {
	Now func() time.Time // of posts and of what members do; default time.Now

	mu      sync.Mutex
	posts   []Posted
	changed chan struct{}
	before  []error
	after   []error
	handler chat.Handler
	running chan struct{}
	turn    sync.Mutex // the handler is called one at a time
	seq     int
	tries   int
}

// New returns an empty channel.
func New() *Channel {
	return &Channel{Now: time.Now, changed: make(chan struct{}), running: make(chan struct{})}
}

var _ chat.Channel = (*Channel)(nil)

// Run hands what members do to h until ctx ends.
func (c *Channel) Run(ctx context.Context, h chat.Handler) error {
	c.Handle(h)
	<-ctx.Done()
	return nil
}

// Handle is Run without waiting: from now on h hears what members do.
func (c *Channel) Handle(h chat.Handler) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.handler == nil {
		close(c.running)
	}
	c.handler = h
}

// Running is closed once a handler is there.
func (c *Channel) Running() <-chan struct{} { return c.running }

// FailBefore makes the next posts fail, one error each, without storing anything. A nil error lets one through.
func (c *Channel) FailBefore(errs ...error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.before = append(c.before, errs...)
}

// FailAfter makes the next posts that get through report an error although the message was stored, as when the
// connection breaks before the platform's answer arrives.
func (c *Channel) FailAfter(errs ...error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.after = append(c.after, errs...)
}

// Post implements chat.Channel. The same Message.ID is stored once.
func (c *Channel) Post(ctx context.Context, m chat.Message) (string, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.tries++
	if err := ctx.Err(); err != nil {
		return "", err
	}
	if err := take(&c.before); err != nil {
		return "", err
	}
	where, known := c.find(m.ID)
	if !known {
		where = c.store(Posted{Message: m})
	}
	if err := take(&c.after); err != nil {
		return "", err
	}
	return where, nil
}

// Edit implements chat.Channel.
func (c *Channel) Edit(ctx context.Context, posted string, m chat.Message) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if err := take(&c.before); err != nil {
		return err
	}
	i := slices.IndexFunc(c.posts, func(p Posted) bool { return p.Where == posted })
	if i < 0 {
		return fmt.Errorf("editing message %q: %w", posted, chat.ErrPermanent)
	}
	c.posts[i].Message, c.posts[i].Edits = m, c.posts[i].Edits+1
	c.wake()
	return take(&c.after)
}

// Find implements chat.Channel.
func (c *Channel) Find(ctx context.Context, id string, since time.Time) (string, bool, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if err := take(&c.before); err != nil {
		return "", false, err
	}
	for _, p := range c.posts {
		if id != "" && p.Message.ID == id && !p.At.Before(since) {
			return p.Where, true, nil
		}
	}
	return "", false, nil
}

// Tries is how often Post was called.
func (c *Channel) Tries() int {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.tries
}

// Posts is everything in the channel, oldest first: notices and answers.
func (c *Channel) Posts() []Posted {
	c.mu.Lock()
	defer c.mu.Unlock()
	return slices.Clone(c.posts)
}

// Notices is what was posted without having been asked for.
func (c *Channel) Notices() []Posted {
	return slices.DeleteFunc(c.Posts(), func(p Posted) bool { return p.Answer })
}

// Last is the newest message; ok is false when there is none.
func (c *Channel) Last() (p Posted, ok bool) {
	all := c.Posts()
	if len(all) == 0 {
		return Posted{}, false
	}
	return all[len(all)-1], true
}

// Wait returns the first message for which match is true, at once or when it comes, or ctx's error.
func (c *Channel) Wait(ctx context.Context, match func(Posted) bool) (Posted, error) {
	for {
		c.mu.Lock()
		posts, changed := slices.Clone(c.posts), c.changed
		c.mu.Unlock()
		if i := slices.IndexFunc(posts, match); i >= 0 {
			return posts[i], nil
		}
		select {
		case <-changed:
		case <-ctx.Done():
			return Posted{}, fmt.Errorf("waiting for a message in the channel (%d there): %w", len(posts), ctx.Err())
		}
	}
}

// Says lets by type a line and returns what was answered. It needs a handler (Run or Handle).
func (c *Channel) Says(ctx context.Context, by chat.Member, text string) chat.Answer {
	return c.act(by, func(h chat.Handler, id string, at time.Time) chat.Answer {
		return h.Say(ctx, chat.Said{ID: id, At: at, By: by, Text: text})
	})
}

// Calls lets by give a command; options are pairs of name and value.
func (c *Channel) Calls(ctx context.Context, by chat.Member, name string, options ...string) chat.Answer {
	return c.act(by, func(h chat.Handler, id string, at time.Time) chat.Answer {
		return h.Call(ctx, chat.Call{ID: id, At: at, By: by, Name: name, Options: chat.Pairs(options...)})
	})
}

// Presses lets by press the button with that id, or send a form when fields (pairs) are given. With
// Answer.Replace the newest message that had the button loses its buttons.
func (c *Channel) Presses(ctx context.Context, by chat.Member, button string, fields ...string) chat.Answer {
	a := c.act(by, func(h chat.Handler, id string, at time.Time) chat.Answer {
		return h.Press(ctx, chat.Press{ID: id, At: at, By: by, Button: button, Fields: chat.Pairs(fields...)})
	})
	if a.Replace {
		c.dropButtons(button)
	}
	return a
}

func (c *Channel) act(by chat.Member, do func(chat.Handler, string, time.Time) chat.Answer) chat.Answer {
	c.mu.Lock()
	h := c.handler
	c.seq++
	id, at := fmt.Sprintf("did-%d", c.seq), c.Now()
	c.mu.Unlock()
	if h == nil {
		panic("chattest: nobody listens yet; call Handle or wait for Running")
	}
	c.turn.Lock()
	defer c.turn.Unlock()
	a := do(h, id, at)
	if a.Message != nil && a.Form == nil {
		c.mu.Lock()
		defer c.mu.Unlock()
		c.store(Posted{Answer: true, To: by, Message: *a.Message})
	}
	return a
}

func (c *Channel) dropButtons(button string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for i := len(c.posts) - 1; i >= 0; i-- {
		has := func(b chat.Button) bool { return b.ID == button }
		if slices.ContainsFunc(c.posts[i].Message.Buttons, has) {
			c.posts[i].Message.Buttons = nil
			c.wake()
			return
		}
	}
}

// store and the helpers below run with mu held.
func (c *Channel) store(p Posted) string {
	c.seq++
	p.Where, p.At = fmt.Sprintf("post-%d", c.seq), c.Now()
	c.posts = append(c.posts, p)
	c.wake()
	return p.Where
}

func (c *Channel) find(id string) (string, bool) {
	for _, p := range c.posts {
		if id != "" && p.Message.ID == id {
			return p.Where, true
		}
	}
	return "", false
}

func (c *Channel) wake() {
	close(c.changed)
	c.changed = make(chan struct{})
}

func take(errs *[]error) error {
	if len(*errs) == 0 {
		return nil
	}
	err := (*errs)[0]
	*errs = (*errs)[1:]
	return err
}
