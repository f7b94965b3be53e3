package discord

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"

	"github.com/bwmarrin/discordgo"
	"github.com/gorilla/websocket"

	"tarebell/bot/internal/chat"
)

// explain turns an error of a request into one that says what was being done, whether trying
// again can help, and what to change. It never holds the request, which carries the token, nor an address,
// which may carry an interaction's.
func explain(doing string, err error) error {
	var e *chat.Refusal
	var u *url.Error
	switch {
	case err == nil:
		return nil
	case errors.As(err, &e) && e.After > 0:
		return fmt.Errorf("%s: the platform asks for a pause of %v: %w", doing, e.After, e)
	case e != nil:
		return classify(doing, e)
	case errors.As(err, &u):
		err = u.Err
	}
	return fmt.Errorf("%s: %w", doing, err)
}

// classify says which refusals are for good, and what would help.
func classify(doing string, e *chat.Refusal) error {
	permanent := func(remedy string) error {
		return fmt.Errorf("%s: %w (%w): %s", doing, chat.ErrPermanent, e, remedy)
	}
	forbidden := func(remedy string) error { return fmt.Errorf("%w: %w", chat.ErrForbidden, permanent(remedy)) }
	switch {
	case e.Page:
		return fmt.Errorf("%s: %w: not the platform's own answer; something on the way refuses the request", doing, e)
	case e.Status == http.StatusUnauthorized:
		return forbidden(renewToken)
	}
	switch e.Code {
	case discordgo.ErrCodeUnknownChannel:
		return permanent("there is no such channel; check chat.discord.channel (right-click the channel, Copy Channel ID)")
	case discordgo.ErrCodeMissingAccess:
		return forbidden("the bot can't see the channel; invite it to the server and let it see the channel (View Channel)")
	case discordgo.ErrCodeMissingPermissions:
		return forbidden("the bot lacks a permission in the channel; it needs View Channel, Send Messages (in a thread: Send Messages in Threads), Embed Links, Attach Files and Read Message History")
	case discordgo.ErrCodeCannotSendMessagesInVoiceChannel:
		return permanent("messages can't stand in such a channel; " + kindsThatWork)
	case discordgo.ErrCodePerformedOperationOnArchivedThread, discordgo.ErrCodeThreadIsLocked:
		return permanent("the thread is closed; open it again, and unlock it, or let it never be archived")
	case discordgo.ErrCodeUnknownMessage:
		return permanent("the message is no longer there")
	case codeChangedTooOften:
		return permanent("the platform takes no more changes of that message")
	case discordgo.ErrCodeCannotSendMessagesToThisUser:
		return permanent("they take no direct messages from the bot")
	case discordgo.ErrCodeAPIResourceIsCurrentlyOverloaded:
	default:
		if e.Status >= 400 && e.Status < 500 {
			return permanent("the platform does not take this as it is; that is a fault of this program, please report it")
		}
	}
	return fmt.Errorf("%s: %w", doing, e)
}

// codeChangedTooOften is of a message older than an hour, and comes with status 429.
const codeChangedTooOften = discordgo.ErrCodeMaximumNumberOfEditsToMessagesOlderThanOneHourReached

// code is the platform's code of a refusal, 0 of any other error.
func code(err error) int {
	var e *chat.Refusal
	if errors.As(err, &e) {
		return e.Code
	}
	return 0
}

const renewToken = "the bot's token is not accepted; copy a new one from the developer portal (Bot, Reset Token)"

// remedies say what to change, by the code with which the platform closes a connection for good (Discord
// documentation: opcodes and status codes, gateway close event codes).
var remedies = map[int]string{
	4004: renewToken,
	4010: "the platform refuses the shard; that is a fault of this program, please report it",
	4011: "the bot is in so many servers that it needs sharding, which this program doesn't do",
	4012: "the platform no longer speaks this version of its protocol; a newer release of this program is needed",
	4013: "the platform refuses the intents; that is a fault of this program, please report it",
	4014: "the bot asks to read messages but isn't allowed to; switch on Message Content Intent in the developer portal (Bot, Privileged Gateway Intents), or set chat.discord.free_text to false",
}

// loginRefused turns an error of logging in into one that says what to do about it.
func loginRefused(err error) error {
	var closed *websocket.CloseError
	if !errors.As(err, &closed) {
		return explain("logging in", err)
	}
	text := fmt.Sprintf("logging in: the platform closed the connection (%d %s)", closed.Code, closed.Text)
	if remedy, final := remedies[closed.Code]; final {
		return &chat.Refusal{Final: true, Message: text + ": " + remedy}
	}
	return errors.New(text)
}
