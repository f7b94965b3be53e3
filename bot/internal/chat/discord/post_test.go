package discord_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"sync"
	"testing"
	"time"
	"unicode/utf8"

	"pgregory.net/rapid"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/chat/chattest"
	"tarebell/bot/internal/chat/discord"
	"tarebell/bot/internal/chat/discord/discordtest"
)

// poster is a bot that is not connected: posting needs no connection.
func poster(t *testing.T, p *discordtest.Platform) *discord.Channel {
	t.Helper()
	bot, err := discord.New(options(t, p))
	if err != nil {
		t.Fatal(err)
	}
	return bot
}

// asksFor reports whether an error asks for just that pause.
func asksFor(err error, want time.Duration, wantAll bool) bool {
	after, all := chat.Pause(err)
	return after == want && all == wantAll
}

const posting = "POST /channels/{}/messages"

var hello = chat.Message{ID: "n1", Headline: "Hello."}

func TestPostErrors(t *testing.T) {
	t.Parallel()
	type fault = discordtest.Fault
	tests := []struct {
		rule      string
		fault     fault
		set       func(*discordtest.Platform)
		permanent bool
		after     time.Duration // 0: no such error
		text      string
		stored    int
		requests  int // default 1
	}{
		{rule: "429", fault: fault{Status: 429, RetryAfter: 1500 * time.Millisecond}, after: 1500 * time.Millisecond, text: "asks for a pause of 1.5s"},
		{rule: "429 as a web page", fault: fault{Status: 429, Page: true}, after: 10 * time.Minute, text: "asks for a pause of 10m0s"},
		{rule: "429 that doesn't say how long", fault: fault{Status: 429}, after: time.Second, text: "asks for a pause of 1s"},
		{rule: "403 from something in front", fault: fault{Status: 403, Page: true}, text: "something on the way refuses the request"},
		{rule: "500", fault: fault{Status: 500}, text: "HTTP 500"},
		{rule: "502", fault: fault{Status: 502}, text: "HTTP 502"},
		{rule: "503 as a web page", fault: fault{Status: 503, Page: true}, text: "HTTP 503"},
		{rule: "500 although stored", fault: fault{Status: 500, Stored: true}, text: "HTTP 500", stored: 1},
		{rule: "cut before", fault: fault{Cut: true}, text: "posting to the channel: "},
		{rule: "cut after", fault: fault{Cut: true, Stored: true}, text: "posting to the channel: ", stored: 1},
		{rule: "try later", fault: fault{Status: 400, Code: 130000}, text: "code 130000"},
		{rule: "form refused", fault: fault{Status: 400, Code: 50035}, permanent: true, text: "please report it"},
		{rule: "token revoked", set: (*discordtest.Platform).Revoke, permanent: true, text: "token is not accepted; copy a new one"},
		{rule: "channel deleted", set: (*discordtest.Platform).DeleteChannel, permanent: true, text: "there is no such channel"},
		{rule: "channel hidden", set: func(p *discordtest.Platform) { p.Deny(discordtest.View) }, permanent: true, text: "the bot can't see the channel"},
		{rule: "no permission for plain text", fault: fault{Status: 403, Code: 50013}, permanent: true, text: "lacks a permission"},
	}
	for _, tt := range tests {
		t.Run(tt.rule, func(t *testing.T) {
			t.Parallel()
			inBubble(t, func(t *testing.T) {
				p := platform(t)
				if tt.set != nil {
					tt.set(p)
				} else {
					tt.fault.Match = posting
					p.Fail(tt.fault)
				}
				_, err := poster(t, p).Post(timeout(t), hello)
				if err == nil || !strings.Contains(err.Error(), tt.text) || strings.Contains(err.Error(), p.Token) {
					t.Fatalf("error %v; want one that says %q", err, tt.text)
				}
				if got := errors.Is(err, chat.ErrPermanent); got != tt.permanent {
					t.Errorf("%v: permanent %v; want %v", err, got, tt.permanent)
				}
				if after, _ := chat.Pause(err); after != tt.after {
					t.Errorf("%v: a pause of %v; want %v", err, after, tt.after)
				}
				if n := len(p.Requests()); n != max(tt.requests, 1) {
					t.Errorf("%d requests; trying again is the outbox's business", n)
				}
				if n := len(p.Messages()); n != tt.stored {
					t.Errorf("%d messages stored; want %d", n, tt.stored)
				}
			})
		})
	}
}

