package discord_test

import (
	"cmp"
	"context"
	"errors"
	"log/slog"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"tarebell/bot/internal/backoff"
	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/chat/discord"
	"tarebell/bot/internal/chat/discord/discordtest"
)

// house is a handler that answers in a recognisable way and remembers what it was told.
type house struct {
	mu      sync.Mutex
	said    []chat.Said
	calls   []chat.Call
	presses []chat.Press
	slow    chan struct{} // when set, "slow…" commands and presses wait for it
	wide    string        // added to suggestions
}

func (h *house) Say(_ context.Context, s chat.Said) chat.Answer {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.said = append(h.said, s)
	switch {
	case s.Text == "boom":
		panic("a fault in the handler")
	case !strings.HasSuffix(s.Text, "kg"):
		return chat.Answer{}
	}
	return chat.Answer{Message: &chat.Message{Headline: "Understood: " + s.Text + " gross.", Body: []string{"By " + s.By.Name + "."}, Buttons: []chat.Button{{ID: "undo:1", Label: "Undo"}}}}
}

func (h *house) Call(_ context.Context, c chat.Call) chat.Answer {
	h.mu.Lock()
	h.calls = append(h.calls, c)
	slow := h.slow
	h.mu.Unlock()
	switch c.Name {
	case "boom":
		panic("a fault in the handler")
	case "slow", "slow-private", "slow-form", "slow-nothing":
		<-slow
	}
	switch c.Name {
	case "slow-form":
		return chat.Answer{Form: &form}
	case "nothing", "slow-nothing":
		return chat.Answer{}
	case "help", "slow-private":
		return chat.Answer{Message: &chat.Message{Headline: "This can be said here.", Private: true}}
	case "weigh":
		return chat.Answer{Message: &chat.Message{Headline: "Understood: " + c.Options["weight"] + " gross.", Buttons: []chat.Button{{ID: "undo:2", Label: "Undo"}}}}
	case "plan":
		return chat.Answer{Form: &form}
	case "chart":
		return chat.Answer{Message: &chat.Message{Headline: "Gas left.", Files: []chat.File{png}}}
	}
	return chat.Answer{Message: &chat.Message{Headline: "6.4 kg of gas are left, good for 740 litres.", Body: []string{"At your way of drinking until about 9 October."}}}
}

func (h *house) Press(_ context.Context, p chat.Press) chat.Answer {
	h.mu.Lock()
	h.presses = append(h.presses, p)
	slow := h.slow
	h.mu.Unlock()
	switch {
	case strings.HasPrefix(p.Button, "slow"):
		<-slow
		return chat.Answer{Replace: true, Message: &chat.Message{Headline: "Done at last."}}
	case p.Button == "booked" && p.Fields == nil:
		return chat.Answer{Form: &form}
	case p.Button == "booked":
		return chat.Answer{Replace: true, Message: &chat.Message{Headline: "Booked for " + p.Fields["date"] + "."}}
	case p.Button == "silent":
		return chat.Answer{}
	case p.Button == "private":
		return chat.Answer{Message: &chat.Message{Headline: "Only you see this.", Private: true}}
	}
	return chat.Answer{Replace: true, Message: &chat.Message{Headline: "Undone."}}
}

func (h *house) Suggest(_ context.Context, c chat.Call, option string) []chat.Choice {
	return []chat.Choice{{Label: "main (" + option + " " + c.Options[option] + ")" + h.wide, Value: "main"}, {Label: "spare", Value: "spare"}}
}

func (h *house) heard() []string {
	h.mu.Lock()
	defer h.mu.Unlock()
	var all []string
	for _, s := range h.said {
		all = append(all, s.By.Name+": "+s.Text)
	}
	return all
}

// forget drops what was heard.
func (h *house) forget() {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.said = nil
}

var (
	form = chat.Form{ID: "booked", Title: "Refill booked", Fields: []chat.Field{
		{Name: "date", Label: "Which day does it come?", Example: "2026-06-20", Required: true},
		{Name: "note", Label: "Anything to add", Value: "ring twice"},
	}}
	png   = chat.File{Name: "gas left.png", Type: "image/png", Data: []byte("\x89PNG\r\n\x1a\n"), Alt: "gas left since April, falling to 6.4 kg"}
	specs = []chat.Spec{
		{Name: "weigh", Summary: "Enter a weighing", Options: []chat.Option{
			{Name: "cylinder", Summary: "which cylinder", Suggest: true},
			{Name: "weight", Summary: "what the scale says", Required: true}}},
		{Name: "made", Summary: "Drinks made", Options: []chat.Option{
			{Name: "count", Summary: "how many", Kind: chat.Number, Required: true},
			{Name: "by", Summary: "who made them", Kind: chat.Person}}},
		{Name: "valve", Summary: "The valve", Options: []chat.Option{
			{Name: "state", Summary: "open or closed", Required: true, Choices: []chat.Choice{{Label: "open", Value: "open"}, {Label: "closed", Value: "closed"}}}}},
		{Name: "gas", Summary: "How much is left"},
		{Name: "help", Summary: "What can be said"},
	}
)

