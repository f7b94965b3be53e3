//go:build !race

package discordtest_test

// A second client library on the stand-in. What it does to please one library it might do wrongly for all others, so
// here github.com/disgoorg/disgo, which shares nothing with discordgo but the websocket, goes through everything that
// the bot uses. Where it disagrees, Discord's documentation decides. Not under the race detector, which finds races
// of that library's own between its heartbeats and its closing.

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/disgoorg/disgo/discord"
	"github.com/disgoorg/disgo/gateway"
	"github.com/disgoorg/disgo/rest"
	"github.com/disgoorg/snowflake/v2"

	"tarebell/bot/internal/chat/discord/discordtest"
)

// second is a bot made with the other library.
type second struct {
	*discordtest.Platform
	ctx           context.Context
	gateway       gateway.Gateway
	rest          rest.Rest
	events        chan gateway.EventData
	closed        chan error
	app, guild, c snowflake.ID // c: the channel
}

// open starts a platform that shows the bot what is typed.
func open(t *testing.T) *discordtest.Platform {
	p := discordtest.New(t)
	p.MessageContent = true
	return p
}

// client is the REST side of a bot.
func client(t *testing.T, p *discordtest.Platform) *second {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
	t.Cleanup(cancel)
	s := &second{Platform: p, ctx: ctx, events: make(chan gateway.EventData, 100), closed: make(chan error, 1),
		app: snowflake.MustParse(p.App), guild: snowflake.MustParse(p.Guild), c: snowflake.MustParse(p.Channel)}
	// Close would wait for every bucket in turn and then keep it locked, so only the connections are closed.
	transport := &http.Transport{}
	t.Cleanup(transport.CloseIdleConnections)
	s.rest = rest.New(rest.NewClient(p.Token, rest.WithURL(p.URL+"/api/v10"), rest.WithHTTPClient(&http.Client{Transport: transport}),
		rest.WithLogger(quiet), rest.WithRateLimiterConfigOpts(rest.WithRateLimiterLogger(quiet))))
	return s
}

var quiet = slog.New(slog.DiscardHandler)

// join logs a bot in, and returns when READY has come.
func join(t *testing.T, p *discordtest.Platform) *second {
	t.Helper()
	s := client(t, p)
	s.connect(t, gateway.IntentGuilds|gateway.IntentGuildMessages|gateway.IntentMessageContent)
	next[gateway.EventReady](t, s)
	return s
}

// connect opens the gateway at the address that the platform names, and logs in.
func (s *second) connect(t *testing.T, intents gateway.Intents) {
	t.Helper()
	at, err := s.rest.GetGatewayBot()
	if err != nil {
		t.Fatal(err)
	}
	if at.Shards != 1 || at.SessionStartLimit.Total != 1000 || at.SessionStartLimit.MaxConcurrency != 1 {
		t.Errorf("gateway %+v", at)
	}
	s.dial(t, at.URL, intents)
}

// dial opens the gateway at url.
func (s *second) dial(t *testing.T, url string, intents gateway.Intents) {
	t.Helper()
	s.gateway = gateway.New(s.Token, func(_ gateway.EventType, _, _ int, e gateway.EventData) { s.events <- e },
		func(_ gateway.Gateway, err error) { s.closed <- err }, gateway.WithURL(url), gateway.WithLogger(quiet), gateway.WithIntents(intents),
		gateway.WithRateLimiterConfigOpts(gateway.WithRateLimiterLogger(quiet)))
	if err := s.gateway.Open(s.ctx); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.gateway.Close(context.WithoutCancel(s.ctx)) })
}

// next waits for the next event of a kind.
func next[E gateway.EventData](t *testing.T, s *second) (e E) {
	t.Helper()
	for {
		select {
		case got := <-s.events:
			if e, ok := got.(E); ok {
				return e
			}
		case err := <-s.closed:
			t.Fatalf("closed for good while waiting for %T: %v", e, err)
		case <-s.ctx.Done():
			t.Fatalf("waiting for %T: %v", e, s.ctx.Err())
		}
	}
}

// refused checks with which code the platform refused a request.
func refused(t *testing.T, err error, code rest.JSONErrorCode) {
	t.Helper()
	var e rest.Error
	if !errors.As(err, &e) || e.Code != code {
		t.Errorf("error %v; want code %d", err, code)
	}
}

func TestSecondLogin(t *testing.T) {
	t.Parallel()
	p := open(t)
	s := client(t, p)
	s.connect(t, gateway.IntentGuilds)
	r := next[gateway.EventReady](t, s)
	if r.Version != gateway.Version || r.User.ID != s.app || !r.User.Bot || r.Application.ID != s.app || r.SessionID == "" || len(r.Guilds) != 1 || r.Guilds[0].ID != s.guild {
		t.Errorf("READY %+v", r)
	}
	g := next[gateway.EventGuildCreate](t, s)
	if g.ID != s.guild || g.Unavailable || len(g.Channels) != 1 || g.Channels[0].ID() != s.c {
		t.Errorf("GUILD_CREATE %+v", g)
	}
	for i := range 3 {
		p.AskHeartbeat()
		next[gateway.EventHeartbeatAck](t, s)
		if st := p.Stats(); st.Identifies != 1 || st.Heartbeats != i+1 {
			t.Errorf("%+v after %d heartbeats", st, i+1)
		}
	}
}

