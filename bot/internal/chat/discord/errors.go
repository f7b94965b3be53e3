package discord

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/bwmarrin/discordgo"

	"tarebell/bot/internal/chat"
)

// Codes of the platform's errors that are told apart (Discord documentation: opcodes and status codes).
const (
	codeUnknownChannel     = 10003
	codeUnknownMessage     = 10008
	codeUnknownInteraction = 10062
	codeChangedTooOften    = 30046 // a message older than an hour; comes with status 429
	codeAnswered           = 40060
	codeNoAccess           = 50001
	codeEmptyMessage       = 50006
	codeNoPermission       = 50013
	codeNoDirect           = 50007
	codeOverloaded         = 130000
	codeNoReplies          = 160002 // to messages, without the permission to read their history
)

// Refused is the platform's answer to a request that it did not carry out.
type Refused struct {
	Status  int    // of HTTP
	Code    int    // the platform's own, 0 if it gave none
	Message string // the platform's words
}

func (e *Refused) Error() string {
	if e.Code != 0 {
		return fmt.Sprintf("HTTP %d, code %d: %s", e.Status, e.Code, e.Message)
	}
	return fmt.Sprintf("HTTP %d: %s", e.Status, e.Message)
}

// explain turns an error of the client library into one of ours: it says what was being done, whether trying
// again can help, and what to change. It never holds the request, which carries the token, nor an address,
// which may carry an interaction's.
func explain(doing string, err error) error {
	if err == nil {
		return nil
	}
	var limited *discordgo.RateLimitError
	if errors.As(err, &limited) && limited.RateLimit != nil && limited.TooManyRequests != nil {
		after := limited.RetryAfter
		if after <= 0 { // it does not say; not at once, in any case
			after = time.Second
		}
		return &chat.RetryAfter{After: after, Err: fmt.Errorf("%s: the platform asks for a pause of %v", doing, after)}
	}
	var wait *chat.RetryAfter
	if errors.As(err, &wait) {
		return &chat.RetryAfter{After: wait.After, Err: fmt.Errorf("%s: %w", doing, wait.Err)}
	}
	var rest *discordgo.RESTError
	if errors.As(err, &rest) && rest.Response != nil {
		return judge(doing, refused(rest))
	}
	var u *url.Error
	if errors.As(err, &u) {
		return fmt.Errorf("%s: %w", doing, u.Err)
	}
	if strings.HasPrefix(err.Error(), "Exceeded Max retries HTTP 502") { // the library's only error for a 502
		return fmt.Errorf("%s: %w", doing, &Refused{Status: http.StatusBadGateway, Message: "Bad Gateway"})
	}
	return fmt.Errorf("%s: %w", doing, err)
}

func refused(rest *discordgo.RESTError) *Refused {
	e := &Refused{Status: rest.Response.StatusCode}
	if rest.Message != nil && rest.Message.Message != "" {
		e.Code, e.Message = rest.Message.Code, rest.Message.Message
		if e.Code == 50035 { // which field is wrong stands only in the body
			e.Message = cut(chat.OneLine(string(rest.ResponseBody)), 500)
		}
		return e
	}
	e.Message = cut(chat.OneLine(string(rest.ResponseBody)), 200)
	if e.Message == "" {
		e.Message = http.StatusText(e.Status)
	}
	return e
}

// judge says which refusals are for good, and what would help.
func judge(doing string, e *Refused) error {
	permanent := func(remedy string) error {
		return fmt.Errorf("%s: %w (%w): %s", doing, chat.ErrPermanent, e, remedy)
	}
	switch {
	case e.Status == http.StatusUnauthorized:
		return permanent("the bot's token is not accepted; copy a new one from the developer portal (Bot, Reset Token)")
	case e.Code == codeUnknownChannel:
		return permanent("there is no such channel; check chat.discord.channel (right-click the channel, Copy Channel ID)")
	case e.Code == codeNoAccess:
		return permanent("the bot can't see the channel; invite it to the server and let it see the channel (View Channel)")
	case e.Code == codeNoPermission:
		return permanent("the bot lacks a permission in the channel; it needs View Channel, Send Messages, Embed Links, Attach Files and Read Message History")
	case e.Code == codeUnknownMessage:
		return permanent("the message is no longer there")
	case e.Code == codeChangedTooOften:
		return permanent("the platform takes no more changes of that message")
	case e.Code == codeNoDirect:
		return permanent("they take no direct messages from the bot")
	case e.Code == codeOverloaded:
		return fmt.Errorf("%s: %w", doing, e)
	case e.Status == http.StatusForbidden && e.Code == 0:
		return &chat.RetryAfter{After: blocked, Err: fmt.Errorf("%s: %w: something on the way refuses this machine's requests", doing, e)}
	case e.Status == http.StatusTooManyRequests:
		return &chat.RetryAfter{After: blocked, Err: fmt.Errorf("%s: %w", doing, e)}
	case e.Status >= 400 && e.Status < 500:
		return permanent("the platform does not take this as it is; that is a fault of this program, please report it")
	}
	return fmt.Errorf("%s: %w", doing, e)
}

// blocked is the pause after a refusal that does not come from the platform's own API.
const blocked = 10 * time.Minute

// code is the platform's code of a refusal, 0 of any other error.
func code(err error) int {
	var e *Refused
	if errors.As(err, &e) {
		return e.Code
	}
	return 0
}
