package discord_test

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/chat/discord"
	"tarebell/bot/internal/chat/discord/discordtest"
)

func TestLoginRegistersCommands(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		f := moveIn(t, platform(t))
		got, err := json.Marshal(f.Commands())
		if err != nil {
			t.Fatal(err)
		}
		for _, want := range []string{
			`"name":"weigh","type":1,"description":"Enter a weighing","options":[{"type":3,"name":"weight","description":"what the scale says","required":true,`,
			`{"type":3,"name":"cylinder","description":"which cylinder","required":false,"autocomplete":true,`,
			`{"type":10,"name":"count"`, `{"type":6,"name":"by"`, `"choices":[{"name":"open","value":"open"},{"name":"closed","value":"closed"}]`,
		} {
			if !strings.Contains(string(got), want) {
				t.Errorf("registered\n%s\nwant it to hold %s", got, want)
			}
		}
		if n := len(f.Commands()); n != len(specs) {
			t.Errorf("%d commands; want %d", n, len(specs))
		}
		h := f.bot.Health()
		if !h.Connected || h.Err != "" || h.Since.IsZero() || h.Reconnects != 0 {
			t.Errorf("health %+v", h)
		}
	})
}

var due = chat.Message{
	ID: "refill-2026-06-14", Headline: "Book the refill by Tue 23 Jun.", Severity: chat.Warning,
	Body:    []string{"About 12 days of gas are left.", "- two people carry it"},
	Buttons: []chat.Button{{ID: "booked", Label: "Booked…"}, {ID: "undo", Label: "Remind me later"}},
	Files:   []chat.File{png, {Name: "refill.ics", Type: "text/calendar", Data: []byte("BEGIN:VCALENDAR")}},
}

func TestNoticeWithChart(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		f := moveIn(t, platform(t))
		id, err := f.bot.Post(f.ctx, due)
		if err != nil {
			t.Fatal(err)
		}
		m := f.Posted()[0]
		if m.ID != id || m.Nonce != due.ID || len(m.Pinged) > 0 {
			t.Errorf("id %s, nonce %s, pinged %v; want %s, %s, nobody", m.ID, m.Nonce, m.Pinged, id, due.ID)
		}
		want := "**Book the refill by Tue 23 Jun.**\n-# No. refill-2026-06-14\nAbout 12 days of gas are left.\n\\- two people carry it"
		if d := cmp.Diff(want, m.Text()); d != "" {
			t.Error(d)
		}
		e := m.Embeds[0]
		if e.Color == nil || *e.Color != 0xD9A400 || e.Image == nil || e.Image.URL != "attachment://gas-left.png" {
			t.Errorf("embed %+v; want the strip of a warning and the picture", e)
		}
		files := []discordtest.File{{Name: "gas-left.png", Type: "image/png", Alt: png.Alt, Data: png.Data}, {Name: "2-refill.ics", Type: "text/calendar", Data: []byte("BEGIN:VCALENDAR")}}
		if d := cmp.Diff(files, m.Files); d != "" {
			t.Error(d)
		}
		var buttons []string
		for _, b := range m.Buttons() {
			buttons = append(buttons, fmt.Sprint(b.CustomID, " ", b.Label, " ", b.Style))
		}
		if d := cmp.Diff([]string{"booked Booked… 1", "undo Remind me later 2"}, buttons); d != "" {
			t.Error(d)
		}
	})
}

// Where embeds are switched off a danger is still read in full.
func TestDangerIsOrdinaryText(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		p := platform(t)
		bot, err := discord.New(options(t, p))
		if err != nil {
			t.Fatal(err)
		}
		m := chat.Message{ID: "leak-1", Severity: chat.Danger, Headline: "Gas is going away: 300 g since 14:05.", Body: []string{"Leave the room.", "Open the windows."}, Notify: []string{"42", "nobody"}}
		if _, err := bot.Post(timeout(t), m); err != nil {
			t.Fatal(err)
		}
		got := p.Posted()[0]
		if want := "<@42> **Gas is going away: 300 g since 14:05.**\nLeave the room.\nOpen the windows.\n-# No. leak-1"; got.Content != want {
			t.Errorf("content %q; want %q", got.Content, want)
		}
		if !slices.Equal(got.Pinged, []string{"42"}) || len(got.Embeds) != 0 {
			t.Errorf("pinged %v, embeds %+v", got.Pinged, got.Embeds)
		}
	})
}

