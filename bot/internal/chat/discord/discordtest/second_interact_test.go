//go:build !race

package discordtest_test

import (
	"bytes"
	"fmt"
	"testing"

	"github.com/disgoorg/disgo/discord"
	"github.com/disgoorg/disgo/gateway"
	"github.com/disgoorg/disgo/rest"

	"tarebell/bot/internal/chat/discord/discordtest"
)

// asked is the next interaction, of a kind.
func asked[I discord.Interaction](t *testing.T, s *second) I {
	t.Helper()
	got := next[gateway.EventInteractionCreate](t, s).Interaction
	i, ok := got.(I)
	if !ok {
		t.Fatalf("%T: %+v; want %T", got, got, i)
	}
	if i.Member() == nil || i.Member().User.Username != "Anna" || i.GuildID() == nil || *i.GuildID() != s.guild || i.ApplicationID() != s.app {
		t.Errorf("interaction %+v", i)
	}
	return i
}

// react answers an interaction.
func (s *second) react(t *testing.T, i discord.Interaction, kind discord.InteractionResponseType, data discord.InteractionResponseData, opts ...rest.RequestOpt) {
	t.Helper()
	if err := s.rest.CreateInteractionResponse(i.ID(), i.Token(), discord.InteractionResponse{Type: kind, Data: data}, opts...); err != nil {
		t.Fatal(err)
	}
}

// register announces a command and returns it.
func (s *second) register(t *testing.T) discord.SlashCommand {
	t.Helper()
	made, err := s.rest.SetGuildCommands(s.app, s.guild, []discord.ApplicationCommandCreate{
		discord.SlashCommandCreate{Name: "weigh", Description: "Enter a weighing", Options: []discord.ApplicationCommandOption{
			discord.ApplicationCommandOptionString{Name: "weight", Description: "what the scale says", Required: true},
			discord.ApplicationCommandOptionUser{Name: "by", Description: "who weighed"},
			discord.ApplicationCommandOptionString{Name: "cylinder", Description: "which", Autocomplete: true}}},
	})
	if err != nil || len(made) != 1 {
		t.Fatal(made, err)
	}
	c, ok := made[0].(discord.SlashCommand)
	if !ok || c.Name() != "weigh" || c.Description != "Enter a weighing" || c.ApplicationID() != s.app || c.GuildID() == nil || *c.GuildID() != s.guild {
		t.Errorf("registered %+v", made[0])
	}
	if len(c.Options) != 3 || c.Options[0].OptionName() != "weight" || c.Options[1].Type() != discord.ApplicationCommandOptionTypeUser {
		t.Errorf("options %+v", c.Options)
	}
	return c
}

func TestSecondCommands(t *testing.T) {
	t.Parallel()
	p := open(t)
	s := join(t, p)
	made := s.register(t)
	if again := s.register(t); again.ID() != made.ID() {
		t.Errorf("registered again as %v; was %v", again.ID(), made.ID())
	}
	anna, ben := p.Join("Anna"), p.Join("Ben")
	x := p.Calls(anna, "weigh", discordtest.Option{Name: "weight", Value: "61.4 kg"}, discordtest.Option{Name: "by", Value: ben})
	i := asked[discord.ApplicationCommandInteraction](t, s)
	d := i.SlashCommandInteractionData()
	if d.CommandID() != made.ID() || d.String("weight") != "61.4 kg" || d.User("by").Username != "Ben" {
		t.Errorf("called %+v", d)
	}
	answer := discord.MessageCreate{Content: "Understood.", Components: []discord.ContainerComponent{discord.NewActionRow(discord.NewPrimaryButton("Undo", "undo:1"))}}
	back, err := s.rest.CreateInteractionResponseWithCallback(i.ID(), i.Token(), discord.InteractionResponse{Type: discord.InteractionResponseTypeCreateMessage, Data: answer})
	if err != nil {
		t.Fatal(err)
	}
	got, err := x.Message(s.ctx)
	if err != nil || got.Content != "Understood." || back.Interaction.ID != i.ID() || back.Interaction.ResponseMessageID.String() != got.ID || back.Resource == nil || back.Resource.Message == nil || back.Resource.Message.ID.String() != got.ID {
		t.Errorf("answered %+v, told %+v, %v", got, back, err)
	}
	err = s.rest.CreateInteractionResponse(i.ID(), i.Token(), discord.InteractionResponse{Type: discord.InteractionResponseTypeDeferredCreateMessage})
	refused(t, err, 40060)
}

