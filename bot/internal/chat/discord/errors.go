package discord

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"

	"tarebell/bot/internal/chat"
)

// Codes of the platform's errors that are told apart (Discord documentation: opcodes and status codes).
const (
	codeUnknownChannel     = 10003
	codeUnknownMessage     = 10008
	codeUnknownMember      = 10007
	codeUnknownUser        = 10013
	codeUnknownInteraction = 10062
	codeChangedTooOften    = 30046 // a message older than an hour; comes with status 429
	codeAnswered           = 40060
	codeNoAccess           = 50001
	codeEmptyMessage       = 50006
	codeNoPermission       = 50013
	codeNoDirect           = 50007
	codeNotText            = 50008
	codeForm               = 50035
	codeArchived           = 50083
	codeLocked             = 160005
	codeOverloaded         = 130000
	codeNoReplies          = 160002 // to messages, without the permission to read their history
)

// Refused is the platform's answer to a request that it did not carry out.
type Refused struct {
	Status  int    // of HTTP
	Code    int    // the platform's own, 0 if it gave none
	Message string // the platform's words
	page    bool   // it was no answer of the platform's own API, but a web page of something on the way
}

func (e *Refused) Error() string {
	if e.Code != 0 {
		return fmt.Sprintf("HTTP %d, code %d: %s", e.Status, e.Code, e.Message)
	}
	return fmt.Sprintf("HTTP %d: %s", e.Status, e.Message)
}

// explain turns an error of a request into one that says what was being done, whether trying
// again can help, and what to change. It never holds the request, which carries the token, nor an address,
// which may carry an interaction's.
func explain(doing string, err error) error {
	if err == nil {
		return nil
	}
	var wait *chat.RetryAfter
	if errors.As(err, &wait) {
		return &chat.RetryAfter{After: wait.After, All: wait.All, Err: fmt.Errorf("%s: the platform asks for a pause of %v: %w", doing, wait.After, wait.Err)}
	}
	var e *Refused
	if errors.As(err, &e) {
		return classify(doing, e)
	}
	var u *url.Error
	if errors.As(err, &u) {
		return fmt.Errorf("%s: %w", doing, u.Err)
	}
	return fmt.Errorf("%s: %w", doing, err)
}

// classify says which refusals are for good, and what would help.
func classify(doing string, e *Refused) error {
	permanent := func(remedy string) error {
		return fmt.Errorf("%s: %w (%w): %s", doing, chat.ErrPermanent, e, remedy)
	}
	forbidden := func(remedy string) error { return fmt.Errorf("%w: %w", chat.ErrForbidden, permanent(remedy)) }
	switch {
	case e.page:
		return fmt.Errorf("%s: %w: not the platform's own answer; something on the way refuses the request", doing, e)
	case e.Status == http.StatusUnauthorized:
		return forbidden("the bot's token is not accepted; copy a new one from the developer portal (Bot, Reset Token)")
	case e.Code == codeUnknownChannel:
		return permanent("there is no such channel; check chat.discord.channel (right-click the channel, Copy Channel ID)")
	case e.Code == codeNoAccess:
		return forbidden("the bot can't see the channel; invite it to the server and let it see the channel (View Channel)")
	case e.Code == codeNoPermission:
		return forbidden("the bot lacks a permission in the channel; it needs View Channel, Send Messages (in a thread: Send Messages in Threads), Embed Links, Attach Files and Read Message History")
	case e.Code == codeNotText:
		return permanent("messages can't stand in such a channel; " + kindsThatWork)
	case e.Code == codeArchived || e.Code == codeLocked:
		return permanent("the thread is closed; open it again, and unlock it, or let it never be archived")
	case e.Code == codeUnknownMessage:
		return permanent("the message is no longer there")
	case e.Code == codeChangedTooOften:
		return permanent("the platform takes no more changes of that message")
	case e.Code == codeNoDirect:
		return permanent("they take no direct messages from the bot")
	case e.Code == codeOverloaded:
		return fmt.Errorf("%s: %w", doing, e)
	case e.Status >= 400 && e.Status < 500:
		return permanent("the platform does not take this as it is; that is a fault of this program, please report it")
	}
	return fmt.Errorf("%s: %w", doing, e)
}

// code is the platform's code of a refusal, 0 of any other error.
func code(err error) int {
	var e *Refused
	if errors.As(err, &e) {
		return e.Code
	}
	return 0
}
