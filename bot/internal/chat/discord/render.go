package discord

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/bwmarrin/discordgo"

	"tarebell/bot/internal/chat"
)

// Limits of the platform, in characters unless said otherwise; see units (Discord documentation: message resource,
// message components, application commands).
const (
	maxContent     = 2000
	maxDescription = 4096
	maxEmbeds      = 6000 // the sum over all embeds of a message
	maxLabel       = 80
	maxCustomID    = 100
	maxRows        = 5
	maxRow         = 5 // buttons
	maxAlt         = 1024
	maxFiles       = 10
	maxFile        = 10 << 20 // bytes
	maxUpload      = 24 << 20 // bytes of all files; the request as a whole may have 25 MiB
	maxNonce       = 25
)

// payload is the body of a message that is created, changed, or given as the answer to an interaction. The
// client library has no fields for the nonce, so the body is our own; its parts are the library's. A pointer
// to an empty list says "none", nil says nothing.
type payload struct {
	Content         *string                           `json:"content,omitempty"`
	Embeds          *[]*discordgo.MessageEmbed        `json:"embeds,omitempty"`
	Components      *[]discordgo.MessageComponent     `json:"components,omitempty"`
	Attachments     *[]attachment                     `json:"attachments,omitempty"`
	AllowedMentions *discordgo.MessageAllowedMentions `json:"allowed_mentions,omitempty"`
	Flags           discordgo.MessageFlags            `json:"flags,omitempty"`
	Nonce           string                            `json:"nonce,omitempty"`
	EnforceNonce    bool                              `json:"enforce_nonce,omitempty"`
	Reference       *discordgo.MessageReference       `json:"message_reference,omitempty"`
}

type attachment struct {
	ID          string `json:"id"` // its place among the files
	Filename    string `json:"filename"`
	Description string `json:"description,omitempty"`
}

// The strip beside a message says how much it matters; its words say it too.
var colours = map[chat.Severity]int{chat.Info: 0x4F8FA8, chat.Warning: 0xD9A400, chat.Danger: 0xC0392B}

// wire is a chat.Message as it goes over the wire.
type wire struct {
	payload
	files []chat.File
}

// render turns a message into what the platform takes. The headline is ordinary text, so that it is read where
// embeds are switched off, and in a phone's notification; of a danger the whole text is. The notice's number is the last
// line of that text, where it stays when embeds are dropped. The rest stands in an embed with the strip and the picture.
func render(m chat.Message) wire {
	l := wire{}
	l.AllowedMentions = &discordgo.MessageAllowedMentions{Parse: []discordgo.AllowedMentionType{}} // never null: a strict server refuses that
	ping := l.ping(m.Notify)
	headline := cut(escape(chat.OneLine(m.Headline)), 1500)
	body := escape(strings.Join(m.Body, "\n"))
	l.files, body = withinLimits(m.Files, body)

	text, tail := bold(headline, body != ""), number(m)
	full := strings.TrimRight(text+"\n"+body, "\n")
	answer := (m.ID == "" || m.ReplyTo != "") && m.Severity == chat.Info && len(l.files) == 0
	if (answer || m.Severity == chat.Danger) && units(ping+full+tail) <= maxContent {
		text, body = full, ""
	}
	content := ping + text + tail
	embeds := l.embeds(m, body)
	l.Content, l.Embeds = &content, &embeds
	l.buttons(m.Buttons)
	l.attach()
	if m.Private {
		l.Flags = discordgo.MessageFlagsEphemeral
	}
	return l
}

func bold(s string, yes bool) string {
	if !yes || s == "" {
		return s
	}
	return "**" + s + "**"
}

// ping returns the mentions of the members meant and allows them; what is no id is left out.
func (l *wire) ping(ids []string) string {
	var b strings.Builder
	for _, id := range ids {
		if !isID(id) || len(l.AllowedMentions.Users) == 20 {
			continue
		}
		l.AllowedMentions.Users = append(l.AllowedMentions.Users, id)
		fmt.Fprintf(&b, "<@%s> ", id)
	}
	return b.String()
}

