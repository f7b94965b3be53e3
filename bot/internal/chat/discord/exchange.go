package discord

import (
	"context"
	"fmt"
	"net/http"
	"sync"
	"time"

	"github.com/bwmarrin/discordgo"

	"tarebell/bot/internal/backoff"
	"tarebell/bot/internal/chat"
)

// exchange is one interaction and what we say to it. The platform wants to hear something within three
// seconds; when the handler has not finished by then, the interaction is told to wait, which settles in which
// form the answer can come.
type exchange struct {
	c       *Channel
	i       interaction
	arrived time.Time
	timer   *time.Timer

	mu       sync.Mutex // held while something is being sent
	deferred bool
	settled  bool
}

// callback is the body of the first reaction.
type callback struct {
	Type discordgo.InteractionResponseType `json:"type"`
	Data any                               `json:"data,omitempty"`
}

// onMessage says whether the interaction belongs to a message with buttons, which then can be changed.
func (x *exchange) onMessage() bool { return len(x.i.Message) > 0 && string(x.i.Message) != "null" }

// deferAnswer runs when the handler takes long.
func (x *exchange) deferAnswer() {
	x.mu.Lock()
	defer x.mu.Unlock()
	if x.settled || x.deferred {
		return
	}
	typ := discordgo.InteractionResponseDeferredChannelMessageWithSource
	if x.onMessage() {
		typ = discordgo.InteractionResponseDeferredMessageUpdate
	}
	if err := x.respond(context.Background(), callback{Type: typ}, nil); err != nil {
		x.c.log.Warn("an interaction was not told to wait", "err", err)
		return
	}
	x.deferred = true
}

// answer sends what the handler said, without keeping the next thing waiting.
func (x *exchange) answer(ctx context.Context, a chat.Answer) {
	x.timer.Stop()
	ctx = context.WithoutCancel(ctx) // what was accepted is acknowledged, even while shutting down
	x.c.background(func() {
		x.mu.Lock()
		defer x.mu.Unlock()
		if x.settled {
			return
		}
		x.settled = true
		ctx, cancel := context.WithTimeout(ctx, 5*answerWithin)
		defer cancel()
		react := x.answerNow
		if x.deferred {
			react = x.answerLate
		}
		if err := react(ctx, a); err != nil {
			x.postInstead(ctx, a, err)
		}
	})
}

// answerNow answers an interaction that nobody has reacted to yet.
func (x *exchange) answerNow(ctx context.Context, a chat.Answer) error {
	switch {
	case a.Form != nil:
		return x.respond(ctx, callback{Type: discordgo.InteractionResponseModal, Data: modal(*a.Form)}, nil)
	case a.Replace && x.onMessage():
		none := payload{Components: &[]discordgo.MessageComponent{}}
		if err := x.respond(ctx, callback{Type: discordgo.InteractionResponseUpdateMessage, Data: none}, nil); err != nil || a.Message == nil {
			return err
		}
		return x.followUp(ctx, *a.Message)
	case a.Message != nil:
		l := render(*a.Message)
		return x.respond(ctx, callback{Type: discordgo.InteractionResponseChannelMessageWithSource, Data: l.payload}, l.files)
	case x.onMessage():
		return x.respond(ctx, callback{Type: discordgo.InteractionResponseDeferredMessageUpdate}, nil)
	}
	l := render(*privately("Done.").Message)
	return x.respond(ctx, callback{Type: discordgo.InteractionResponseChannelMessageWithSource, Data: l.payload}, nil)
}

// answerLate answers an interaction that was told to wait.
func (x *exchange) answerLate(ctx context.Context, a chat.Answer) error {
	if a.Form != nil {
		a = privately("That took me too long for the form to open. Please try once more.")
	}
	if x.onMessage() {
		if a.Replace {
			if err := x.editOriginal(ctx, wire{payload: payload{Components: &[]discordgo.MessageComponent{}}}); err != nil {
				return err
			}
		}
		if a.Message == nil {
			return nil
		}
		return x.followUp(ctx, *a.Message)
	}
	switch {
	case a.Message == nil:
		return x.deleteOriginal(ctx)
	case a.Message.Private: // the waiting sign was for all to see and can't be made private
		if err := x.deleteOriginal(ctx); err != nil {
			return err
		}
		return x.followUp(ctx, *a.Message)
	}
	l := render(*a.Message)
	l.Flags = 0
	return x.editOriginal(ctx, l)
}

// respond sends the first reaction. When it is not known whether an attempt arrived, it is repeated while there
// is time; that it was answered already then means that it had arrived. A pause that the platform asks for is cut short
// by the end of that time: the limits of a bot are not those of its interactions (Discord documentation: rate limits).
func (x *exchange) respond(ctx context.Context, body callback, files []chat.File) error {
	left := answerWithin - time.Since(x.arrived)
	ctx, cancel := context.WithTimeout(ctx, max(left, time.Millisecond))
	defer cancel()
	again, q := false, call{doing: "answering", method: http.MethodPost, url: discordgo.EndpointInteractionResponse(x.i.ID, x.i.Token), free: true, body: body, files: files}
	return retry{tries: 5, gaps: backoff.Gaps{First: 100 * time.Millisecond, Most: answerWithin}}.do(ctx, func() error {
		err := x.c.rest.do(ctx, q)
		if again && code(err) == discordgo.ErrCodeInteractionHasAlreadyBeenAcknowledged {
			return nil
		}
		again = true
		if pause, _ := chat.Pause(err); pause > left/4 {
			err = fmt.Errorf("%s", err) // too long to be obeyed
		}
		return err
	})
}

// followUp is a message after the first reaction. There is no nonce for it, so that one for all is repeated only when it
// certainly was not taken; a private one may come twice.
func (x *exchange) followUp(ctx context.Context, m chat.Message) error {
	l := render(m)
	to := discordgo.EndpointWebhookToken(x.i.App, x.i.Token)
	return x.retry(ctx, call{doing: "answering", method: http.MethodPost, url: to, body: l.payload, files: l.files}, m.Private)
}

func (x *exchange) editOriginal(ctx context.Context, l wire) error {
	to := discordgo.EndpointWebhookMessage(x.i.App, x.i.Token, "@original")
	return x.retry(ctx, call{doing: "answering", method: http.MethodPatch, url: to, body: l.payload, files: l.files}, true)
}

func (x *exchange) deleteOriginal(ctx context.Context) error {
	to := discordgo.EndpointWebhookMessage(x.i.App, x.i.Token, "@original")
	return x.retry(ctx, call{doing: "answering", method: http.MethodDelete, url: to}, true)
}

// retry makes a request up to four times; harmless says that doing it twice does no harm.
func (x *exchange) retry(ctx context.Context, q call, harmless bool) error {
	q.free = true
	r := retry{tries: 4, gaps: backoff.Gaps{First: time.Second, Most: answerWithin}}
	if !harmless {
		r.worth = asksForPause
	}
	return r.do(ctx, func() error { return x.c.rest.do(ctx, q) })
}

// postInstead posts an answer to the channel that could not be given where it belongs, unless it is private.
func (x *exchange) postInstead(ctx context.Context, a chat.Answer, why error) {
	x.c.log.Warn("an interaction could not be answered", "err", why)
	if a.Message == nil || a.Message.Private || a.Form != nil {
		return
	}
	m := *a.Message
	m.ID = "i" + x.i.ID
	if name := member(x.i.Member, nil).Name; name != "" {
		m.Headline = name + ": " + m.Headline
	}
	x.c.deliver(context.WithoutCancel(ctx), m)
}