func TestTypedWeight(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		f := moveIn(t, platform(t))
		f.Types(f.anna, "good morning")
		m := f.Types(f.ben, "61.4 kg")
		got := f.answerTo(t, m)
		if want := "**Understood: 61.4 kg gross.**\nBy Ben."; got.Content != want || len(got.Embeds) > 0 || len(got.Pinged) > 0 || got.Private {
			t.Errorf("answered %+v; want %q and nothing else", got, want)
		}
		if d := cmp.Diff([]string{"Anna: good morning", "Ben: 61.4 kg"}, f.house.heard()); d != "" {
			t.Error(d)
		}
		if s := f.house.said[1]; s.ID != m.ID || s.By.ID != f.ben.ID || s.At.Sub(m.At).Abs().Seconds() > 1 {
			t.Errorf("said %+v; want message %s at %v", s, m.ID, m.At)
		}
		if n := len(f.Posted()); n != 1 {
			t.Errorf("%d messages posted; what is no weight must be left alone", n)
		}
	})
}

// Without the privileged intent a weight is heard when the bot is mentioned or replied to.
func TestTypedWeightWithoutTheIntent(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		p := platform(t)
		p.MessageContent = false
		f := moveIn(t, p, func(o *discord.Options) { o.ReadMessages = false })
		f.Types(f.anna, "60 kg")
		notice, err := f.bot.Post(f.ctx, chat.Message{ID: "ask-1", Headline: "What does the scale say?"})
		if err != nil {
			t.Fatal(err)
		}
		f.answerTo(t, f.Types(f.anna, "<@"+p.App+"> 61 kg"))
		f.answerTo(t, f.TypesReply(f.ben, "62 kg", notice))
		if d := cmp.Diff([]string{"Anna: 61 kg", "Ben: 62 kg"}, f.house.heard()); d != "" {
			t.Error(d)
		}
	})
}

func TestOnlyRolesMayWrite(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		p := platform(t)
		f := moveIn(t, p, func(o *discord.Options) { o.Roles = []string{p.Role} })
		f.Types(f.ben, "60 kg")
		x := f.Calls(f.ben, "gas")
		if m := f.message(t, x); !m.Private || !strings.Contains(m.Content, "Your roles") {
			t.Errorf("answered %q, private %v; want a private refusal", m.Content, m.Private)
		}
		f.answerTo(t, f.Types(f.anna, "61 kg"))
		f.message(t, f.Calls(f.anna, "gas"))
		if d := cmp.Diff([]string{"Anna: 61 kg"}, f.house.heard()); d != "" {
			t.Error(d)
		}
		if len(f.house.calls) != 1 {
			t.Errorf("%d commands reached the handler; want Anna's", len(f.house.calls))
		}
	})
}

func TestOnlyTheChannel(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		f := moveIn(t, platform(t))
		refused := []*discordtest.Interaction{
			f.Raw(f.anna, 2, map[string]any{"id": "1", "name": "gas", "type": 1}, map[string]any{"channel_id": "77"}),
			f.Raw(f.anna, 2, map[string]any{"id": "1", "name": "gas", "type": 1}, map[string]any{"guild_id": nil, "member": nil, "user": map[string]any{"id": f.anna.ID, "username": "Anna"}}),
		}
		for i, want := range []string{"I only work in my household's channel. Please say it there.", "I only work in my household's channel, not in direct messages."} {
			if m := f.message(t, refused[i]); m.Content != want || !m.Private {
				t.Errorf("answered %q, private %v; want %q, private", m.Content, m.Private, want)
			}
		}
		other := map[string]any{"id": "99", "channel_id": "77", "guild_id": f.Guild, "content": "60 kg", "type": 0, "author": map[string]any{"id": f.anna.ID, "username": "Anna"}}
		f.Dispatch("MESSAGE_CREATE", other)
		f.answerTo(t, f.Types(f.anna, "61 kg"))
		if d := cmp.Diff([]string{"Anna: 61 kg"}, f.house.heard()); d != "" {
			t.Error(d)
		}
		if len(f.house.calls) > 0 {
			t.Errorf("%v reached the handler", f.house.calls)
		}
	})
}

