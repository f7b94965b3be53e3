package discord_test

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/chat/discord"
	"tarebell/bot/internal/chat/discord/discordtest"
)

// fails runs a bot that can't get in, and returns the error.
func fails(t *testing.T, p *discordtest.Platform, changes ...func(*discord.Options)) error {
	t.Helper()
	o := options(t, p)
	for _, c := range changes {
		c(&o)
	}
	bot, err := discord.New(o)
	if err != nil {
		t.Fatal(err)
	}
	ctx := timeout(t)
	err = bot.Run(ctx, &house{})
	if ctx.Err() != nil {
		t.Fatal("Run goes on; want an error that says what to change")
	}
	if h := bot.Health(); h.Connected || h.Err == "" {
		t.Errorf("health %+v", h)
	}
	return err
}

func TestFinalRefusals(t *testing.T) {
	t.Parallel()
	tests := []struct {
		rule string
		set  func(*discordtest.Platform)
		want string
	}{
		{"wrong token at the gateway", func(p *discordtest.Platform) { p.NextLogins(discordtest.Refuse(4004, "Authentication failed.")) }, "(4004 Authentication failed.): the bot's token is not accepted"},
		{"sharding", func(p *discordtest.Platform) { p.NextLogins(discordtest.Refuse(4011, "Sharding required.")) }, "4011"},
		{"version", func(p *discordtest.Platform) { p.NextLogins(discordtest.Refuse(4012, "")) }, "newer release"},
		{"intents", func(p *discordtest.Platform) { p.NextLogins(discordtest.Refuse(4013, "")) }, "report it"},
		{"intent not switched on", func(p *discordtest.Platform) { p.MessageContent = false }, "(4014 Disallowed intent(s).): the bot asks to read messages but isn't allowed to; switch on Message Content Intent"},
		{"wrong token", (*discordtest.Platform).Revoke, "the bot's token is not accepted; copy a new one"},
		{"wrong channel", (*discordtest.Platform).DeleteChannel, "there is no such channel; check chat.discord.channel"},
		{"not invited", func(p *discordtest.Platform) { p.Deny(discordtest.View) }, "https://discord.com/oauth2/authorize?client_id="},
	}
	for _, tt := range tests {
		t.Run(tt.rule, func(t *testing.T) {
			t.Parallel()
			inBubble(t, func(t *testing.T) {
				p := platform(t)
				tt.set(p)
				err := fails(t, p)
				if err == nil || !strings.Contains(err.Error(), tt.want) || !errors.Is(err, chat.ErrPermanent) || strings.Contains(err.Error(), p.Token) {
					t.Errorf("error %v; want a permanent one that says %q", err, tt.want)
				}
				if s := p.Stats(); s.Identifies > 1 {
					t.Errorf("%d logins; want no second try", s.Identifies)
				}
			})
		})
	}
}

// Each way to lose a connection, and to be kept from a new one, ends in a new one.
func TestReconnecting(t *testing.T) {
	t.Parallel()
	type platform_ = *discordtest.Platform
	tests := []struct {
		rule string
		lose func(platform_)
		mend func(*testing.T, *flat)
	}{
		{rule: "reset", lose: platform_.CutAll},
		{rule: "op 7", lose: platform_.Reconnect},
		{rule: "op 9", lose: platform_.Invalidate},
		{rule: "closed 4000", lose: func(p platform_) { p.CloseAll(4000, "Unknown error.") }},
		{rule: "closed 4009", lose: func(p platform_) { p.CloseAll(4009, "Session timed out.") }},
		{rule: "closed 1001", lose: func(p platform_) { p.CloseAll(1001, "Going away.") }},
		{rule: "op 9 in place of READY", lose: func(p platform_) { p.NextLogins(discordtest.InvalidFirst); p.CutAll() }},
		{rule: "reset in place of READY", lose: func(p platform_) { p.NextLogins(discordtest.DropFirst, discordtest.DropFirst); p.CutAll() }},
		{rule: "closed 4008 in place of READY", lose: func(p platform_) { p.NextLogins(discordtest.Refuse(4008, "Rate limited.")); p.CutAll() }},
		{rule: "REST down meanwhile", lose: func(p platform_) {
			p.Fail(discordtest.Fault{Status: 503, Times: 4}, discordtest.Fault{Cut: true}, discordtest.Fault{Status: 429, RetryAfter: time.Millisecond}, discordtest.Fault{Match: "GET /gateway", Status: 502, Times: 2})
			p.CutAll()
		}},
		{rule: "the channel is hidden for a while", lose: func(p platform_) { p.Deny(discordtest.View); p.CutAll() }, mend: func(t *testing.T, f *flat) {
			f.until(t, "the reason", func() bool { return strings.Contains(f.bot.Health().Err, "the bot can't see the channel") })
			f.Grant(discordtest.View)
		}},
	}
	for _, tt := range tests {
		t.Run(tt.rule, func(t *testing.T) {
			t.Parallel()
			inBubble(t, func(t *testing.T) {
				f := moveIn(t, platform(t))
				f.answerTo(t, f.Types(f.anna, "61 kg"))
				tt.lose(f.Platform)
				if tt.mend != nil {
					tt.mend(t, f)
				}
				f.ready(t, 2)
				f.answerTo(t, f.Types(f.anna, "62 kg"))
				f.message(t, f.Calls(f.anna, "gas"))
				if d := cmp.Diff([]string{"Anna: 61 kg", "Anna: 62 kg"}, f.house.heard()); d != "" {
					t.Error(d)
				}
				if n := f.Connected(); n != 1 {
					t.Errorf("%d connections; want one", n)
				}
			})
		})
	}
}

