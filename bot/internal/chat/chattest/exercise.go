package chattest

import (
	"errors"
	"testing"
	"time"

	"tarebell/bot/internal/chat"
)

// Exercise holds what every chat.Channel must do, whatever is behind it: each adapter's tests call it with a
// way to open an empty channel that needs no Run for posting.
func Exercise(t *testing.T, open func(t *testing.T) chat.Channel) {
	t.Helper()
	notice := chat.Message{ID: "refill-2026-06-14", Headline: "Book the refill by Tue 23 Jun.", Severity: chat.Warning,
		Body:    []string{"About 12 days of gas are left."},
		Buttons: []chat.Button{{ID: "booked", Label: "Booked"}},
		Files:   []chat.File{{Name: "gas.png", Type: "image/png", Data: []byte("\x89PNG"), Alt: "gas left"}}}
	long := time.Now().Add(-time.Hour)

	t.Run("a notice is posted and found", func(t *testing.T) {
		c := open(t)
		where, err := c.Post(t.Context(), notice)
		if err != nil || where == "" {
			t.Fatalf("Post: %q, %v", where, err)
		}
		if got, ok, err := c.Find(t.Context(), notice.ID, long); got != where || !ok || err != nil {
			t.Errorf("Find: %q, %v, %v; want %q", got, ok, err, where)
		}
	})
	t.Run("the same notice again is the same message", func(t *testing.T) {
		c := open(t)
		first, err1 := c.Post(t.Context(), notice)
		second, err2 := c.Post(t.Context(), notice)
		if first != second || err1 != nil || err2 != nil {
			t.Errorf("posted as %q (%v), then as %q (%v)", first, err1, second, err2)
		}
	})
	t.Run("messages without a number are all different", func(t *testing.T) {
		c := open(t)
		a, err1 := c.Post(t.Context(), chat.Message{Headline: "Understood."})
		b, err2 := c.Post(t.Context(), chat.Message{Headline: "Understood."})
		if a == b || err1 != nil || err2 != nil {
			t.Errorf("posted as %q (%v) and %q (%v)", a, err1, b, err2)
		}
	})
	t.Run("what was not posted is not found", func(t *testing.T) {
		c := open(t)
		if _, err := c.Post(t.Context(), notice); err != nil {
			t.Fatal(err)
		}
		for _, id := range []string{"refill-2026-06-15", "refill-2026-06-1", ""} {
			if where, ok, err := c.Find(t.Context(), id, long); ok || err != nil {
				t.Errorf("Find %q: %q, %v, %v", id, where, ok, err)
			}
		}
	})
	t.Run("an edited notice is still found", func(t *testing.T) {
		c := open(t)
		where, err := c.Post(t.Context(), notice)
		if err != nil {
			t.Fatal(err)
		}
		if err := c.Edit(t.Context(), where, chat.Message{ID: notice.ID, Headline: "Booked."}); err != nil {
			t.Fatal(err)
		}
		if got, ok, err := c.Find(t.Context(), notice.ID, long); got != where || !ok || err != nil {
			t.Errorf("Find: %q, %v, %v; want %q", got, ok, err, where)
		}
	})
	t.Run("editing what is not there can't be mended", func(t *testing.T) {
		if err := open(t).Edit(t.Context(), "7", notice); !errors.Is(err, chat.ErrPermanent) {
			t.Errorf("Edit: %v; want a permanent error", err)
		}
	})
}