func TestCommands(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		f := moveIn(t, platform(t))
		gas := f.message(t, f.Calls(f.anna, "gas"))
		if want := "**6.4 kg of gas are left, good for 740 litres.**\nAt your way of drinking until about 9 October."; gas.Content != want || gas.Private {
			t.Errorf("/gas answered %q, private %v; want %q for all", gas.Content, gas.Private, want)
		}
		if help := f.message(t, f.Calls(f.anna, "help")); !help.Private {
			t.Error("/help answers for all to see; it is for the asker only")
		}
		weigh := f.message(t, f.Calls(f.ben, "weigh", discordtest.Option{Name: "weight", Value: "61,4 kg"}))
		if want := "Understood: 61,4 kg gross."; weigh.Content != want || weigh.Buttons()[0].Label != "Undo" {
			t.Errorf("/weigh answered %q with %v", weigh.Content, weigh.Buttons())
		}
		if chart := f.message(t, f.Calls(f.ben, "chart")); len(chart.Files) != 1 || chart.Files[0].Alt != png.Alt {
			t.Errorf("/chart answered with files %v", chart.Files)
		}
		if none := f.message(t, f.Calls(f.ben, "nothing")); none.Content != "Done." || !none.Private {
			t.Errorf("a command without an answer said %q", none.Content)
		}
		f.message(t, f.Calls(f.anna, "made", discordtest.Option{Name: "count", Value: 2.5}, discordtest.Option{Name: "by", Value: f.ben}, discordtest.Option{Name: "odd", Value: true}))
		last := f.house.calls[len(f.house.calls)-1]
		if d := cmp.Diff(map[string]string{"count": "2.5", "by": f.ben.ID, "odd": "true"}, last.Options); d != "" {
			t.Error(d)
		}
		if who := last.People["by"]; who.Name != "Ben" || who.ID != f.ben.ID {
			t.Errorf("by %+v; want Ben", who)
		}
		if last.By.Name != "Anna" || !slices.Equal(last.By.Roles, []string{f.Role}) || last.At.IsZero() || last.ID == "" {
			t.Errorf("called by %+v at %v", last.By, last.At)
		}
	})
}

func TestSuggestions(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		f := moveIn(t, platform(t))
		x := f.Completes(f.anna, "weigh", discordtest.Option{Name: "weight", Value: "61"}, discordtest.Option{Name: "cylinder", Value: "ma", Focused: true})
		got, err := x.Choices(f.ctx)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff([]string{"main (cylinder ma)=main", "spare=spare"}, got); d != "" {
			t.Error(d)
		}
		if got, err := f.Completes(f.anna, "weigh").Choices(f.ctx); err != nil || len(got) > 0 {
			t.Errorf("nothing is being typed: %v, %v; want no suggestions", got, err)
		}
	})
}