// A platform that says nothing costs no more time than the caller gives.
func TestPostToASilentPlatform(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		p := platform(t)
		p.Fail(discordtest.Fault{Match: posting, Hang: true})
		ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
		defer cancel()
		if _, err := poster(t, p).Post(ctx, hello); !errors.Is(err, context.DeadlineExceeded) || errors.Is(err, chat.ErrPermanent) {
			t.Errorf("error %v; want the deadline's, worth trying again", err)
		}
	})
}

// The client library would sleep until the limit is renewed, whatever the context says.
func TestLimitUsedUpIsSaidBeforeSending(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		p := platform(t)
		p.BucketLimit, p.BucketWindow = 2, time.Minute
		bot := poster(t, p)
		for i := range 2 {
			if _, err := bot.Post(timeout(t), chat.Message{Headline: fmt.Sprint(i)}); err != nil {
				t.Fatal(err)
			}
		}
		_, err := bot.Post(timeout(t), hello)
		if after, _ := chat.Pause(err); after < 30*time.Second || after > time.Minute {
			t.Errorf("error %v; want to wait for the rest of the minute", err)
		}
		if n := len(p.Requests()); n != 2 {
			t.Errorf("%d requests; want the third not to be sent", n)
		}
	})
}

func TestSameNoticeOnce(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		p := platform(t)
		p.Fail(discordtest.Fault{Match: posting, Cut: true, Stored: true})
		if _, err := poster(t, p).Post(timeout(t), hello); err == nil {
			t.Fatal("no error")
		}
		again := poster(t, p) // as after a restart
		id, err := again.Post(timeout(t), hello)
		if err != nil {
			t.Fatal(err)
		}
		if all := p.Posted(); len(all) != 1 || all[0].ID != id {
			t.Errorf("%d messages, the second try returned %s; want one and its id", len(all), id)
		}
		where, found, err := again.Find(timeout(t), hello.ID, time.Now().Add(-time.Hour))
		if where != id || !found || err != nil {
			t.Errorf("Find: %q, %v, %v; want %q", where, found, err, id)
		}
	})
}

// Later than the nonce is kept only looking helps.
func TestFindLooksThroughWhatWasPosted(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		p := platform(t)
		bot, ctx := poster(t, p), timeout(t)
		anna := p.Join("Anna")
		began := time.Now()
		want, err := bot.Post(ctx, hello)
		if err != nil {
			t.Fatal(err)
		}
		for i := range 250 {
			p.Types(anna, fmt.Sprint("line ", i, "\nNo. n2"))
		}
		last, err := bot.Post(ctx, chat.Message{ID: "n3", Headline: "Last."})
		if err != nil {
			t.Fatal(err)
		}
		for id, where := range map[string]string{"n1": want, "n2": "", "n3": last, "n": "", "": ""} {
			got, found, err := bot.Find(ctx, id, began)
			if got != where || found != (where != "") || err != nil {
				t.Errorf("Find %q: %q, %v, %v; want %q", id, got, found, err, where)
			}
		}
		if _, found, _ := bot.Find(ctx, "n1", time.Now().Add(10*time.Minute)); found {
			t.Error("found although posted earlier")
		}
		p.Fail(discordtest.Fault{Match: "GET /channels/{}/messages", Status: 500})
		if _, _, err := bot.Find(ctx, "n1", began); err == nil {
			t.Error("a look that failed must not say: not there")
		}
	})
}

