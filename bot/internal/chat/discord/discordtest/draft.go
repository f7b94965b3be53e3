package discordtest

import (
	"cmp"
	"fmt"
	"mime"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

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

// answer is the failure as the answer to a request.
func (f failure) answer() (int, any) { return f.status, object{"code": f.code, "message": f.message} }

// refusal is the answer with a code of the platform's.
func refusal(status, code int, message string) (int, any) {
	return failure{status, code, message}.answer()
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
	if !p.may(EmbedLinks) {
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
	if len(d.files) > 0 && !p.may(AttachFiles) {
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
		if units(a.Description) > 1024 {
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