func TestButtons(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		f := moveIn(t, platform(t))
		asked := f.answerTo(t, f.Types(f.anna, "61.4 kg"))
		x := f.Presses(f.ben, asked, "Undo")
		if m := f.message(t, x); m.Content != "Undone." || m.Private {
			t.Errorf("answered %q", m.Content)
		}
		f.until(t, "the button to go", func() bool { return len(now(f, asked).Buttons()) == 0 })
		if m := now(f, asked); m.Content != asked.Content {
			t.Errorf("the message became %q; want only its buttons gone", m.Content)
		}
		if p := f.house.presses[0]; p.Button != "undo:1" || p.Fields != nil || p.By.Name != "Ben" || p.At.IsZero() {
			t.Errorf("pressed %+v", p)
		}
		id, err := f.bot.Post(f.ctx, chat.Message{ID: "n1", Headline: "Hm.", Buttons: []chat.Button{{ID: "silent", Label: "Silent"}, {ID: "private", Label: "Private"}}})
		if err != nil {
			t.Fatal(err)
		}
		notice := now(f, discordtest.Message{ID: id})
		if typ, _, err := f.Presses(f.anna, notice, "Silent").Wait(f.ctx); typ != 6 || err != nil {
			t.Errorf("a press with nothing to say: type %d, %v; want it acknowledged silently (6)", typ, err)
		}
		if m := f.message(t, f.Presses(f.anna, notice, "Private")); !m.Private || m.Content != "Only you see this." {
			t.Errorf("answered %q, private %v", m.Content, m.Private)
		}
	})
}

// now is a message as it stands.
func now(f *flat, m discordtest.Message) discordtest.Message {
	for _, x := range f.Messages() {
		if x.ID == m.ID {
			return x
		}
	}
	return discordtest.Message{}
}

func TestForms(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		f := moveIn(t, platform(t))
		if _, err := f.bot.Post(f.ctx, due); err != nil {
			t.Fatal(err)
		}
		notice := f.Posted()[0]
		got, err := f.Presses(f.anna, notice, "Booked…").Form(f.ctx)
		if err != nil {
			t.Fatal(err)
		}
		in := got.Inputs[0]
		if got.Title != "Refill booked" || len(got.Inputs) != 2 || in.CustomID != "date" || in.Label != "Which day does it come?" || in.Placeholder != "2026-06-20" || got.Inputs[1].Value != "ring twice" {
			t.Errorf("form %+v", got)
		}
		if m := f.message(t, f.Sends(f.anna, got, "date", "2026-06-23")); m.Content != "Booked for 2026-06-23." {
			t.Errorf("answered %q", m.Content)
		}
		if d := cmp.Diff(map[string]string{"date": "2026-06-23", "note": "ring twice"}, f.house.presses[1].Fields); d != "" {
			t.Error(d)
		}
		f.until(t, "the buttons to go", func() bool { return len(now(f, notice).Buttons()) == 0 })
		if len(now(f, notice).Embeds) != 1 || len(now(f, notice).Files) != 2 {
			t.Error("taking the buttons away took more away")
		}
		direct, err := f.Calls(f.ben, "plan").Form(f.ctx) // from a command: there is no message to change
		if err != nil {
			t.Fatal(err)
		}
		if m := f.message(t, f.Sends(f.ben, direct, "date", "2026-06-24")); m.Content != "Booked for 2026-06-24." {
			t.Errorf("answered %q", m.Content)
		}
	})
}

func TestFaultsInTheHandlerAreContained(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		f := moveIn(t, platform(t))
		if m := f.message(t, f.Calls(f.anna, "boom")); !m.Private || !strings.Contains(m.Content, "Something went wrong") {
			t.Errorf("answered %q", m.Content)
		}
		if m := f.answerTo(t, f.Types(f.anna, "boom")); !strings.Contains(m.Content, "Something went wrong") {
			t.Errorf("answered %q", m.Content)
		}
		f.answerTo(t, f.Types(f.anna, "61 kg"))
	})
}

