package command

import (
	"errors"
	"slices"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/live"
	"tarebell/bot/internal/store"
)

// Problem is a mistake that the person who made it can mend. Its text is shown to them.
type Problem struct{ Said, Mend string }

func (p *Problem) Error() string { return p.Said }

// errStale is the answer to a button that cannot be read any more.
var errStale = &Problem{"That button is from another time.", "Say /help for what there is now."}

// longestEcho bounds how much of what somebody typed is said back.
const longestEcho = 300

// explain turns a mistake into words for the person and a cause for the log.
func (h *Handler) explain(err error) chat.Answer {
	var p *Problem
	switch {
	case errors.As(err, &p):
		return privately(say(shorten(p.Said, longestEcho), shorten(p.Mend, longestEcho)))
	case errors.Is(err, live.ErrVoided):
		return say("That was undone already.")
	case errors.Is(err, store.ErrNotFound):
		return say("That entry is not there any more.")
	}
	h.opt.Log.Error("answering", "err", err)
	if errors.Is(err, store.ErrReplaced) {
		return say("That was not noted: the file with everything noted so far was removed or replaced while the bot was running.",
			"Nothing is noted until the right file is in its place and the bot has been started again.")
	}
	return say("That could not be stored, so it does not count.", "The log of the bot says why. Please try again in a while.")
}

// say is an answer of plain lines; empty ones are left out.
func say(headline string, body ...string) chat.Answer {
	return chat.Answer{Message: &chat.Message{Headline: headline, Body: slices.DeleteFunc(slices.Clone(body), func(l string) bool { return l == "" })}}
}

func privately(a chat.Answer) chat.Answer {
	a.Message.Private = true
	return a
}

// withButtons is an answer with buttons.
func withButtons(a chat.Answer, buttons ...chat.Button) chat.Answer {
	a.Message.Buttons = append(a.Message.Buttons, buttons...)
	return a
}

func button(what, arg, label string) chat.Button {
	return chat.Button{ID: what + ":" + arg, Label: label}
}

// leaveButton is the last button under a question.
func leaveButton(label string) chat.Button { return button("leave", "", label) }

func shorten(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n-1]) + "…"
	}
	return s
}