func TestEdit(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		p := platform(t)
		bot, ctx := poster(t, p), timeout(t)
		id, err := bot.Post(ctx, due)
		if err != nil {
			t.Fatal(err)
		}
		if err := bot.Edit(ctx, id, chat.Message{ID: due.ID, Headline: "Booked for Tue 23 Jun.", Private: true}); err != nil {
			t.Fatal(err)
		}
		m := p.Posted()[0]
		if m.Text() != "Booked for Tue 23 Jun.\n-# No. "+due.ID || len(m.Buttons()) > 0 || len(m.Files) > 0 || m.Edits != 1 {
			t.Errorf("reads %q with %d buttons, %d files after %d edits", m.Text(), len(m.Buttons()), len(m.Files), m.Edits)
		}
		if err := bot.Edit(ctx, id, due); err != nil || len(p.Posted()[0].Files) != 2 {
			t.Errorf("with files again: %v, %d files", err, len(p.Posted()[0].Files))
		}
		p.Fail(discordtest.Fault{Match: "PATCH /channels/{}/messages/{}", Status: 429, Code: 30046, RetryAfter: time.Minute})
		if err := bot.Edit(ctx, id, due); !errors.Is(err, chat.ErrPermanent) || !asksFor(err, 0, false) || !strings.Contains(err.Error(), "no more changes") {
			t.Errorf("changed too often: %v", err)
		}
		for _, where := range []string{"123", "elsewhere/../x", ""} {
			if err := bot.Edit(ctx, where, due); !errors.Is(err, chat.ErrPermanent) {
				t.Errorf("editing %q: %v", where, err)
			}
		}
	})
}

// A notice must come through even where the bot may post nothing but text.
func TestWithoutPermissionForFilesAndEmbeds(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		p := platform(t)
		p.Deny(discordtest.AttachFiles | discordtest.EmbedLinks)
		bot, ctx := poster(t, p), timeout(t)
		for _, m := range []chat.Message{due, {ID: "long", Headline: "Long.", Body: []string{strings.Repeat("words ", 1000)}, Files: []chat.File{png}}} {
			if _, err := bot.Post(ctx, m); err != nil {
				t.Fatal(err)
			}
			got := p.Posted()[len(p.Posted())-1]
			if len(got.Files) > 0 || len(got.Embeds) > 0 || !strings.HasSuffix(got.Content, "\n-# No. "+m.ID) {
				t.Errorf("posted %q", got.Content)
			}
			if _, found, err := bot.Find(ctx, m.ID, time.Now().Add(-time.Minute)); !found || err != nil {
				t.Errorf("%s is not found again: %v", m.ID, err)
			}
		}
		if got := p.Posted()[0]; !strings.HasPrefix(got.Content, "**Book the refill by Tue 23 Jun.**\nAbout 12 days of gas are left.\n") || len(got.Buttons()) != 2 {
			t.Errorf("posted %q with %d buttons", got.Content, len(got.Buttons()))
		}
	})
}

func TestFilesTooLarge(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		p := platform(t)
		m := chat.Message{ID: "n", Headline: "Chart.", Files: []chat.File{{Name: "huge.png", Type: "image/png", Data: make([]byte, 10<<20+1)}, png}}
		if _, err := poster(t, p).Post(timeout(t), m); err != nil {
			t.Fatal(err)
		}
		got := p.Posted()[0]
		if len(got.Files) != 1 || !strings.Contains(got.Text(), "(huge.png is too large to send.)") {
			t.Errorf("%d files, %q", len(got.Files), got.Text())
		}
	})
}

func TestNumberTooLong(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		p := platform(t)
		if _, err := poster(t, p).Post(timeout(t), chat.Message{ID: strings.Repeat("x", 26), Headline: "x"}); !errors.Is(err, chat.ErrPermanent) || len(p.Requests()) > 0 {
			t.Errorf("error %v after %d requests", err, len(p.Requests()))
		}
	})
}

// Whatever the texts, the platform takes the message: its stand-in holds the documented limits.
func TestAnyMessageKeepsTheLimits(t *testing.T) {
	t.Parallel()
	p := platform(t)
	p.BucketLimit, p.GlobalLimit = 1<<20, 1<<20
	bot, ctx := poster(t, p), timeout(t)
	text := rapid.OneOf(
		rapid.StringN(0, 40, -1),
		rapid.Map(rapid.IntRange(0, 9000), func(n int) string { return strings.Repeat("long words and 61.4 kg; ", n/24+1)[:n] }),
		rapid.Map(rapid.IntRange(0, 7000), func(n int) string { return strings.Repeat("*", n) }),
		rapid.Map(rapid.IntRange(0, 3000), func(n int) string { return strings.Repeat("e\u0301👩‍👩‍👧", n/8) }),
		rapid.SampledFrom([]string{"@everyone", "<@1>", "||x||", "\x00\u202e", "```", " ", "\n\n"}),
	)
	rapid.Check(t, func(t *rapid.T) {
		m := chat.Message{ID: rapid.StringN(0, 25, 25).Draw(t, "id"), Headline: text.Draw(t, "headline"), Body: rapid.SliceOfN(text, 0, 5).Draw(t, "body"),
			Severity: chat.Severity(rapid.IntRange(0, 2).Draw(t, "severity")), Private: rapid.Bool().Draw(t, "private")}
		for i := range rapid.IntRange(0, 30).Draw(t, "buttons") {
			m.Buttons = append(m.Buttons, chat.Button{ID: fmt.Sprint("b", i), Label: "x" + text.Draw(t, "label")})
		}
		if rapid.Bool().Draw(t, "picture") {
			m.Files = []chat.File{png}
		}
		_, err := bot.Post(ctx, m)
		if err != nil && !strings.Contains(err.Error(), "empty message") {
			t.Fatalf("%v", err)
		}
	})
	for _, m := range p.Posted() {
		if !utf8.ValidString(m.Content) || len(m.Pinged) > 0 || m.Everyone {
			t.Errorf("%q pinged %v", m.Content, m.Pinged)
		}
	}
}

