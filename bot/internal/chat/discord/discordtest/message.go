package discordtest

import (
	"cmp"
	"context"
	"fmt"
	"mime"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
)

// Message is a message of the channel, or one that only one member sees.
type Message struct {
	ID         string
	At         time.Time
	By         Member // the bot has the platform's App as ID
	Bot        bool
	Content    string
	Embeds     []Embed
	Components []Component
	Files      []File
	Nonce      string
	ReplyTo    string
	Private    bool // ephemeral
	Pinged     []string
	Everyone   bool // @everyone or @here was pinged
	Edits      int
	Deleted    bool
	fileIDs    []string // of Files, in the same order
}

// Embed, Component and File are the parts of a message that a bot of this kind uses.
type Embed struct {
	Title       string `json:"title,omitempty"`
	Description string `json:"description,omitempty"`
	Color       *int   `json:"color,omitempty"`
	Footer      *struct {
		Text string `json:"text"`
	} `json:"footer,omitempty"`
	Image *struct {
		URL string `json:"url"`
	} `json:"image,omitempty"`
	Author *struct {
		Name string `json:"name"`
	} `json:"author,omitempty"`
	Fields []struct {
		Name  string `json:"name"`
		Value string `json:"value"`
	} `json:"fields,omitempty"`
}

// Component is a row, a button, or a text input.
type Component struct {
	Type        int         `json:"type"`
	Components  []Component `json:"components,omitempty"`
	CustomID    string      `json:"custom_id,omitempty"`
	Label       string      `json:"label,omitempty"`
	Style       int         `json:"style,omitempty"`
	Value       string      `json:"value,omitempty"`
	Placeholder string      `json:"placeholder,omitempty"`
	Required    *bool       `json:"required,omitempty"`
}

// File is an attachment.
type File struct {
	Name, Type, Alt string
	Data            []byte
}

// Text is all that can be read in the message.
func (m Message) Text() string {
	parts := []string{m.Content}
	for _, e := range m.Embeds {
		parts = append(parts, e.Title, e.Description)
		if e.Footer != nil {
			parts = append(parts, e.Footer.Text)
		}
	}
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), "\n")
}

// Buttons are the buttons under the message.
func (m Message) Buttons() []Component {
	var all []Component
	for _, row := range m.Components {
		all = append(all, row.Components...)
	}
	return all
}

// Messages is what stands in the channel now, oldest first; without what only one member sees.
func (p *Platform) Messages() []Message {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.visible()
}

// Posted is what the bot has posted there.
func (p *Platform) Posted() []Message {
	return slices.DeleteFunc(p.Messages(), func(m Message) bool { return !m.Bot })
}

func (p *Platform) visible() []Message {
	var all []Message
	for _, m := range p.messages {
		if !m.Deleted && !m.Private {
			all = append(all, *m)
		}
	}
	return all
}

// WaitMessage waits for a message of the bot in the channel that matches.
func (p *Platform) WaitMessage(ctx context.Context, what string, match func(Message) bool) (found Message, err error) {
	err = p.wait(ctx, what, func() bool {
		for _, m := range p.visible() {
			if m.Bot && match(m) {
				found = m
				return true
			}
		}
		return false
	})
	return found, err
}

// draft is the body of a message that the bot sends.
type draft struct {
	Content         *string      `json:"content"`
	Embeds          *[]Embed     `json:"embeds"`
	Components      *[]Component `json:"components"`
	AllowedMentions *struct {
		Parse *[]string `json:"parse"`
		Users []string  `json:"users"`
	} `json:"allowed_mentions"`
	Nonce        any  `json:"nonce"`
	EnforceNonce bool `json:"enforce_nonce"`
	Flags        int  `json:"flags"`
	Attachments  *[]struct {
		ID          ident  `json:"id"`
		Filename    string `json:"filename"`
		Description string `json:"description"`
	} `json:"attachments"`
	Reference *struct {
		MessageID string `json:"message_id"`
		Fail      *bool  `json:"fail_if_not_exists"`
	} `json:"message_reference"`
	Choices  []any  `json:"choices"`
	CustomID string `json:"custom_id"`
	Title    string `json:"title"`
	files    []File
}

// ident is an id, which some libraries send as a number and some as text.
type ident string

// UnmarshalJSON takes both.
func (i *ident) UnmarshalJSON(b []byte) error {
	*i = ident(strings.Trim(string(b), `"`))
	return nil
}

// failure is an answer of the platform to a request that it refuses.
type failure struct {
	status, code int
	message      string
}

func invalid(format string, args ...any) *failure {
	return &failure{400, 50035, "Invalid Form Body: " + fmt.Sprintf(format, args...)}
}

// apply checks a draft and puts it into m.
func (p *Platform) apply(m *Message, d draft) *failure {
	if d.Content != nil {
		m.Content = *d.Content
	}
	if d.Embeds != nil {
		m.Embeds = *d.Embeds
	}
	if d.Components != nil {
		m.Components = *d.Components
	}
	if f := p.attach(m, d); f != nil {
		return f
	}
	if f := check(*m); f != nil {
		return f
	}
	if p.NoEmbeds {
		m.Embeds = nil
	}
	if m.Content == "" && len(m.Embeds) == 0 && len(m.Files) == 0 {
		return &failure{400, 50006, "Cannot send an empty message"}
	}
	return ping(m, d)
}