// A session that is declared invalid ends its connection: the library would log in again at once. What was typed until
// the next login is heard, once, and the mark has not passed it.
func TestInvalidSession(t *testing.T) {
	strict(t, func(t *testing.T, s *stage) {
		s.start(t)
		s.connected(t)
		s.answerTo(t, s.Types(s.anna, "61 kg"))
		s.NextLogins(discordtest.InvalidFirst, discordtest.Meanwhile(func() { s.Types(s.anna, "62 kg") }))
		s.Invalidate()
		s.within(t, time.Minute, "a login", func() bool { return s.Stats().Readies == 2 })
		s.answerTo(t, s.Types(s.anna, "63 kg"))
		s.hears(t, time.Second, "Anna: 62 kg")
		if st := s.Stats(); len(s.house.heard()) != 3 || st.Identifies > 100 { // the library's own, until it is stopped: how soon that is depends on the machine; unstopped they are hundreds
			t.Errorf("heard %v, %+v; want the library's own logins to end", s.house.heard(), st)
		}
	})
}

// A connection over which nothing comes any more is given up, and another one made.
func TestSilentConnection(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		p := platform(t)
		p.Mute(true)
		f := moveIn(t, p)
		f.until(t, "the silence to be noticed", func() bool { return p.Stats().Readies > 1 })
		p.Mute(false)
		p.AskHeartbeat()
		f.answerTo(t, f.Types(f.anna, "61 kg"))
	})
}

func TestFewLoginsLeft(t *testing.T) {
	t.Parallel()
	p := platform(t)
	p.LoginsLeft = 3
	bot := poster(t, p)
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- bot.Run(ctx, &house{}) }()
	f := &flat{Platform: p, bot: bot, ctx: timeout(t)}
	f.until(t, "the reason to show", func() bool { return strings.Contains(bot.Health().Err, "only 3 of 1000 logins are left") })
	if n := p.Stats().Identifies; n != 0 {
		t.Errorf("%d logins; want none", n)
	}
	if next := time.Until(bot.Health().Next); next < 50*time.Minute {
		t.Errorf("tries again in %v; want when the logins are renewed", next)
	}
	cancel()
	if err := <-done; err != nil {
		t.Error(err)
	}
}

// What was typed while nobody listened is heard later, once, in order; by the next process too.
func TestCatchingUp(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		p := platform(t)
		var mu sync.Mutex
		seen := ""
		keep := func(o *discord.Options) {
			o.LastSeen = func(context.Context) (string, error) { mu.Lock(); defer mu.Unlock(); return seen, nil }
			o.SetLastSeen = func(_ context.Context, id string) error { mu.Lock(); defer mu.Unlock(); seen = id; return nil }
		}
		anna := p.Join("Anna", p.Role)
		p.Types(anna, "59 kg") // older than the bot: not for it
		f := moveIn(t, p, keep)
		f.answerTo(t, f.Types(anna, "60 kg"))
		p.NextLogins(discordtest.DropFirst, discordtest.DropFirst, discordtest.DropFirst)
		p.CutAll()
		var last discordtest.Message
		for i := range 130 { // more than a page
			p.Types(anna, "hm")
			last = p.Types(anna, fmt.Sprintf("%d kg", 100+i))
		}
		f.answerTo(t, last)
		if err := f.stop(); err != nil {
			t.Fatal(err)
		}
		away := p.Types(anna, "300 kg")
		restarted := moveIn(t, p, keep, func(o *discord.Options) { o.Roles = []string{p.Role} }) // roles must be asked for
		restarted.answerTo(t, away)
		end := restarted.Types(anna, "301 kg")
		restarted.answerTo(t, end)

		var want []string
		for _, h := range append(f.house.heard(), restarted.house.heard()...) {
			if strings.HasSuffix(h, "kg") {
				want = append(want, h)
			}
		}
		all := []string{"Anna: 60 kg"}
		for i := range 130 {
			all = append(all, fmt.Sprintf("Anna: %d kg", 100+i))
		}
		all = append(all, "Anna: 300 kg", "Anna: 301 kg")
		if d := cmp.Diff(all, want); d != "" {
			t.Error(d)
		}
		if err := restarted.stop(); err != nil || seen < end.ID {
			t.Errorf("%v, the mark is at %s; want it at %s", err, seen, end.ID)
		}
		replies := map[string]int{}
		for _, m := range p.Posted() {
			replies[m.ReplyTo]++
		}
		for id, n := range replies {
			if n != 1 {
				t.Errorf("message %s was answered %d times", id, n)
			}
		}
	})
}