func TestSecondIsRefused(t *testing.T) {
	t.Parallel()
	for code, tt := range map[string]struct {
		intents gateway.Intents
		spoil   func(*discordtest.Platform)
	}{
		"4014": {gateway.IntentMessageContent, func(p *discordtest.Platform) { p.MessageContent = false }},
		"4013": {1 << 40, func(*discordtest.Platform) {}},
		"4004": {gateway.IntentGuilds, (*discordtest.Platform).Revoke},
		"4010": {gateway.IntentGuilds, func(p *discordtest.Platform) { p.NextLogins(discordtest.Refuse(4010, "Invalid shard.")) }},
	} {
		t.Run(code, func(t *testing.T) {
			t.Parallel()
			p := open(t)
			s := client(t, p)
			at, err := s.rest.GetGateway()
			if err != nil {
				t.Fatal(err)
			}
			tt.spoil(p)
			s.dial(t, at.URL, tt.intents)
			select {
			case err := <-s.closed:
				if !strings.Contains(err.Error(), code) {
					t.Errorf("closed with %v; want %s", err, code)
				}
			case <-s.ctx.Done():
				t.Fatal(s.ctx.Err())
			}
			if st := p.Stats(); st.Identifies != 1 || st.Readies != 0 {
				t.Errorf("%+v; want one login, refused", st)
			}
		})
	}
}

func TestSecondWithoutToken(t *testing.T) {
	t.Parallel()
	p := open(t)
	s := client(t, p)
	p.Revoke()
	_, err := s.rest.GetGatewayBot()
	var e rest.Error
	if !errors.As(err, &e) || e.Response.StatusCode != http.StatusUnauthorized {
		t.Errorf("error %v; want 401", err)
	}
}

// Each way to lose a connection ends in a resumed or a new session, and nothing that may be resumed is missed.
func TestSecondReconnects(t *testing.T) {
	t.Parallel()
	for what, tt := range map[string]struct {
		lose    func(*discordtest.Platform)
		resumed bool
	}{
		"reset":       {(*discordtest.Platform).CutAll, true},
		"op 7":        {(*discordtest.Platform).Reconnect, true},
		"op 9":        {(*discordtest.Platform).Invalidate, false},
		"closed 4000": {func(p *discordtest.Platform) { p.CloseAll(4000, "Unknown error.") }, true},
		"closed 4007": {func(p *discordtest.Platform) { p.CloseAll(4007, "Invalid seq.") }, false},
		"closed 4009": {func(p *discordtest.Platform) { p.CloseAll(4009, "Session timed out.") }, false},
	} {
		t.Run(what, func(t *testing.T) {
			t.Parallel()
			p := open(t)
			s := join(t, p)
			anna := p.Join("Anna")
			p.Types(anna, "before")
			heard(t, s, "before")
			tt.lose(p)
			if tt.resumed {
				p.Types(anna, "meanwhile")
				heard(t, s, "meanwhile")
			} else {
				next[gateway.EventReady](t, s)
			}
			p.Types(anna, "after")
			heard(t, s, "after")
			if st := p.Stats(); (st.Identifies == 1) != tt.resumed || tt.resumed && st.Resumes != 1 {
				t.Errorf("%+v; resumed should be %v", st, tt.resumed)
			}
		})
	}
}

func heard(t *testing.T, s *second, text string) gateway.EventMessageCreate {
	t.Helper()
	m := next[gateway.EventMessageCreate](t, s)
	if m.Content != text {
		t.Errorf("heard %q; want %q", m.Content, text)
	}
	return m
}

func TestSecondHears(t *testing.T) {
	t.Parallel()
	p := open(t)
	s := join(t, p)
	anna := p.Join("Anna", p.Role)
	said := p.Types(anna, "61.4 kg")
	m := heard(t, s, "61.4 kg")
	if m.ID.String() != said.ID || m.Author.ID.String() != anna.ID || m.Author.Username != "Anna" || m.Author.Bot || m.ChannelID != s.c || m.GuildID == nil || *m.GuildID != s.guild {
		t.Errorf("%+v", m.Message)
	}
	if m.Member == nil || len(m.Member.RoleIDs) != 1 || m.Member.RoleIDs[0].String() != p.Role {
		t.Errorf("member %+v", m.Member)
	}
	if d := m.CreatedAt.Sub(m.ID.Time()).Abs(); d > time.Second {
		t.Errorf("the message's time and that of its id are %v apart", d)
	}
	p.TypesReply(anna, "and <@"+p.App+">", said.ID)
	m = next[gateway.EventMessageCreate](t, s)
	if m.Type != discord.MessageTypeReply || m.MessageReference == nil || m.MessageReference.MessageID.String() != said.ID || len(m.Mentions) != 1 || m.Mentions[0].ID != s.app {
		t.Errorf("reply %+v", m.Message)
	}
}
