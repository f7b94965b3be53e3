//go:build !race

package discordtest_test

import (
	"bytes"
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/disgoorg/disgo/discord"
	"github.com/disgoorg/disgo/gateway"
	"github.com/disgoorg/disgo/rest"
	"github.com/disgoorg/snowflake/v2"
)

var draw = []byte("\x89PNG\r\n\x1a\n")

// notice is a message with everything that the bot puts into one.
func notice() discord.MessageCreate {
	return discord.MessageCreate{Content: "Book the refill.", Nonce: "refill-1", EnforceNonce: true, AllowedMentions: &discord.AllowedMentions{Parse: []discord.AllowedMentionType{}},
		Embeds: []discord.Embed{{Description: "12 days are left.", Color: 0xD9A400, Footer: &discord.EmbedFooter{Text: "No. refill-1"}, Image: &discord.EmbedResource{URL: "attachment://left.png"}}},
		Files:  []*discord.File{discord.NewFile("left.png", "gas left", bytes.NewReader(draw))}}
}

func TestSecondPosts(t *testing.T) {
	t.Parallel()
	p := open(t)
	s := join(t, p)
	m, err := s.rest.CreateMessage(s.c, notice())
	if err != nil {
		t.Fatal(err)
	}
	if string(m.Nonce) != "refill-1" || !m.Author.Bot || len(m.Embeds) != 1 || m.Embeds[0].Description != "12 days are left." || m.Embeds[0].Footer.Text != "No. refill-1" || m.Embeds[0].Color != 0xD9A400 {
		t.Errorf("posted %+v", m)
	}
	if len(m.Attachments) != 1 || m.Attachments[0].Filename != "left.png" || m.Attachments[0].Size != len(draw) || m.Attachments[0].Description == nil || *m.Attachments[0].Description != "gas left" || m.Attachments[0].ContentType == nil || *m.Attachments[0].ContentType != "image/png" {
		t.Errorf("attached %+v", m.Attachments)
	}
	if e := next[gateway.EventMessageCreate](t, s); e.ID != m.ID || string(e.Nonce) != "refill-1" || len(e.Attachments) != 1 || e.Attachments[0].ID != m.Attachments[0].ID {
		t.Errorf("event %+v", e.Message)
	}
	again, err := s.rest.CreateMessage(s.c, notice())
	if err != nil || again.ID != m.ID || len(p.Posted()) != 1 {
		t.Errorf("the second time %+v, %v; %d stand there", again, err, len(p.Posted()))
	}
	s.edit(t, m)
}

// edit changes the text of a message, then its files.
func (s *second) edit(t *testing.T, m *discord.Message) {
	t.Helper()
	text := "Booked."
	got, err := s.rest.UpdateMessage(s.c, m.ID, discord.MessageUpdate{Content: &text})
	if err != nil || got.ID != m.ID || got.Content != text || got.EditedTimestamp == nil || len(got.Embeds) != 1 || len(got.Attachments) != 1 {
		t.Errorf("edited %+v, %v; want the rest left as it was", got, err)
	}
	if e := next[gateway.EventMessageUpdate](t, s); e.ID != m.ID || e.Content != text {
		t.Errorf("event %+v", e.Message)
	}
	keep := []discord.AttachmentUpdate{discord.AttachmentKeep{ID: m.Attachments[0].ID}}
	got, err = s.rest.UpdateMessage(s.c, m.ID, discord.MessageUpdate{Attachments: &keep, Files: []*discord.File{discord.NewFile("refill.ics", "", bytes.NewReader([]byte("BEGIN:VCALENDAR")))}})
	if err != nil || len(got.Attachments) != 2 || got.Attachments[0].ID != m.Attachments[0].ID || got.Attachments[1].Filename != "refill.ics" {
		t.Errorf("one file more: %+v, %v", got, err)
	}
	none := []discord.AttachmentUpdate{}
	got, err = s.rest.UpdateMessage(s.c, m.ID, discord.MessageUpdate{Attachments: &none, Embeds: &[]discord.Embed{}})
	if err != nil || len(got.Attachments) != 0 || len(got.Embeds) != 0 {
		t.Errorf("without files: %+v, %v", got, err)
	}
}