// The token never shows, whatever fails.
func TestTokenNeverShows(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		p := platform(t)
		var mu sync.Mutex
		var log strings.Builder
		o := options(t, p)
		o.Log = slog.New(slog.NewTextHandler(writer(func(b []byte) { mu.Lock(); log.Write(b); mu.Unlock() }), &slog.HandlerOptions{Level: slog.LevelDebug}))
		bot, err := discord.New(o)
		if err != nil {
			t.Fatal(err)
		}
		f := &flat{Platform: p, bot: bot, house: &house{}, ctx: timeout(t)}
		f.anna = p.Join("Anna")
		p.NextLogins(discordtest.Refuse(4008, "Rate limited."), discordtest.DropFirst)
		f.run(t)
		f.ready(t, 1)
		kinds := []discordtest.Fault{{Status: 401}, {Status: 403, Code: 50013}, {Status: 500}, {Status: 502}, {Status: 429, Page: true}, {Cut: true}, {Status: 400, Code: 50035}}
		for _, k := range kinds {
			p.Fail(k)
			_, err := bot.Post(f.ctx, hello)
			mu.Lock()
			fmt.Fprintf(&log, "%v %+v %#v\n", err, err, err)
			mu.Unlock()
		}
		for range 3 {
			p.Fail(discordtest.Fault{Match: "POST /interactions", Cut: true, Times: 2})
			f.message(t, f.Calls(f.anna, "help"))
		}
		_, bad := discord.New(discord.Options{Token: "secret token", Channel: "x"})
		if err := f.stop(); err != nil {
			t.Fatal(err)
		}
		mu.Lock()
		defer mu.Unlock()
		fmt.Fprintf(&log, "%+v", bad)
		for _, secret := range []string{p.Token, "stand-in-secret", "aW50ZXJhY3Rpb246", "secret token"} {
			if strings.Contains(log.String(), secret) {
				t.Errorf("%q shows in\n%s", secret, log.String())
			}
		}
		if !strings.Contains(log.String(), "msg=") {
			t.Error("nothing was logged; this test sees nothing")
		}
	})
}

type writer func([]byte)

func (w writer) Write(b []byte) (int, error) { w(b); return len(b), nil }

// When the channel can't be reached, whoever set the bot up is told.
func TestTellOwner(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		p := platform(t)
		p.DeleteChannel()
		bot := poster(t, p)
		m := chat.Message{Headline: "I can't post to the channel any more.", Body: []string{"There is no such channel."}, Notify: []string{p.Owner}, Buttons: []chat.Button{{ID: "x", Label: "X"}}}
		if err := bot.TellOwner(timeout(t), m); err != nil {
			t.Fatal(err)
		}
		if told := p.Told(); len(told) != 1 || told[0].Content != "**I can't post to the channel any more.**\nThere is no such channel." || len(told[0].Components) > 0 {
			t.Errorf("told %+v", told)
		}
		p.Fail(discordtest.Fault{Match: "POST /users/@me/channels", Status: 403, Code: 50007})
		if err := bot.TellOwner(timeout(t), m); !errors.Is(err, chat.ErrPermanent) {
			t.Errorf("error %v; want a permanent one", err)
		}
	})
}

func TestAsEveryChannel(t *testing.T) {
	t.Parallel()
	chattest.Exercise(t, func(t *testing.T) chat.Channel { return poster(t, platform(t)) })
}
