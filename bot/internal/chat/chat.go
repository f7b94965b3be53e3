// Package chat is the port to the group channel: what the household's people say and press, and what is
// posted to them. It knows no chat platform; its subpackages each adapt one.
package chat

import (
	"context"
	"errors"
	"fmt"
	"time"

	"tarebell/bot/internal/notice"
)

// Severity is that of a notice: it says how a message looks and whether it may wait.
type Severity = notice.Severity

// The severities, rising. Danger goes first and ignores quiet hours.
const (
	Info    = notice.Info
	Warning = notice.Warning
	Danger  = notice.Danger
)

// Message is something to be read in the channel. Its texts are plain words: an adapter escapes what its
// platform would otherwise take for markup, so that nothing a user typed can ping or format.
type Message struct {
	ID       string   `json:"id,omitempty"` // of a notice: unique for ever, at most 25 characters; empty for an answer
	Headline string   `json:"headline"`     // the answer, one line that can be read aloud
	Body     []string `json:"body,omitempty"`
	Severity Severity `json:"severity,omitempty"`
	Buttons  []Button `json:"buttons,omitempty"`
	Files    []File   `json:"files,omitempty"`
	Private  bool     `json:"private,omitempty"`  // for the asker's eyes only, where the platform can
	Notify   []string `json:"notify,omitempty"`   // ids of members who are meant to be pinged
	ReplyTo  string   `json:"reply_to,omitempty"` // the platform's id of the message that this answers, where it can show that
}

// Button is one thing that can be pressed under a message. ID comes back in Press, at most 100 characters.
type Button struct {
	ID    string `json:"id"`
	Label string `json:"label"` // at most 80 characters
}

// File is an attachment; a picture is shown in place.
type File struct {
	Name string `json:"name"`
	Type string `json:"type"` // media type
	Data []byte `json:"data"`
	Alt  string `json:"alt,omitempty"` // what a picture shows, in words
}

// Member is somebody in the channel.
type Member struct {
	ID, Name string
	Roles    []string
}

// Said is a line typed in the channel that is not a command, or what its author made of it later.
type Said struct {
	ID   string // the platform's own, makes a repeat harmless; the same when it is edited or deleted
	At   time.Time
	By   Member // of a deleted line it may be unknown
	Text string // as it reads now

	Changed time.Time // when it was edited or deleted; zero: it is new
	Deleted bool
}

// Call is a command with its options as typed.
type Call struct {
	ID      string
	At      time.Time
	By      Member
	Name    string
	Options map[string]string
	People  map[string]Member // who is meant by the options of kind Person
}

// Pairs are options or fields given as name, value, name, value…; nil for none.
func Pairs(s ...string) map[string]string {
	if len(s) == 0 {
		return nil
	}
	m := map[string]string{}
	for i := 0; i+1 < len(s); i += 2 {
		m[s[i]] = s[i+1]
	}
	return m
}

// Press is a button pressed under a message, or a form sent from one.
type Press struct {
	ID     string
	At     time.Time
	By     Member
	Button string            // Button.ID
	Fields map[string]string // of a form; nil for a plain press
}

// Answer is what a press or a call leads to.
type Answer struct {
	Message *Message // nil: nothing to say
	Form    *Form    // ask for several values; Message is ignored
	Replace bool     // the message under which the button stood has been dealt with: take its buttons away
}

// Form asks for a few values that belong together. It comes back as a Press with Fields.
type Form struct {
	ID     string // Button of the Press that it sends
	Title  string // at most 45 characters
	Fields []Field
}

// Field is one line of a Form.
type Field struct {
	Name, Label, Example, Value string // Label at most 45 characters
	Required                    bool
}

// Choice is a suggested value for an option.
type Choice struct{ Label, Value string }

// OptionKind is what an option takes.
type OptionKind int

// The kinds of options.
const (
	Text OptionKind = iota
	Number
	Person
)

// Option is one thing a command can be told.
type Option struct {
	Name, Summary string
	Kind          OptionKind
	Required      bool
	Choices       []Choice // if fixed; at most 25
	Suggest       bool     // ask Handler.Suggest while it is typed
}

// Spec is a command as it is announced to the platform.
type Spec struct {
	Name, Summary string
	Options       []Option
}

// Handler takes what happens in the channel. Its methods are called one at a time and return within the
// platform's patience; an adapter defers for them where it must.
type Handler interface {
	Say(ctx context.Context, s Said) Answer // Answer{}: not for us, leave it alone
	Call(ctx context.Context, c Call) Answer
	Press(ctx context.Context, p Press) Answer
	Suggest(ctx context.Context, c Call, option string) []Choice
}

// Channel is one group channel.
type Channel interface {
	Poster
	// Run connects, hands what happens to h, and returns when ctx ends (nil) or when going on is
	// pointless (an error that says what to change). Reconnecting is its own business.
	Run(ctx context.Context, h Handler) error
}

// Poster is a channel as somebody sees it who only has something to tell.
type Poster interface {
	// Post delivers m and returns the platform's id of the message. Posting the same Message.ID again
	// within minutes must not show it twice where the platform can prevent that.
	Post(ctx context.Context, m Message) (posted string, err error)
	// Edit replaces what stands in an earlier message.
	Edit(ctx context.Context, posted string, m Message) error
	// Find looks for the notice with Message.ID among our own posts since then.
	Find(ctx context.Context, id string, since time.Time) (posted string, found bool, err error)
}

// Owner is implemented by a Channel that can reach whoever set the bot up, for when the group can't be reached.
type Owner interface {
	TellOwner(ctx context.Context, m Message) error
}

// ErrPermanent marks an error of Post that trying again cannot mend, unless somebody changes something; errors.Is finds it.
var ErrPermanent = errors.New("cannot be delivered")

// ErrForbidden marks an error, besides ErrPermanent, about what the bot may do rather than about the message.
var ErrForbidden = errors.New("not permitted")

// ErrUnseen marks an error of Find: what was posted before cannot be seen, so that nobody knows whether a notice is
// there. errors.Is finds it.
var ErrUnseen = errors.New("cannot be looked for")

// Refusal is the answer of a platform that does not do what it is asked to.
type Refusal struct {
	Status, Code int           // of HTTP, and the platform's own; 0: it gave none
	Page         bool          // it is no answer of the platform itself, but a web page of something on the way
	Message      string        // why, in the platform's words
	Final        bool          // asking again is pointless until somebody changes something: it is an ErrPermanent
	After        time.Duration // the pause that is asked for; 0: none
	All          bool          // a pause of everything, rather than of what is of the kind
}

func (e *Refusal) Error() string {
	switch {
	case e.Code != 0:
		return fmt.Sprintf("HTTP %d, code %d: %s", e.Status, e.Code, e.Message)
	case e.Status != 0:
		return fmt.Sprintf("HTTP %d: %s", e.Status, e.Message)
	}
	return e.Message
}

// Is makes what is final an ErrPermanent.
func (e *Refusal) Is(target error) bool { return e.Final && target == ErrPermanent }

// Pause is the pause that an error asks for, 0 for none, and whether it is one of everything.
func Pause(err error) (after time.Duration, all bool) {
	var r *Refusal
	if errors.As(err, &r) {
		return r.After, r.All
	}
	return 0, false
}
