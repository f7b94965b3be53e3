package discord

import (
	"fmt"
	"log/slog"
	"strings"
	"sync"

	"github.com/bwmarrin/discordgo"

	"tarebell/bot/internal/chat"
)

// The client library logs through one function for the whole process. Ours hands its lines to the logger of
// the newest channel, without any token.
var library struct {
	mu      sync.Mutex
	log     *slog.Logger
	secrets map[string]bool
}

func init() { discordgo.Logger = fromLibrary }

func listen(log *slog.Logger, secret string) {
	library.mu.Lock()
	defer library.mu.Unlock()
	if library.secrets == nil {
		library.secrets = map[string]bool{}
	}
	library.log = log
	library.secrets[secret] = true
}

func fromLibrary(level, _ int, format string, args ...any) {
	library.mu.Lock()
	defer library.mu.Unlock()
	if library.log == nil {
		return
	}
	text := chat.OneLine(fmt.Sprintf(format, args...))
	for s := range library.secrets {
		text = strings.ReplaceAll(text, s, "<secret>")
	}
	if level <= discordgo.LogError {
		library.log.Warn("discordgo: " + cut(text, 500))
	} else {
		library.log.Debug("discordgo: " + cut(text, 500))
	}
}