// A press changes the message under which the button stood.
func TestSecondPressed(t *testing.T) {
	t.Parallel()
	p := open(t)
	s := join(t, p)
	anna := p.Join("Anna")
	m, err := s.rest.CreateMessage(s.c, discord.MessageCreate{Content: "Understood.", Components: []discord.ContainerComponent{discord.NewActionRow(discord.NewPrimaryButton("Undo", "undo:1"))}})
	if err != nil || len(m.Components) != 1 {
		t.Fatal(m, err)
	}
	x := p.Presses(anna, discordtest.Message{ID: m.ID.String()}, "Undo")
	i := asked[discord.ComponentInteraction](t, s)
	if i.Data.CustomID() != "undo:1" || i.Data.Type() != discord.ComponentTypeButton || i.Message.ID != m.ID || i.Message.Content != "Understood." {
		t.Errorf("pressed %+v", i)
	}
	undone, none := "Undone.", []discord.ContainerComponent{}
	s.react(t, i, discord.InteractionResponseTypeUpdateMessage, discord.MessageUpdate{Content: &undone, Components: &none})
	if typ, _, err := x.Wait(s.ctx); typ != 7 || err != nil {
		t.Errorf("reaction %d, %v", typ, err)
	}
	if now := p.Posted()[0]; now.Content != "Undone." || len(now.Buttons()) != 0 {
		t.Errorf("after the press %+v", now)
	}
	if u := next[gateway.EventMessageUpdate](t, s); u.ID != m.ID || u.Content != "Undone." || u.EditedTimestamp == nil || len(u.Components) != 0 {
		t.Errorf("event %+v", u.Message)
	}
}

// A form is opened by a command, filled in, and answered.
func TestSecondForm(t *testing.T) {
	t.Parallel()
	p := open(t)
	p.OldForms = true // that library knows no others
	s := join(t, p)
	anna := p.Join("Anna")
	x := p.Calls(anna, "plan")
	day := discord.NewShortTextInput("date", "Which day does it come?")
	s.react(t, asked[discord.ApplicationCommandInteraction](t, s), discord.InteractionResponseTypeModal, discord.ModalCreate{CustomID: "booked", Title: "Refill booked", Components: []discord.ContainerComponent{discord.NewActionRow(day)}})
	f, err := x.Form(s.ctx)
	if err != nil || f.ID != "booked" || f.Title != "Refill booked" || len(f.Inputs) != 1 || f.Inputs[0].Label != "Which day does it come?" {
		t.Fatalf("form %+v, %v", f, err)
	}
	y := p.Sends(anna, f, "date", "2026-06-20")
	i := asked[discord.ModalSubmitInteraction](t, s)
	if i.Data.CustomID != "booked" || i.Data.Text("date") != "2026-06-20" {
		t.Errorf("sent %+v", i.Data)
	}
	chart := discord.NewFile("left.png", "gas left", bytes.NewReader([]byte("\x89PNG\r\n\x1a\n")))
	s.react(t, i, discord.InteractionResponseTypeCreateMessage, discord.MessageCreate{Content: "Booked.", Files: []*discord.File{chart}})
	if m, err := y.Message(s.ctx); err != nil || m.Content != "Booked." || len(m.Files) != 1 || m.Files[0].Alt != "gas left" {
		t.Errorf("answered %+v, %v", m, err)
	}
}

func TestSecondSuggests(t *testing.T) {
	t.Parallel()
	p := open(t)
	s := join(t, p)
	x := p.Completes(p.Join("Anna"), "weigh", discordtest.Option{Name: "cylinder", Value: "ma", Focused: true})
	i := asked[discord.AutocompleteInteraction](t, s)
	if i.Data.String("cylinder") != "ma" || i.Data.Focused().Name != "cylinder" {
		t.Errorf("asked %+v", i.Data)
	}
	s.react(t, i, discord.InteractionResponseTypeAutocompleteResult, discord.AutocompleteResult{Choices: []discord.AutocompleteChoice{discord.AutocompleteChoiceString{Name: "Main", Value: "main"}}})
	if list, err := x.Choices(s.ctx); err != nil || fmt.Sprint(list) != "[Main=main]" {
		t.Errorf("suggested %v, %v", list, err)
	}
}

// An answer that comes late, to the asker alone, and one more for all; then the first is taken back.
func TestSecondAnswersLate(t *testing.T) {
	t.Parallel()
	p := open(t)
	s := join(t, p)
	x := p.Calls(p.Join("Anna"), "weigh", discordtest.Option{Name: "weight", Value: "1"})
	i := asked[discord.ApplicationCommandInteraction](t, s)
	s.react(t, i, discord.InteractionResponseTypeDeferredCreateMessage, discord.MessageCreate{Flags: discord.MessageFlagEphemeral})
	late := "Here it is."
	m, err := s.rest.UpdateInteractionResponse(s.app, i.Token(), discord.MessageUpdate{Content: &late})
	if err != nil || m.Content != late || !m.Flags.Has(discord.MessageFlagEphemeral) {
		t.Errorf("%+v, %v", m, err)
	}
	if got, err := x.Message(s.ctx); err != nil || !got.Private || got.ID != m.ID.String() {
		t.Errorf("%+v, %v", got, err)
	}
	if got, err := s.rest.GetInteractionResponse(s.app, i.Token()); err != nil || got.ID != m.ID {
		t.Errorf("%+v, %v", got, err)
	}
	if m, err := s.rest.CreateFollowupMessage(s.app, i.Token(), discord.MessageCreate{Content: "And this."}); err != nil || m.Content != "And this." || x.Answers() != 2 {
		t.Errorf("follow-up %+v, %v", m, err)
	}
	if err := s.rest.DeleteInteractionResponse(s.app, i.Token()); err != nil || x.Answers() != 1 {
		t.Errorf("%v, %d answers left", err, x.Answers())
	}
	_, err = s.rest.UpdateInteractionResponse(s.app, "wrong", discord.MessageUpdate{Content: &late})
	refused(t, err, 10015)
}
