package discord

import (
	"errors"
	"fmt"

	"github.com/gorilla/websocket"

	"tarebell/bot/internal/chat"
)

// final is an error after which connecting again is pointless until somebody changes something.
type final struct{ error }

func (f final) Unwrap() error        { return f.error }
func (f final) Is(target error) bool { return target == chat.ErrPermanent }

func isFinal(err error) bool {
	var f final
	return errors.As(err, &f)
}

// remedies say what to change, by the code with which the platform closes a connection for good (Discord
// documentation: opcodes and status codes, gateway close event codes).
var remedies = map[int]string{
	4004: "the bot's token is not accepted; copy a new one from the developer portal (Bot, Reset Token)",
	4010: "the platform refuses the shard; that is a fault of this program, please report it",
	4011: "the bot is in so many servers that it needs sharding, which this program doesn't do",
	4012: "the platform no longer speaks this version of its protocol; a newer release of this program is needed",
	4013: "the platform refuses the intents; that is a fault of this program, please report it",
	4014: "the bot asks to read messages but isn't allowed to; switch on Message Content Intent in the developer portal (Bot, Privileged Gateway Intents), or set chat.discord.free_text to false",
}

// refusal turns an error of logging in into one that says what to do about it.
func refusal(err error) error {
	var closed *websocket.CloseError
	if errors.As(err, &closed) {
		if remedy, ok := remedies[closed.Code]; ok {
			return final{fmt.Errorf("logging in: the platform closed the connection (%d %s): %s", closed.Code, closed.Text, remedy)}
		}
		return fmt.Errorf("logging in: the platform closed the connection (%d %s)", closed.Code, closed.Text)
	}
	return explain("logging in", err)
}
