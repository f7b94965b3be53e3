//go:build race

package discord_test

import (
	"fmt"

	"tarebell/bot/internal/chat/discord/discordtest"
)

// racing says that the race detector makes everything many times slower: fewer repetitions, no times judged.
const racing = true

// checker checks nothing under the race detector: compiling the validator for it takes minutes, and the same
// requests are checked without it.
type checker struct{}

func (*checker) note(discordtest.Request) {}

func checked() bool {
	fmt.Println("requests not checked against Discord's description: race detector")
	return true
}