// While older messages may be missing the mark stays, so that a crash does not lose them.
func TestMarkWaitsForCatchingUp(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		p := platform(t)
		var mu sync.Mutex
		var marks []string
		marked := func() []string { mu.Lock(); defer mu.Unlock(); return slices.Clone(marks) }
		missed := p.Types(p.Join("Anna"), "60 kg")
		p.Fail(discordtest.Fault{Match: "GET /channels/{}/messages", Status: 500, Times: 1 << 30}) // until it is mended
		o := options(t, p)
		o.LastSeen = func(context.Context) (string, error) { return "1", nil }
		o.SetLastSeen = func(_ context.Context, id string) error {
			mu.Lock()
			defer mu.Unlock()
			marks = append(marks, id)
			return nil
		}
		bot, err := discord.New(o)
		if err != nil {
			t.Fatal(err)
		}
		f := &flat{Platform: p, bot: bot, house: &house{}, ctx: timeout(t), ben: p.Join("Ben")}
		f.run(t)
		f.until(t, "a connection", func() bool { return bot.Health().Connected })
		f.answerTo(t, f.Types(f.ben, "61 kg"))
		live := f.Types(f.ben, "62 kg") // once it is answered the one before has been dealt with
		f.answerTo(t, live)
		if m := marked(); len(m) > 0 {
			t.Errorf("the mark moved to %v while an older message was missing", m)
		}
		p.Mend()
		f.answerTo(t, missed)
		f.until(t, "the mark", func() bool { m := marked(); return len(m) > 0 && m[len(m)-1] >= live.ID })
		if m := marked(); !slices.IsSorted(m) || len(f.house.heard()) != 3 {
			t.Errorf("marks %v, heard %v", m, f.house.heard())
		}
	})
}

// No goroutine outlives its connection. Those of the connection are counted by what stands on their stacks, since
// the HTTP client keeps idle connections of its own. The library sleeps for a second in every Close, so the count
// is taken after the last of those has ended.
func TestNoGoroutineLeak(t *testing.T) {
	inBubble(t, func(t *testing.T) {
		const n = 50
		p := platform(t)
		f := moveIn(t, p)
		f.answerTo(t, f.Types(f.anna, "60 kg"))
		p.LoginsLeft = 2000 // with few left the bot spaces its logins
		for i := range n {
			switch i { // the library takes a second to react to these two
			case 10:
				p.CloseAll(4000, "Unknown error.")
			case 20:
				p.Reconnect()
			default:
				p.CutAll()
			}
			if err := p.WaitStats(f.ctx, "the next login", func(s discordtest.Stats) bool { return s.Readies >= i+2 }); err != nil {
				t.Fatal(err)
			}
			f.until(t, "connection", func() bool { return f.bot.Health().Reconnects == i+1 })
		}
		f.answerTo(t, f.Types(f.anna, "61 kg"))
		time.Sleep(time.Minute)
		if library, ours := stacks("bwmarrin/discordgo."), stacks("chat/discord.("); len(library) > 2 || len(ours) > 6 {
			t.Errorf("%d goroutines of the library, %d of ours; want those of one connection", len(library), len(ours))
		}
		if err := f.stop(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Minute)
		if library, ours := stacks("bwmarrin/discordgo."), stacks("chat/discord.("); len(library)+len(ours) > 0 {
			t.Errorf("%d goroutines of the library, %d of ours are left", len(library), len(ours))
		}
	})
}

// stacks are the goroutines with text on their stack.
func stacks(text string) []string {
	b := make([]byte, 1<<20)
	for n := runtime.Stack(b, true); n == len(b); n = runtime.Stack(b, true) {
		b = make([]byte, 2*len(b))
	}
	var found []string
	for s := range strings.SplitSeq(strings.TrimRight(string(b), "\x00"), "\n\n") {
		if strings.Contains(s, text) {
			found = append(found, s)
		}
	}
	return found
}

// TestEndsBeforeItHasCaughtUp: what is typed after the bot was first there is for it, though its first process could not read the history.
func TestEndsBeforeItHasCaughtUp(t *testing.T) {
	t.Parallel()
	strict(t, func(t *testing.T, s *stage) {
		s.Types(s.anna, "59 kg") // older than the bot: not for it
		s.Fail(discordtest.Fault{Match: "GET /channels/{}/messages", Status: 500, Times: 1 << 30})
		s.start(t)
		s.connected(t)
		s.within(t, time.Minute, "the history is asked for", func() bool { return s.mark() != "" || s.bot.Health().Err != "" || len(s.bot.Health().Troubles) > 0 })
		if err := s.stop(); err != nil {
			t.Fatal(err)
		}
		s.Types(s.anna, "60 kg")
		s.Mend()
		s.start(t)
		s.hears(t, time.Minute, "Anna: 60 kg")
		if all := s.house.heard(); len(all) != 1 {
			t.Errorf("heard %q", all)
		}
	})
}