// flat is a platform with a bot on it and some people.
type flat struct {
	*discordtest.Platform
	bot       *discord.Channel
	house     *house
	ctx       context.Context
	anna, ben discordtest.Member
	stop      func() error // ends Run and returns its error
}

// inBubble runs a test in a time of its own: nothing waits for the real clock.
func inBubble(t *testing.T, test func(t *testing.T)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		time.Sleep(time.Until(time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC))) // ids count from 2015
		t.Cleanup(func() { time.Sleep(5 * time.Minute) })                    // until the goroutines end that sleep in the client library
		test(t)
	})
}

// platform starts a platform whose requests are checked.
func platform(t testing.TB) *discordtest.Platform {
	t.Helper()
	p := discordtest.Inside(t)
	p.MessageContent = true
	p.Inspect = noted.note
	return p
}

// options are those of a bot on p. Its network connections end with the test.
func options(t testing.TB, p *discordtest.Platform) discord.Options {
	t.Helper()
	tr := p.Net.Transport()
	t.Cleanup(func() { tr.(interface{ CloseIdleConnections() }).CloseIdleConnections() })
	return discord.Options{Token: p.Token, Channel: p.Channel, ReadMessages: true, Commands: specs, Transport: tr, Dial: p.Net.Dial, Log: slog.New(slog.DiscardHandler)}
}

// timeout is a context for waiting, in the time of the test.
func timeout(t testing.TB) context.Context {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 48*time.Hour)
	t.Cleanup(cancel)
	return ctx
}

// moveIn connects a bot; changes act on the options before.
func moveIn(t testing.TB, p *discordtest.Platform, changes ...func(*discord.Options)) *flat {
	t.Helper()
	o := options(t, p)
	for _, c := range changes {
		c(&o)
	}
	bot, err := discord.New(o)
	if err != nil {
		t.Fatal(err)
	}
	f := &flat{Platform: p, bot: bot, house: &house{}, ctx: timeout(t)}
	bot.AnswerThrough(postAgain(t, bot))
	f.anna, f.ben = p.Join("Anna", p.Role), p.Join("Ben")
	f.run(t)
	f.ready(t, 1)
	return f
}

// postAgain keeps answers as an outbox does: it posts each until that works or cannot, while the test runs.
func postAgain(t testing.TB, bot *discord.Channel) func(context.Context, chat.Message) error {
	ctx := t.Context()
	return func(_ context.Context, m chat.Message) error {
		go func() {
			for _, err := bot.Post(ctx, m); err != nil && !errors.Is(err, chat.ErrPermanent); _, err = bot.Post(ctx, m) {
				pause, _ := chat.Pause(err)
				if !backoff.Pause(ctx, cmp.Or(pause, time.Second)) {
					return
				}
			}
		}()
		return nil
	}
}

// run starts Run; the test ends it.
func (f *flat) run(t testing.TB) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- f.bot.Run(ctx, f.house) }()
	var once sync.Once
	var err error
	f.stop = func() error {
		once.Do(func() {
			cancel()
			select {
			case err = <-done:
			case <-time.After(time.Minute):
				err = errors.New("Run does not end")
			}
		})
		return err
	}
	t.Cleanup(func() {
		if err := f.stop(); err != nil {
			t.Errorf("Run: %v; want nil when its context ends", err)
		}
	})
}

// ready waits until the bot is connected for the nth time and its commands are registered.
func (f *flat) ready(t testing.TB, n int) {
	t.Helper()
	if err := f.WaitStats(f.ctx, "a login", func(s discordtest.Stats) bool { return s.Readies >= n }); err != nil {
		t.Fatal(err, f.bot.Health())
	}
	f.until(t, "commands", func() bool { h := f.bot.Health(); return h.Connected && h.Registered })
}

// until asks again and again, giving way in between; for what makes no sound when it happens.
func (f *flat) until(t testing.TB, what string, is func() bool) {
	t.Helper()
	tick := time.NewTicker(50 * time.Millisecond)
	defer tick.Stop()
	for !is() {
		select {
		case <-tick.C:
		case <-f.ctx.Done():
			t.Fatalf("waiting for %s: %v; health %+v", what, f.ctx.Err(), f.bot.Health())
		}
	}
}

// answerTo is the bot's reply to a member's message.
func (f *flat) answerTo(t testing.TB, m discordtest.Message) discordtest.Message {
	t.Helper()
	got, err := f.WaitMessage(f.ctx, "a reply", func(r discordtest.Message) bool { return r.ReplyTo == m.ID })
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// message is the answer to an interaction.
func (f *flat) message(t testing.TB, x *discordtest.Interaction) discordtest.Message {
	t.Helper()
	m, err := x.Message(f.ctx)
	if err != nil {
		t.Fatal(err)
	}
	return m
}