// embeds holds the text in one embed, or in two when it is very long, with the picture in the last.
func (l *wire) embeds(m chat.Message, body string) []*discordgo.MessageEmbed {
	all := []*discordgo.MessageEmbed{}
	for _, text := range split(body, maxDescription, maxEmbeds-maxDescription) {
		all = append(all, &discordgo.MessageEmbed{Description: text, Color: colours[m.Severity]})
	}
	if p := picture(l.files); p != "" {
		if len(all) == 0 {
			all = append(all, &discordgo.MessageEmbed{Color: colours[m.Severity]})
		}
		all[len(all)-1].Image = &discordgo.MessageEmbedImage{URL: "attachment://" + p}
	}
	return all
}

// numbered is how a notice's own number stands in it, for people and for Find.
func numbered(id string) string { return "No. " + id }

// small makes a line small (Discord's Markdown).
const small = "-# "

// number is the line with the notice's number. Most answers have none: a reply is known by what it replies to.
func number(m chat.Message) string {
	if m.ID == "" || m.ReplyTo != "" && m.ID == replyID(m.ReplyTo) {
		return ""
	}
	return "\n" + small + escape(numbered(m.ID))
}

func picture(files []chat.File) string {
	for _, f := range files {
		if strings.HasPrefix(f.Type, "image/") {
			return f.Name
		}
	}
	return ""
}

// buttons lays them out in rows. The first one is the one that is expected.
func (l *wire) buttons(buttons []chat.Button) {
	rows := []discordgo.MessageComponent{}
	for i, b := range buttons[:min(len(buttons), maxRows*maxRow)] {
		style := discordgo.SecondaryButton
		if i == 0 {
			style = discordgo.PrimaryButton
		}
		if i%maxRow == 0 {
			rows = append(rows, &discordgo.ActionsRow{})
		}
		row := rows[len(rows)-1].(*discordgo.ActionsRow)
		row.Components = append(row.Components, discordgo.Button{Label: cut(chat.OneLine(b.Label), maxLabel), Style: style, CustomID: b.ID})
	}
	l.Components = &rows
}

func (l *wire) attach() {
	list := []attachment{}
	for i, f := range l.files {
		list = append(list, attachment{ID: strconv.Itoa(i), Filename: f.Name, Description: cut(chat.OneLine(f.Alt), maxAlt)})
	}
	l.Attachments = &list
}

// withinLimits leaves out files that the platform would refuse, says so in the body, and gives the others names
// that it keeps as they are.
func withinLimits(files []chat.File, body string) ([]chat.File, string) {
	var out []chat.File
	total := 0
	for _, f := range files {
		if len(f.Data) > maxFile || total+len(f.Data) > maxUpload || len(out) == maxFiles {
			body = strings.TrimLeft(body+"\n"+escape(fmt.Sprintf("(%s is too large to send.)", f.Name)), "\n")
			continue
		}
		total += len(f.Data)
		f.Name = chat.FileName(f.Name)
		if n := len(out); n > 0 || f.Name == "" { // several may have the same name
			f.Name = fmt.Sprintf("%d-%s", n+1, f.Name)
		}
		out = append(out, f)
	}
	return out, body
}

// plainText is the message as nothing but text, for a channel in which embeds or files are not permitted.
func plainText(m chat.Message) wire {
	m.Files = nil
	l := render(m)
	text := bold(cut(escape(chat.OneLine(m.Headline)), 1500), len(m.Body) > 0) + "\n" + escape(strings.Join(m.Body, "\n"))
	ping, tail := (&wire{payload: payload{AllowedMentions: &discordgo.MessageAllowedMentions{}}}).ping(m.Notify), number(m)
	content := ping + cut(strings.TrimRight(text, "\n"), maxContent-units(ping+tail)) + tail
	l.Content, l.Embeds, l.Attachments = &content, &[]*discordgo.MessageEmbed{}, nil
	return l
}

// isID says whether s could be a snowflake: up to 20 digits.
func isID(s string) bool {
	return s != "" && len(s) <= 20 && strings.Trim(s, "0123456789") == ""
}
