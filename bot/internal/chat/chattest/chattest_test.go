package chattest_test

import (
	"context"
	"errors"
	"testing"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/chat/chattest"
)

func TestChannel(t *testing.T) {
	chattest.Exercise(t, func(*testing.T) chat.Channel { return chattest.New() })
}

type echo struct{}

func (echo) Say(_ context.Context, s chat.Said) chat.Answer {
	return chat.Answer{Message: &chat.Message{Headline: s.Text, Buttons: []chat.Button{{ID: "undo", Label: "Undo"}}}}
}
func (echo) Call(context.Context, chat.Call) chat.Answer              { return chat.Answer{} }
func (echo) Press(context.Context, chat.Press) chat.Answer            { return chat.Answer{Replace: true} }
func (echo) Suggest(context.Context, chat.Call, string) []chat.Choice { return nil }

func TestFailures(t *testing.T) {
	c := chattest.New()
	before, after := errors.New("before"), errors.New("after")
	c.FailBefore(before)
	c.FailAfter(after)
	if _, err := c.Post(t.Context(), chat.Message{ID: "n"}); !errors.Is(err, before) || len(c.Posts()) != 0 {
		t.Errorf("%v, %d posts", err, len(c.Posts()))
	}
	if _, err := c.Post(t.Context(), chat.Message{ID: "n"}); !errors.Is(err, after) || len(c.Posts()) != 1 {
		t.Errorf("%v, %d posts; want it stored", err, len(c.Posts()))
	}
	if _, err := c.Post(t.Context(), chat.Message{ID: "n"}); err != nil || len(c.Notices()) != 1 || c.Tries() != 3 {
		t.Errorf("%v, %d notices after %d tries", err, len(c.Notices()), c.Tries())
	}
}

func TestMembers(t *testing.T) {
	c := chattest.New()
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	defer cancel()
	done := make(chan error, 1)
	go func() { done <- c.Run(ctx, echo{}) }()
	<-c.Running()
	go c.Says(ctx, chat.Member{ID: "1", Name: "Anna"}, "61 kg")
	if _, err := c.Wait(ctx, func(p chattest.Posted) bool { return p.Answer && p.Text() == "61 kg" && p.To.Name == "Anna" }); err != nil {
		t.Fatal(err)
	}
	c.Presses(ctx, chat.Member{ID: "2"}, "undo")
	if last, _ := c.Last(); len(last.Message.Buttons) > 0 {
		t.Error("the buttons are still there")
	}
	cancel()
	if err := <-done; err != nil {
		t.Error(err)
	}
}