// The library hands half-empty structures on when an event holds something it does not know.
func TestOddEvents(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		f := moveIn(t, platform(t))
		here := func(extra map[string]any) map[string]any {
			m := map[string]any{"id": "5", "channel_id": f.Channel, "guild_id": f.Guild, "content": "60 kg", "type": 0, "author": map[string]any{"id": f.anna.ID, "username": "Anna"}}
			for k, v := range extra {
				m[k] = v
			}
			return m
		}
		for _, odd := range []any{
			nil, []any{}, "text", map[string]any{}, here(map[string]any{"author": nil}), here(map[string]any{"author": 5}), here(map[string]any{"id": nil}),
			here(map[string]any{"components": []any{map[string]any{"type": 99}}, "author": nil}), here(map[string]any{"author": map[string]any{"id": "6", "bot": true}}),
			here(map[string]any{"webhook_id": "7"}), here(map[string]any{"type": 7}), here(map[string]any{"mentions": []any{nil}, "content": ""}),
		} {
			f.Dispatch("MESSAGE_CREATE", odd)
			f.Dispatch("INTERACTION_CREATE", odd)
		}
		f.Dispatch("NEVER_HEARD_OF", map[string]any{"a": 1})
		for _, change := range []map[string]any{{"data": nil}, {"member": nil}, {"member": map[string]any{}}, {"token": ""}, {"type": 9}, {"channel_id": nil}} {
			f.Raw(f.anna, 2, map[string]any{"id": "1", "name": "gas", "type": 1}, change)
			f.Raw(f.anna, 3, map[string]any{"custom_id": "x", "component_type": 2}, change)
			f.Raw(f.anna, 4, map[string]any{"id": "1", "name": "gas", "type": 1, "options": []any{nil, map[string]any{"name": "a", "value": map[string]any{}, "focused": true}}}, change)
			f.Raw(f.anna, 5, map[string]any{"custom_id": "x", "components": []any{map[string]any{"type": 18}}}, change)
		}
		f.answerTo(t, f.Types(f.anna, "61 kg"))
		if d := cmp.Diff([]string{"Anna: 61 kg"}, f.house.heard()); d != "" {
			t.Error(d)
		}
	})
}

func TestNamesAreNeverPings(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		f := moveIn(t, platform(t))
		nasty := "@everyone <@" + f.ben.ID + "> <@&" + f.Role + "> **bold** [link](http://example.com) <t:0:R> kg"
		anna := f.Join("@here *Anna* <@"+f.ben.ID+">", f.Role)
		typed := f.Types(anna, nasty)
		answers := []discordtest.Message{f.answerTo(t, typed), f.message(t, f.Calls(anna, "weigh", discordtest.Option{Name: "weight", Value: nasty}))}
		id, err := f.bot.Post(f.ctx, chat.Message{ID: "n", Headline: nasty, Body: []string{nasty, "# " + nasty}, Severity: chat.Danger, Notify: []string{anna.ID}})
		if err != nil {
			t.Fatal(err)
		}
		posted := now(f, discordtest.Message{ID: id})
		if !slices.Equal(posted.Pinged, []string{anna.ID}) || posted.Everyone {
			t.Errorf("pinged %v, everyone %v; want only who is meant", posted.Pinged, posted.Everyone)
		}
		for _, m := range append(answers, posted) {
			if m.ID != posted.ID && len(m.Pinged) > 0 || m.Everyone {
				t.Errorf("%q pinged %v, everyone %v", m.Content, m.Pinged, m.Everyone)
			}
			for _, raw := range []string{"@everyone", "@here", "\n# ", " <@" + f.ben.ID, " [link]"} {
				if strings.Contains(m.Content, raw) {
					t.Errorf("%q holds %q as it was typed", m.Content, raw)
				}
			}
		}
	})
}

func TestShutdownSendsWhatWasAccepted(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		f := moveIn(t, platform(t))
		f.house.slow = make(chan struct{})
		x := f.Calls(f.anna, "slow")
		f.until(t, "the handler", func() bool { f.house.mu.Lock(); defer f.house.mu.Unlock(); return len(f.house.calls) == 1 })
		stopped := make(chan error, 1)
		go func() { stopped <- f.stop() }()
		close(f.house.slow)
		if err := <-stopped; err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithCancel(f.ctx)
		cancel() // it must be there by now
		if m, err := x.Message(ctx); err != nil || m.Content == "" {
			t.Errorf("after Run returned: %q, %v; want the answer to have been sent", m.Content, err)
		}
		f.until(t, "the connection to be closed", func() bool { return f.Connected() == 0 })
	})
}
