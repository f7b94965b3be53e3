// Package discord is a group channel on Discord, by way of discordgo. It owns what is peculiar to that
// platform: its limits, its markup, its three seconds for an answer, its ways of failing. Everything that
// happens in the channel goes through one queue, so that the handler is called one at a time.
package discord

import (
	"context"
	"encoding/base64"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/bwmarrin/discordgo"

	"tarebell/bot/internal/backoff"
	"tarebell/bot/internal/chat"
)

// Options of a Channel. Token and Channel are required.
type Options struct {
	Token        string      // of the bot, without "Bot "
	Channel      string      // id of the channel
	Roles        []string    // ids of roles whose members may write; empty: everybody who can see the channel
	ReadMessages bool        // the message-content intent is switched on: weights may be typed without mentioning the bot
	Commands     []chat.Spec // registered with the server that the channel belongs to

	// LastSeen and SetLastSeen keep the id of the newest message that was handled, so that what was typed
	// while nobody listened is heard later. Nil: it is remembered while the program runs.
	LastSeen    func(context.Context) (string, error)
	SetLastSeen func(context.Context, string) error

	Log       *slog.Logger      // default: nothing is logged
	Transport http.RoundTripper // default http.DefaultTransport
	Dial      Dial              // for the gateway; default that of net.Dialer
}

// Dial makes a network connection.
type Dial func(ctx context.Context, network, addr string) (net.Conn, error)

const (
	loginGap     = 5 * time.Second         // from one login to the next, as the platform demands
	heldWell     = time.Minute             // a connection that held that long starts the gaps between connections afresh
	openWithin   = 15 * time.Second        // the longest wait for a connection to be ready
	silence      = 20 * time.Second        // a connection on which no heartbeat was answered that long is given up
	readAgain    = 10 * time.Minute        // how often the history is read again, for what was not heard
	deferAfter   = 1500 * time.Millisecond // after that an interaction is told to wait
	answerWithin = 3 * time.Second         // after that the platform forgets an interaction that nobody reacted to
)

// connectGaps are the pauses after a connection that could not be made or broke, as long as there are logins left.
var connectGaps = backoff.Gaps{First: time.Second, Most: 20 * time.Second}

// Channel is a chat.Channel on Discord.
type Channel struct {
	opt   Options
	log   *slog.Logger
	rest  *rest
	http  *http.Client
	queue *queue
	sends sync.WaitGroup // answers on their way

	handler chat.Handler // set by Run before anything is queued
	done    *ring        // ids of messages and interactions that were handled
	keep    func(context.Context, chat.Message) error

	mu       sync.Mutex // of what follows
	where    place
	health   Health
	troubles map[string]string
	ever     bool                 // there was a connection
	epoch    int                  // counts connections
	heard    []string             // ids of the messages that were heard last
	begin    string               // id of the last message before the first look at the channel, which is not for the bot
	newest   string               // id of the newest message of the history that was handled
	live     string               // id of the newest message that was heard as it was typed
	seen     string               // the mark: all up to it has been handled
	caught   bool                 // everything up to now has been read
	waiting  map[string][]waiting // by author, what happens when their roles are known
	searched map[string]string    // by notice, up to where it was looked for in vain
}

// place is what has to be known about the channel before listening to it.
type place struct {
	guild, app, self string // ids; self is the bot's own user
	newest           string // id of the last message at the time of asking
}

var _ chat.Channel = (*Channel)(nil)

// New prepares a channel; Run connects it. Post, Edit and Find work without Run.
func New(o Options) (*Channel, error) {
	o.Token = strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(o.Token), "Bot "))
	if err := o.check(); err != nil {
		return nil, err
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Transport == nil {
		o.Transport = http.DefaultTransport
	}
	if o.Dial == nil {
		o.Dial = (&net.Dialer{}).DialContext
	}
	limits := newLimits()
	client := &http.Client{Transport: guard{o.Transport, limits}, Timeout: 30 * time.Second}
	session, err := newSession(o.Token, client)
	if err != nil {
		return nil, err
	}
	listen(o.Log, o.Token)
	c := &Channel{opt: o, log: o.Log, rest: &rest{session, limits}, http: client, queue: newQueue(), done: newRing(4096),
		troubles: map[string]string{}, waiting: map[string][]waiting{}, searched: map[string]string{}}
	c.where.app, _ = AppID(o.Token)
	return c, nil
}

func (o Options) check() error {
	var errs []error
	if o.Token == "" || strings.ContainsAny(o.Token, " \t\r\n") {
		errs = append(errs, errors.New("the bot's token is empty or holds blanks; copy it from the developer portal (Bot, Reset Token)"))
	}
	if !isID(o.Channel) {
		errs = append(errs, fmt.Errorf("channel %q is not an id; it is a number such as 1100000000000000000 (right-click the channel, Copy Channel ID)", o.Channel))
	}
	for _, r := range o.Roles {
		if !isID(r) {
			errs = append(errs, fmt.Errorf("role %q is not an id; it is a number (Server Settings, Roles, Copy Role ID)", r))
		}
	}
	if _, err := commands(o.Commands); err != nil {
		errs = append(errs, err)
	}
	return errors.Join(errs...)
}

// Permissions that the bot asks for and needs (Discord documentation: permissions, bitwise flags).
const Permissions = discordgo.PermissionViewChannel | discordgo.PermissionSendMessages | discordgo.PermissionEmbedLinks |
	discordgo.PermissionAttachFiles | discordgo.PermissionReadMessageHistory

// InviteLink is the address at which somebody who may manage a server invites the bot into it, with no more
// permissions than it needs.
func InviteLink(app string) string {
	return "https://discord.com/oauth2/authorize?" + url.Values{
		"client_id":   {app},
		"scope":       {"bot applications.commands"},
		"permissions": {strconv.Itoa(Permissions)},
	}.Encode()
}

// AppID reads the application's id out of a token: the part before the first dot is the bot's user id in
// base64 (not documented by Discord; from memory), which is the application's for all but very old ones.
func AppID(token string) (string, bool) {
	first, _, ok := strings.Cut(strings.TrimPrefix(token, "Bot "), ".")
	b, err := base64.RawStdEncoding.DecodeString(strings.TrimRight(first, "="))
	if !ok || err != nil || !isID(string(b)) {
		return "", false
	}
	return string(b), true
}
