// Package terminal is a group channel on standard input and output: what is typed is said by one member, what
// is posted is printed as it would be read. It needs no account, and speaks the same commands as any other
// channel.
package terminal

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"golang.org/x/term"

	"tarebell/bot/internal/chat"
)

// Options of a Channel. All but Out may be left empty.
type Options struct {
	In       io.Reader // lines of the member Me; nil: nobody types
	Out      io.Writer
	Commands []chat.Spec
	Me       chat.Member      // default id and name "me"
	Dir      string           // for the logbook and the attachments; empty: neither is kept
	Self     string           // the bot's name, default "Tarebell"
	Zone     *time.Location   // of the times shown; default UTC
	Now      func() time.Time // default time.Now
	Width    int              // columns; default the terminal's, or no wrapping if Out is none
	Echo     bool             // also print what came from In; else only what the program makes members do
	Log      *slog.Logger     // default: nothing is logged
}

// Channel is a chat.Channel in a terminal.
type Channel struct {
	opt   Options
	print *printer
	start int64

	turn    sync.Mutex // the handler is called one at a time
	handler chat.Handler
	form    *pending // questions of a form that Me is answering
	titles  map[string]string

	mu  sync.Mutex // of what follows
	log *logbook
	did int
}

var _ chat.Channel = (*Channel)(nil)

// New opens a channel.
func New(o Options) (*Channel, error) {
	if o.Me.ID == "" {
		o.Me = chat.Member{ID: "me", Name: "me"}
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	p := &printer{w: o.Out, self: cmp.Or(o.Self, "Tarebell"), width: o.Width, zone: o.Zone}
	if p.zone == nil {
		p.zone = time.UTC
	}
	if fd, ok := terminalOf(o.Out); ok {
		p.colour = os.Getenv("NO_COLOR") == "" // https://no-color.org
		if w, _, err := term.GetSize(fd); err == nil && o.Width == 0 {
			p.width = min(max(w, 40), 100)
		}
	}
	path := ""
	if o.Dir != "" {
		path = filepath.Join(o.Dir, "logbook.jsonl")
	}
	log, err := openLogbook(path)
	if err != nil {
		return nil, err
	}
	return &Channel{opt: o, print: p, start: o.Now().UnixNano(), log: log,
		titles: map[string]string{}}, nil
}

// Close ends the logbook. The channel can't be used any more.
func (c *Channel) Close() error { return c.log.close() }

// terminalOf says whether w is a terminal, and its file descriptor.
func terminalOf(w io.Writer) (int, bool) {
	f, ok := w.(*os.File)
	if !ok {
		return 0, false
	}
	fd := int(f.Fd())
	return fd, term.IsTerminal(fd)
}

// Post implements chat.Channel. A notice that is in the logbook is not printed again.
func (c *Channel) Post(ctx context.Context, m chat.Message) (string, error) {
	if err := ctx.Err(); err != nil {
		return "", err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if n, ok := c.log.byID[m.ID]; ok && m.ID != "" {
		return place(n), nil
	}
	return place(c.show(c.log.next, m, "")), nil
}

// Edit implements chat.Channel: the message is printed again, as it reads now.
func (c *Channel) Edit(ctx context.Context, posted string, m chat.Message) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	n := number(posted)
	old, ok := c.log.posts[n]
	if !ok {
		return fmt.Errorf("changing message %q: it is not in the logbook: %w", posted, chat.ErrPermanent)
	}
	if m.ID == "" {
		m.ID = old.Message.ID
	}
	c.show(n, m, "updated")
	return nil
}

// Find implements chat.Channel.
func (c *Channel) Find(ctx context.Context, id string, since time.Time) (string, bool, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	n, ok := c.log.byID[id]
	if !ok || id == "" || c.log.posts[n].At.Before(since) {
		return "", false, ctx.Err()
	}
	return place(n), true, ctx.Err()
}

// show writes message number n down and prints it. A full disk must not hide a notice: it is printed anyway.
func (c *Channel) show(n int, m chat.Message, mark string) int {
	folder := ""
	if c.opt.Dir != "" {
		folder = filepath.Join(c.opt.Dir, "attachments")
	}
	places, err := keep(folder, n, m.Files)
	if err != nil {
		c.opt.Log.Warn("attachment not kept", "err", err)
	}
	e := entry{Number: n, At: c.opt.Now(), Message: withoutData(m), Places: places}
	c.write(e)
	c.reveal(e, mark)
	return n
}

func (c *Channel) reveal(e entry, mark string) {
	c.print.posted(e, mark)
	c.write(entry{Read: e.Number})
}

func (c *Channel) write(e entry) {
	if err := c.log.append(e); err != nil {
		c.opt.Log.Warn("logbook not written", "err", err)
	}
}

// repeatUnread shows what a crash may have kept from the screen.
func (c *Channel) repeatUnread() {
	c.mu.Lock()
	defer c.mu.Unlock()
	for n := c.log.next - kept; n < c.log.next; n++ {
		if e, ok := c.log.posts[n]; ok && c.log.pending[n] {
			c.reveal(e, "repeated after a restart")
		}
	}
}

func withoutData(m chat.Message) *chat.Message {
	files := m.Files
	m.Files = nil
	for _, f := range files {
		f.Data = nil
		m.Files = append(m.Files, f)
	}
	return &m
}

// place is the id of message number n; number is its inverse, 0 for what is none.
func place(n int) string { return fmt.Sprintf("t%d", n) }

func number(place string) (n int) {
	digits, ok := strings.CutPrefix(place, "t")
	if _, err := fmt.Sscanf(digits, "%d", &n); err != nil || !ok {
		return 0
	}
	return n
}

// codes are what to type to press the buttons of message n: 12a, 12b…
func codes(n, buttons int) []string {
	out := make([]string, buttons)
	for i := range out {
		out[i] = fmt.Sprintf("%d%c", n, 'a'+i)
	}
	return out
}
