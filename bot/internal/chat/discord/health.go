package discord

import (
	"fmt"
	"maps"
	"slices"
	"time"
)

// Health says how the connection is.
type Health struct {
	Connected  bool
	Since      time.Time // when it came to be so
	Reconnects int       // connections made after the first
	Registered bool      // the commands are known to the platform
	CaughtUp   bool      // what was typed while nobody listened has been read
	Err        string    // why it is not connected, or else the first of Troubles
	Next       time.Time // when the next attempt is made, while not connected
	Troubles   []string  // what does not work although it is connected, each with what would help
	Unread     int       // messages that could not be read, since the start
	Undecided  int       // messages that wait until it is known whether their authors may write
}

// OK says whether everything works.
func (h Health) OK() bool { return h.Connected && h.Registered && h.CaughtUp && len(h.Troubles) == 0 }

// The troubles that there may be while connected.
const (
	troubleCommands = "registering the commands"
	troubleHistory  = "reading what was typed meanwhile"
	troubleRoles    = "asking for a member's roles"
	troubleEmbeds   = "the channel shows no embeds from the bot; give it the permission Embed Links, or the pictures of notices stay unseen"
	troubleFiles    = "the channel takes no files from the bot; give it the permission Attach Files, or the pictures of notices stay unseen"
)

// Health returns how the connection is.
func (c *Channel) Health() Health {
	c.mu.Lock()
	defer c.mu.Unlock()
	h := c.health
	h.Undecided = len(c.undecided())
	h.CaughtUp = c.caught
	h.Troubles = slices.Sorted(maps.Values(c.troubles))
	if h.Err == "" && len(h.Troubles) > 0 {
		h.Err = h.Troubles[0]
	}
	return h
}

// noteTrouble notes that something does not work, or with nil that it works again. It is logged once.
func (c *Channel) noteTrouble(what string, err error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if err == nil {
		if c.troubles[what] != "" {
			c.log.Info("works again", "what", what)
		}
		delete(c.troubles, what)
		return
	}
	if c.troubles[what] != err.Error() {
		c.log.Warn("something does not work", "what", what, "err", err)
	}
	c.troubles[what] = err.Error()
}

// unread notes that a message could not be read.
func (c *Channel) unread(id string, err error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.health.Unread++
	if c.health.Unread == 1 {
		c.log.Warn("a message of the channel cannot be read and is passed over; further ones are only counted", "id", id, "err", fmt.Sprint(err))
	}
}
