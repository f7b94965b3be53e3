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

// Style says how a Printer writes.
type Style struct {
	Self   string         // whose messages the bot's are; default "Tarebell"
	Width  int            // columns at which lines are wrapped; 0: not at all
	Colour bool           // ANSI colours; severity is always said in words too
	Zone   *time.Location // of the times shown; default UTC
}

// Printer writes a channel as it would be read: who said what, when. Its methods may be called from several
// goroutines; each writes its message in one piece.
type Printer struct {
	mu    sync.Mutex
	w     io.Writer
	style Style
}

// NewPrinter returns a printer that writes to w.
func NewPrinter(w io.Writer, s Style) *Printer {
	if s.Self == "" {
		s.Self = "Tarebell"
	}
	if s.Zone == nil {
		s.Zone = time.UTC
	}
	return &Printer{w: w, style: s}
}

// Said shows a line that a member typed.
func (p *Printer) Said(at time.Time, by chat.Member, text string) {
	p.write(p.opening(at, name(by), chat.OneLine(text), ""))
}

// Called shows a command that a member gave.
func (p *Printer) Called(at time.Time, by chat.Member, spec chat.Spec, options map[string]string) {
	p.Said(at, by, Line(spec, options))
}

// Pressed shows that a member pressed a button or sent a form.
func (p *Printer) Pressed(at time.Time, by chat.Member, label string, fields []string) {
	text := "presses [" + chat.OneLine(label) + "]"
	if len(fields) > 0 {
		text += " and fills in " + strings.Join(fields, ", ")
	}
	p.write(p.opening(at, name(by), text, ""))
}

// Shown is a message with what it takes to press its buttons and to find its files.
type Shown struct {
	Message chat.Message
	Codes   []string // one for each button
	Places  []string // one for each file
	Mark    string   // "updated", "repeated after a restart"; empty as a rule
}

// Posted shows a message of the bot.
func (p *Printer) Posted(at time.Time, s Shown) {
	m := s.Message
	lines := p.opening(at, p.who(m, s.Mark), chat.OneLine(m.Headline), tone(m.Severity))
	for _, para := range m.Body {
		for _, l := range strings.Split(chat.Plain(para), "\n") {
			lines = append(lines, paragraph(l, "  ", p.style.Width)...)
		}
	}
	lines = append(lines, p.files(m.Files, s.Places)...)
	p.write(append(lines, p.buttons(m.Buttons, s.Codes)...))
}

// Note shows a remark about the channel itself, such as how to press a button.
func (p *Printer) Note(text string) {
	var lines []string
	for _, l := range strings.Split(chat.Plain(text), "\n") {
		for _, l := range paragraph(l, "  ", p.style.Width) {
			lines = append(lines, p.paint(dim, l))
		}
	}
	p.write(lines)
}

// who is the bot's name with what must be known before reading on.
func (p *Printer) who(m chat.Message, mark string) string {
	s := p.style.Self
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
func (p *Printer) opening(at time.Time, who, text, colour string) []string {
	head := at.In(p.style.Zone).Format("Mon 2 Jan 2006 15:04") + "  " + chat.OneLine(who) + ": "
	const indent = "  "
	room := p.style.Width
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

func (p *Printer) files(files []chat.File, places []string) []string {
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
		lines = append(lines, paragraph(text, "  ", p.style.Width)...)
	}
	return lines
}

func (p *Printer) buttons(buttons []chat.Button, codes []string) []string {
	if len(buttons) == 0 {
		return nil
	}
	var parts []string
	for i, b := range buttons {
		part := "[" + chat.OneLine(b.Label) + "]"
		if i < len(codes) {
			part += " /press " + codes[i]
		}
		parts = append(parts, part)
	}
	lines := fill(parts, "   ", 2, p.style.Width)
	for i := range lines {
		lines[i] = p.paint(dim, "  "+lines[i])
	}
	return lines
}

func (p *Printer) write(lines []string) {
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

func (p *Printer) paint(colour, s string) string {
	if !p.style.Colour || colour == "" || s == "" {
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
