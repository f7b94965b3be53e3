// Package terminal is a group channel on standard input and output: what is typed is said by one member, what
// is posted is printed as it would be read. It needs no account, and speaks the same commands as any other
// channel.
package terminal

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"golang.org/x/term"

	"tarebell/bot/internal/chat"
)

// Options of a Channel. All but Out may be left empty.
type Options struct {
	In       io.Reader // lines of the member "me"; nil: nobody types
	Out      io.Writer
	Commands []chat.Spec
	Dir      string           // for the logbook and the attachments; empty: neither is kept
	Zone     *time.Location   // of the times shown; default UTC
	Now      func() time.Time // default time.Now
	Width    int              // columns; default the terminal's, or no wrapping if Out is none
	Log      *slog.Logger     // default: nothing is logged
}

// Channel is a chat.Channel in a terminal.
type Channel struct {
	opt   Options
	print *printer
	start int64

	turn    sync.Mutex // the handler is called one at a time
	handler chat.Handler
	form    *pending // the form that is being filled in
	titles  map[string]string

	mu  sync.Mutex // of what follows
	log *logbook
	did int
}

var _ chat.Channel = (*Channel)(nil)

// New opens a channel.
func New(o Options) (*Channel, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	p := &printer{w: o.Out, width: o.Width, zone: cmp.Or(o.Zone, time.UTC)}
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
	return &Channel{opt: o, print: p, start: o.Now().UnixNano(), log: log, titles: map[string]string{}}, nil
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
	places, err := c.keep(n, m.Files)
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
	for _, n := range slices.Sorted(maps.Keys(c.log.pending)) {
		c.reveal(c.log.posts[n], "repeated after a restart")
	}
}

// keep writes the files of message number n into the folder of attachments and says where each is. A file that can't be written
// has an empty place; the errors are for the log.
func (c *Channel) keep(n int, files []chat.File) (places []string, err error) {
	if c.opt.Dir == "" || len(files) == 0 {
		return nil, nil
	}
	folder := filepath.Join(c.opt.Dir, "attachments")
	err = os.MkdirAll(folder, 0o755)
	for _, f := range files {
		place := filepath.Join(folder, fmt.Sprintf("%04d-%s", n, cmp.Or(chat.FileName(f.Name), "attachment")))
		if failed := os.WriteFile(place, f.Data, 0o644); failed != nil {
			err, place = errors.Join(err, failed), ""
		}
		places = append(places, place)
	}
	return places, err
}

func withoutData(m chat.Message) *chat.Message {
	m.Files = slices.Clone(m.Files)
	for i := range m.Files {
		m.Files[i].Data = nil
	}
	return &m
}

// place is the id of message number n; number is its inverse, 0 for what is none.
func place(n int) string { return fmt.Sprintf("t%d", n) }

func number(place string) int {
	n, err := strconv.Atoi(strings.TrimPrefix(place, "t"))
	if err != nil {
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