func TestSecondIsRefusedPosts(t *testing.T) {
	t.Parallel()
	p := open(t)
	s := client(t, p)
	text, long := "x", notice()
	long.Nonce = "of more than 25 characters"
	for _, tt := range []struct {
		code rest.JSONErrorCode
		do   func() (*discord.Message, error)
	}{
		{50035, func() (*discord.Message, error) { return s.rest.CreateMessage(s.c, long) }},
		{50006, func() (*discord.Message, error) { return s.rest.CreateMessage(s.c, discord.MessageCreate{Nonce: "2"}) }},
		{10003, func() (*discord.Message, error) { return s.rest.CreateMessage(s.app, notice()) }},
		{10008, func() (*discord.Message, error) {
			return s.rest.UpdateMessage(s.c, 1, discord.MessageUpdate{Content: &text})
		}},
		{50005, func() (*discord.Message, error) {
			anna := p.Types(p.Join("Anna"), "mine")
			return s.rest.UpdateMessage(s.c, snowflake.MustParse(anna.ID), discord.MessageUpdate{Content: &text})
		}},
	} {
		_, err := tt.do()
		refused(t, err, tt.code)
	}
}

// What was typed meanwhile is read page by page, forwards and backwards.
func TestSecondCatchesUp(t *testing.T) {
	t.Parallel()
	p := open(t)
	s := client(t, p)
	anna := p.Join("Anna")
	first := p.Types(anna, "before")
	var want []string
	for i := range 130 {
		want = append(want, p.Types(anna, fmt.Sprint(i)).ID)
	}
	var forwards []string
	for page := s.rest.GetMessagesPage(s.c, snowflake.MustParse(first.ID), 50); page.Next(); {
		ids := idsOf(page.Items)
		slices.Reverse(ids)
		forwards = append(forwards, ids...)
	}
	if !slices.Equal(forwards, want) {
		t.Errorf("forwards %d messages; want the %d in order", len(forwards), len(want))
	}
	var backwards []string
	for page := s.rest.GetMessagesPage(s.c, 0, 50); page.Previous(); {
		backwards = append(backwards, idsOf(page.Items)...)
	}
	slices.Reverse(backwards)
	if !slices.Equal(backwards, append([]string{first.ID}, want...)) {
		t.Errorf("backwards %d messages; want %d in order", len(backwards), len(want)+1)
	}
	_, err := s.rest.GetMessages(s.c, 0, 0, 0, 101)
	refused(t, err, 50035)
}

func idsOf(list []discord.Message) (ids []string) {
	for _, m := range list {
		ids = append(ids, m.ID.String())
	}
	return ids
}

// A rate limit is understood and obeyed. The library counts in whole seconds.
func TestSecondIsLimited(t *testing.T) {
	t.Parallel()
	p := open(t)
	p.BucketLimit, p.BucketWindow = 2, 1100*time.Millisecond
	s := client(t, p)
	for i := range 3 {
		if _, err := s.rest.CreateMessage(s.c, discord.MessageCreate{Content: fmt.Sprint(i)}); err != nil {
			t.Fatal(err)
		}
	}
	all := p.Posted()
	if len(all) != 3 || all[2].At.Sub(all[0].At) < p.BucketWindow {
		t.Errorf("%d messages; want 3, the last in the next window", len(all))
	}
}

// The small things that are asked about: who we are, where, who else is there, and the way to the owner.
func TestSecondLooksAround(t *testing.T) {
	t.Parallel()
	p := open(t)
	s := client(t, p)
	anna := p.Join("Anna", p.Role)
	c, err := s.rest.GetChannel(s.c)
	if in, ok := c.(discord.GuildTextChannel); !ok || in.ID() != s.c || in.GuildID() != s.guild || in.Name() != "kitchen" {
		t.Errorf("channel %+v, %v", c, err)
	}
	m, err := s.rest.GetMember(s.guild, snowflake.MustParse(anna.ID))
	if err != nil || m.User.Username != "Anna" || len(m.RoleIDs) != 1 {
		t.Errorf("member %+v, %v", m, err)
	}
	_, err = s.rest.GetMember(s.guild, s.app)
	refused(t, err, 10007)
	info, err := s.rest.GetBotApplicationInfo()
	if err != nil || info.ID != s.app || info.Owner == nil || info.Owner.ID.String() != p.Owner {
		t.Fatalf("application %+v, %v", info, err)
	}
	dm, err := s.rest.CreateDMChannel(info.Owner.ID)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.rest.CreateMessage(dm.ID(), discord.MessageCreate{Content: "Help."}); err != nil || len(p.Told()) != 1 || p.Told()[0].Content != "Help." {
		t.Errorf("told %+v, %v", p.Told(), err)
	}
	_, err = s.rest.CreateDMChannel(snowflake.MustParse(anna.ID))
	refused(t, err, 50033)
	me, err := s.rest.GetCurrentUser("")
	if err != nil || me.ID != s.app || !me.Bot {
		t.Errorf("we are %+v, %v", me, err)
	}
	if n := len(p.Posted()); n != 0 {
		t.Errorf("%d messages in the channel", n)
	}
}
