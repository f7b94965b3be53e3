package terminal

import (
	"cmp"
	"fmt"
	"io"
	"strings"
	"sync"
	"time"

	"github.com/rivo/uniseg"

	"tarebell/bot/internal/chat"
)

// self is the bot's name.
const self = "Tarebell"

// printer writes a channel as it would be read: who said what, when. Its methods may be called from several
// goroutines; each writes its message in one piece.
type printer struct {
	mu     sync.Mutex
	w      io.Writer
	width  int            // columns at which lines are wrapped; 0: not at all
	colour bool           // ANSI colours; severity is always said in words too
	zone   *time.Location // of the times shown
}

// said shows a line that a member typed.
func (p *printer) said(at time.Time, by chat.Member, text string) {
	p.write(p.opening(at, cmp.Or(chat.OneLine(by.Name), chat.OneLine(by.ID)), chat.OneLine(text), ""))
}

// pressed shows that a member pressed a button or sent a form.
func (p *printer) pressed(at time.Time, by chat.Member, label string, fields []string) {
	text := "presses [" + chat.OneLine(label) + "]"
	if len(fields) > 0 {
		text += " and fills in " + strings.Join(fields, ", ")
	}
	p.said(at, by, text)
}

// posted shows a message of the bot; mark is such as "updated", empty as a rule.
func (p *printer) posted(e entry, mark string) {
	m := e.Message
	lines := p.opening(e.At, p.who(*m, mark), chat.OneLine(m.Headline), tone(m.Severity))
	for _, text := range m.Body {
		lines = append(lines, p.paragraphs(text, "")...)
	}
	lines = append(lines, p.files(m.Files, e.Places)...)
	p.write(append(lines, p.buttons(m.Buttons, codes(e.Number, len(m.Buttons)))...))
}

// note shows a remark about the channel itself, such as how to press a button.
func (p *printer) note(text string) { p.write(p.paragraphs(text, dim)) }

// paragraphs are the lines of a text, wrapped and indented; what follows a bullet hangs under its text.
func (p *printer) paragraphs(text, colour string) (lines []string) {
	for _, l := range strings.Split(chat.Plain(text), "\n") {
		hang := "  "
		if strings.HasPrefix(l, "- ") || strings.HasPrefix(l, "• ") {
			hang += "  "
		}
		lines = append(lines, p.hanging("  ", hang, l, colour)...)
	}
	return lines
}

// hanging wraps a text that begins with first and hangs under it by rest.
func (p *printer) hanging(first, rest, text, colour string) []string {
	width := p.width
	if width > 0 {
		width = max(width-uniseg.StringWidth(rest), 20)
	}
	lines := wrap(text, max(uniseg.StringWidth(first)-uniseg.StringWidth(rest), 0), width)
	for i := range lines {
		lines[i] = p.paint(colour, first+lines[i])
		first = rest
	}
	return lines
}

// who is the bot's name with what must be known before reading on.
func (p *printer) who(m chat.Message, mark string) string {
	s := self
	switch m.Severity {
	case chat.Warning:
		s += ", warning"
	case chat.Danger:
		s += ", DANGER"
	}
	if m.Private {
		s += " (only to you)"
	}
	if mark != "" {
		s += " (" + mark + ")"
	}
	return s
}

// opening is the time, who, and the first line, which hangs under itself when it is long.
func (p *printer) opening(at time.Time, who, text, colour string) []string {
	return p.hanging(at.In(p.zone).Format("Mon 2 Jan 2006 15:04")+"  "+chat.OneLine(who)+": ", "  ", text, colour)
}

func (p *printer) files(files []chat.File, places []string) []string {
	var lines []string
	for i, f := range files {
		kind := "file"
		if strings.HasPrefix(f.Type, "image/") {
			kind = "picture"
		}
		text := kind + ": " + chat.OneLine(f.Name) + " (not kept)"
		if i < len(places) && places[i] != "" {
			text = kind + ": " + places[i]
		}
		if f.Alt != "" {
			text += " - " + chat.OneLine(f.Alt)
		}
		lines = append(lines, p.paragraphs(text, "")...)
	}
	return lines
}

func (p *printer) buttons(buttons []chat.Button, codes []string) []string {
	if len(buttons) == 0 {
		return nil
	}
	var parts []string
	for i, b := range buttons {
		parts = append(parts, "["+chat.OneLine(b.Label)+"] /press "+codes[i])
	}
	lines := fill(parts, "   ", 2, p.width)
	for i := range lines {
		lines[i] = p.paint(dim, "  "+lines[i])
	}
	return lines
}

func (p *printer) write(lines []string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	_, _ = io.WriteString(p.w, strings.Join(lines, "\n")+"\n") // a closed terminal is nobody's fault
}

// ANSI colours (ECMA-48, select graphic rendition).
const (
	dim    = "2"
	yellow = "33"
	red    = "1;31"
)

func tone(s chat.Severity) string {
	switch s {
	case chat.Warning:
		return yellow
	case chat.Danger:
		return red
	}
	return ""
}

func (p *printer) paint(colour, s string) string {
	if !p.colour || colour == "" || s == "" {
		return s
	}
	return fmt.Sprintf("\x1b[%sm%s\x1b[0m", colour, s)
}
