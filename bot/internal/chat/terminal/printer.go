package terminal

import (
	"fmt"
	"io"
	"strings"
	"sync"
	"time"

	"github.com/rivo/uniseg"

	"tarebell/bot/internal/chat"
)

// printer writes a channel as it would be read: who said what, when. Its methods may be called from several
// goroutines; each writes its message in one piece.
type printer struct {
	mu     sync.Mutex
	w      io.Writer
	self   string         // whose messages the bot's are
	width  int            // columns at which lines are wrapped; 0: not at all
	colour bool           // ANSI colours; severity is always said in words too
	zone   *time.Location // of the times shown
}

// said shows a line that a member typed.
func (p *printer) said(at time.Time, by chat.Member, text string) {
	p.write(p.opening(at, name(by), chat.OneLine(text), ""))
}

// called shows a command that a member gave.
func (p *printer) called(at time.Time, by chat.Member, spec chat.Spec, options map[string]string) {
	p.said(at, by, Line(spec, options))
}

// pressed shows that a member pressed a button or sent a form.
func (p *printer) pressed(at time.Time, by chat.Member, label string, fields []string) {
	text := "presses [" + chat.OneLine(label) + "]"
	if len(fields) > 0 {
		text += " and fills in " + strings.Join(fields, ", ")
	}
	p.write(p.opening(at, name(by), text, ""))
}

// posted shows a message of the bot; mark is such as "updated", empty as a rule.
func (p *printer) posted(e entry, mark string) {
	m := e.Message
	lines := p.opening(e.At, p.who(*m, mark), chat.OneLine(m.Headline), tone(m.Severity))
	for _, para := range m.Body {
		for _, l := range strings.Split(chat.Plain(para), "\n") {
			lines = append(lines, paragraph(l, "  ", p.width)...)
		}
	}
	lines = append(lines, p.files(m.Files, e.Places)...)
	p.write(append(lines, p.buttons(m.Buttons, codes(e.Number, len(m.Buttons)))...))
}

// note shows a remark about the channel itself, such as how to press a button.
func (p *printer) note(text string) {
	var lines []string
	for _, l := range strings.Split(chat.Plain(text), "\n") {
		for _, l := range paragraph(l, "  ", p.width) {
			lines = append(lines, p.paint(dim, l))
		}
	}
	p.write(lines)
}

// who is the bot's name with what must be known before reading on.
func (p *printer) who(m chat.Message, mark string) string {
	s := p.self
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
	head := at.In(p.zone).Format("Mon 2 Jan 2006 15:04") + "  " + chat.OneLine(who) + ": "
	const indent = "  "
	room := p.width
	if room > 0 {
		room = max(room-len(indent), 20)
	}
	lines := wrap(text, uniseg.StringWidth(head)-len(indent), room)
	for i := range lines {
		if i == 0 {
			lines[i] = p.paint(colour, head+lines[i])
		} else {
			lines[i] = p.paint(colour, indent+lines[i])
		}
	}
	return lines
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
		lines = append(lines, paragraph(text, "  ", p.width)...)
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

func name(m chat.Member) string {
	if n := chat.OneLine(m.Name); n != "" {
		return n
	}
	return chat.OneLine(m.ID)
}