func (p *Platform) attach(m *Message, d draft) *failure {
	if d.Attachments == nil && d.files == nil {
		return nil
	}
	if len(d.files) > 0 && p.NoFiles {
		return &failure{403, 50013, "Missing Permissions"}
	}
	files, ids := m.Files, m.fileIDs
	if d.Attachments != nil { // the list says which of those that are there remain
		files, ids = nil, nil
		for _, a := range *d.Attachments {
			if i := slices.Index(m.fileIDs, string(a.ID)); i >= 0 {
				files, ids = append(files, m.Files[i]), append(ids, m.fileIDs[i])
			}
		}
	}
	fresh := slices.Clone(d.files)
	if f := describe(fresh, m.fileIDs, d); f != nil {
		return f
	}
	for _, f := range fresh {
		if f.Type == "" || f.Type == "application/octet-stream" { // the platform goes by the name
			f.Type = cmp.Or(mime.TypeByExtension(path.Ext(f.Name)), f.Type)
		}
		files, ids = append(slices.Clip(files), f), append(slices.Clip(ids), p.nextID())
	}
	if len(files) > 10 {
		return invalid("attachments: %d, 10 are allowed", len(files))
	}
	m.Files, m.fileIDs = files, ids
	return nil
}

// describe gives new files what the list of attachments says of them; what it names must be new or there already.
func describe(fresh []File, there []string, d draft) *failure {
	if d.Attachments == nil {
		return nil
	}
	for _, a := range *d.Attachments {
		id := string(a.ID) // "0" or 0
		if utf8.RuneCountInString(a.Description) > 1024 {
			return invalid("attachments: description over 1024")
		}
		if slices.Contains(there, id) {
			continue
		}
		i, err := strconv.Atoi(id)
		if err != nil || i < 0 || i >= len(fresh) {
			return invalid("attachments: no file %v", a.ID)
		}
		fresh[i].Alt = a.Description
	}
	return nil
}

// check holds the limits, in characters (Discord documentation: message resource, embed limits; components).
func check(m Message) *failure {
	if n := utf8.RuneCountInString(m.Content); n > 2000 {
		return invalid("content: %d characters, 2000 are allowed", n)
	}
	if len(m.Embeds) > 10 {
		return invalid("embeds: %d, 10 are allowed", len(m.Embeds))
	}
	total := 0
	for i, e := range m.Embeds {
		n, f := checkEmbed(i, e, m.Files)
		if f != nil {
			return f
		}
		total += n
	}
	if total > 6000 {
		return invalid("embeds: %d characters together, 6000 are allowed", total)
	}
	return checkRows(m.Components)
}

func checkEmbed(i int, e Embed, files []File) (total int, f *failure) {
	limits := []struct {
		name, text string
		most       int
	}{{"title", e.Title, 256}, {"description", e.Description, 4096}}
	if e.Footer != nil {
		limits = append(limits, struct {
			name, text string
			most       int
		}{"footer", e.Footer.Text, 2048})
	}
	for _, l := range limits {
		n := utf8.RuneCountInString(l.text)
		if n > l.most {
			return 0, invalid("embeds[%d].%s: %d characters, %d are allowed", i, l.name, n, l.most)
		}
		total += n
	}
	if e.Image != nil {
		name, local := strings.CutPrefix(e.Image.URL, "attachment://")
		if local && !slices.ContainsFunc(files, func(f File) bool { return f.Name == name }) {
			return 0, invalid("embeds[%d].image: no attachment %q", i, name)
		}
	}
	if total == 0 && e.Image == nil {
		return 0, invalid("embeds[%d]: empty", i)
	}
	return total, nil
}

func checkRows(rows []Component) *failure {
	if len(rows) > 5 {
		return invalid("components: %d rows, 5 are allowed", len(rows))
	}
	ids := map[string]bool{}
	for _, row := range rows {
		if row.Type != 1 || len(row.Components) == 0 || len(row.Components) > 5 {
			return invalid("components: a row holds 1 to 5 buttons, this one %d", len(row.Components))
		}
		for _, b := range row.Components {
			n, l := utf8.RuneCountInString(b.CustomID), utf8.RuneCountInString(b.Label)
			if b.Type != 2 || n < 1 || n > 100 || l < 1 || l > 80 || b.Style < 1 || b.Style > 5 {
				return invalid("components: button %q (%d) labelled %q (%d)", b.CustomID, n, b.Label, l)
			}
			if ids[b.CustomID] {
				return invalid("components: COMPONENT_CUSTOM_ID_DUPLICATED %q", b.CustomID)
			}
			ids[b.CustomID] = true
		}
	}
	return nil
}

// mention is looked for in the raw text: whether a backslash before it keeps it from pinging is not documented,
// so here it doesn't.
var mention = regexp.MustCompile(`<@!?([0-9]+)>`)

// ping works out who is pinged, as Discord does: what stands in the content and is allowed.
func ping(m *Message, d draft) *failure {
	everyone, all := true, true
	var users []string
	if a := d.AllowedMentions; a != nil {
		if a.Parse == nil {
			return invalid("allowed_mentions.parse: null is no list")
		}
		everyone, all, users = slices.Contains(*a.Parse, "everyone"), slices.Contains(*a.Parse, "users"), a.Users
		if all && len(users) > 0 {
			return invalid("allowed_mentions: parse and users exclude each other")
		}
	}
	m.Pinged = nil
	for _, found := range mention.FindAllStringSubmatch(m.Content, -1) {
		if all || slices.Contains(users, found[1]) {
			m.Pinged = append(m.Pinged, found[1])
		}
	}
	m.Everyone = everyone && (strings.Contains(m.Content, "@everyone") || strings.Contains(m.Content, "@here"))
	return nil
}
