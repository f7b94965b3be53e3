package outbox

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/chat/chattest"
	"tarebell/bot/internal/store"
	"tarebell/bot/internal/store/sqlite"
)

// bench is an Outbox at work, with a store and a channel to watch. It must be made inside a synctest bubble, where
// time stands still until everybody waits.
type bench struct {
	*testing.T
	store   *failing
	channel *chattest.Channel
	outbox  *Outbox
	log     bytes.Buffer
	failed  []string
	stop    func()
}

// failing is a store that can be told to fail at settling.
type failing struct {
	store.Store
	settle trouble
	claims atomic.Int64
}

// trouble is an error that a test switches on and off while others look at it.
type trouble struct{ now atomic.Pointer[error] }

func (t *trouble) begin(err error) { t.now.Store(&err) }
func (t *trouble) end()            { t.now.Store(nil) }

func (t *trouble) err() error {
	if e := t.now.Load(); e != nil {
		return *e
	}
	return nil
}

func (f *failing) Claim(ctx context.Context, now time.Time) (store.Outgoing, bool, error) {
	f.claims.Add(1)
	return f.Store.Claim(ctx, now)
}

func (f *failing) Settle(ctx context.Context, o store.Outgoing) error {
	if err := f.settle.err(); err != nil {
		return err
	}
	return f.Store.Settle(ctx, o)
}

// running starts an Outbox; change alters its options first.
func running(t *testing.T, change func(*Options)) *bench {
	s, err := sqlite.Open(filepath.Join(quickDir(t), "ledger.db"))
	if err != nil {
		t.Fatal(err)
	}
	b := &bench{T: t, store: &failing{Store: s}, channel: chattest.New()}
	o := Options{Store: b.store, Channel: b.channel, Log: slog.New(slog.NewTextHandler(&b.log, nil)),
		Failed: func(_ context.Context, o store.Outgoing, _ error) { b.failed = append(b.failed, o.Key) }}
	if change != nil {
		change(&o)
	}
	b.outbox = New(o)
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { defer close(done); b.outbox.Run(ctx) }()
	b.stop = func() { cancel(); <-done }
	t.Cleanup(func() {
		b.stop()
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	synctest.Wait()
	return b
}

// commit writes a notice and wakes the outbox, as the engine does, and waits until that has had its turn.
func (b *bench) commit(key string, change func(*store.Outgoing)) {
	b.Helper()
	payload, err := json.Marshal(chat.Message{Headline: key, Body: []string{"why"}})
	if err != nil {
		b.Fatal(err)
	}
	o := store.Outgoing{Key: key, Created: time.Now(), Payload: payload}
	if change != nil {
		change(&o)
	}
	if _, err := b.store.Write(context.Background(), store.Batch{Outgoing: []store.Outgoing{o}}); err != nil {
		b.Fatal(err)
	}
	b.outbox.Wake()
	synctest.Wait()
}

// pass lets time go by.
func (b *bench) pass(d time.Duration) {
	time.Sleep(d) // the bubble's clock: no real time passes
	synctest.Wait()
}

// posts is what stands in the channel.
func (b *bench) posts(want ...string) {
	b.Helper()
	var got []string
	for _, p := range b.channel.Notices() {
		got = append(got, p.Message.Headline)
	}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		b.Errorf("in the channel: %q, want %q", got, want)
	}
}

func (b *bench) state(key string, want store.State) store.Outgoing {
	b.Helper()
	o, err := b.store.Outgoing(context.Background(), key)
	if err != nil || o.State != want {
		b.Errorf("%q is %q (%v), want %q", key, o.State, err, want)
	}
	return o
}

func urgent(o *store.Outgoing) { o.Urgent = true }

func in(group string) func(*store.Outgoing) { return func(o *store.Outgoing) { o.Group = group } }

func test(t *testing.T, change func(*Options), f func(b *bench)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) { f(running(t, change)) })
}

func TestPostsAtOnce(t *testing.T) {
	test(t, nil, func(b *bench) {
		b.commit("a", nil)
		b.posts("a")
		if o := b.state("a", store.Posted); o.Posted == "" || o.Attempts != 0 {
			t.Errorf("%+v", o)
		}
		if id := b.channel.Notices()[0].Message.ID; len(id) == 0 || len(id) > 25 {
			t.Errorf("message id %q, want 1 to 25 characters", id)
		}
	})
}

// While nothing waits the store is not asked, however long that is.
func TestIdle(t *testing.T) {
	test(t, nil, func(b *bench) {
		b.commit("a", nil)
		before := b.store.claims.Load()
		b.pass(30 * 24 * time.Hour)
		if n := b.store.claims.Load() - before; n != 0 {
			t.Errorf("claimed %d times in an idle month", n)
		}
	})
}

func TestWaitsForItsTime(t *testing.T) {
	test(t, nil, func(b *bench) {
		b.commit("tomorrow", func(o *store.Outgoing) { o.Next = time.Now().Add(26 * time.Hour) })
		before := b.store.claims.Load()
		b.pass(26*time.Hour - time.Second)
		b.posts()
		if n := b.store.claims.Load() - before; n != 0 {
			t.Errorf("the store was asked %d times meanwhile", n)
		}
		b.pass(2 * time.Second)
		b.posts("tomorrow")
	})
}

func TestRetriesWithGrowingGaps(t *testing.T) {
	test(t, nil, func(b *bench) {
		down := errors.New("502 bad gateway")
		b.channel.FailBefore(down, nil, down, nil, down) // a nil answers the look for an earlier post
		b.commit("a", nil)
		for attempts := 1; attempts <= 3; attempts++ {
			gap := spread(calmGaps, "a", attempts)
			b.pass(gap - 10*time.Millisecond)
			if o := b.state("a", store.Waiting); o.Attempts != attempts || !o.Unsure || !strings.Contains(o.Err, "502") {
				t.Errorf("after attempt %d: %+v", attempts, o)
			}
			b.pass(10 * time.Millisecond)
		}
		b.posts("a")
		if n := strings.Count(b.log.String(), "502"); n != 1 {
			t.Errorf("the same error was logged %d times:\n%s", n, b.log.String())
		}
	})
}

func TestLooksBeforePostingAgain(t *testing.T) {
	test(t, nil, func(b *bench) {
		b.channel.FailAfter(errors.New("connection reset"))
		b.commit("a", nil)
		b.pass(time.Minute)
		b.posts("a")
		b.state("a", store.Posted)
		if n := b.channel.Tries(); n != 1 {
			t.Errorf("posted %d times, want once and found the second time", n)
		}
	})
}

// A pause that the platform asks for of one notice holds no other.
func TestRetryAfter(t *testing.T) {
	test(t, nil, func(b *bench) {
		b.channel.FailBefore(&chat.Refusal{Status: 429, After: 90 * time.Second})
		b.commit("a", nil)
		b.commit("b", nil)
		b.posts("b", "a") // what the first success after trouble hastens
		b.commit("leak", urgent)
		b.posts("b", "a", "leak")
	})
}

// A pause of everything is kept, but by dangers: those are tried at once, and then once a minute.
func TestRetryAfterOfAll(t *testing.T) {
	all := &line{}
	change := func(o *Options) { all.Channel, o.Channel = o.Channel.(*chattest.Channel), all }
	test(t, change, func(b *bench) {
		all.trouble.begin(&chat.Refusal{Status: 429, After: 10 * time.Minute, All: true})
		for _, key := range []string{"a", "b", "c"} {
			b.commit(key, nil)
		}
		if n := all.tries.Load(); n != 1 {
			t.Errorf("%d requests while the platform wanted none", n)
		}
		b.commit("leak", urgent)
		b.pass(5*time.Minute + time.Second)
		if n := all.tries.Load(); n != 7 {
			t.Errorf("%d requests; want one of the danger at once and one a minute", n)
		}
		all.trouble.end()
		b.pass(5 * time.Minute)
		b.posts("leak", "a", "b", "c")
	})
}

// What can wait and is refused is tried for three days, slowly, and then given up.
func TestPermanent(t *testing.T) {
	test(t, nil, func(b *bench) {
		b.channel.FailBefore(slices.Repeat([]error{fmt.Errorf("no permission to write in this channel: %w", chat.ErrPermanent)}, 100)...)
		b.commit("a", nil)
		b.pass(73 * time.Hour)
		if w := b.outbox.Health().Waits; len(w) != 0 || b.outbox.Health().GivenUp != 1 {
			t.Errorf("waits %+v, health %+v", w, b.outbox.Health())
		}
		b.posts()
		if o := b.state("a", store.Failed); !strings.Contains(o.Err, "no permission") {
			t.Errorf("recorded: %q", o.Err)
		}
		if n := strings.Count(b.log.String(), "level=ERROR"); n != 2 {
			t.Errorf("%d errors logged; want the first refusal and the end", n)
		}
		if n := b.channel.Tries(); n < 60 || n > 100 {
			t.Errorf("tried %d times in three days; want about once an hour", n)
		}
	})
}

// A danger that is refused is tried once a minute without end, by itself, and holds nothing else back for long.
func TestRefusedDanger(t *testing.T) {
	picky := &picky{}
	change := func(o *Options) { picky.Channel, o.Channel = o.Channel.(*chattest.Channel), picky }
	test(t, change, func(b *bench) {
		b.commit("bad", urgent)
		b.commit("a", nil)
		b.posts()
		b.pass(store.Patience * time.Minute)
		b.posts("a")
		b.pass(24 * time.Hour)
		w := b.outbox.Health().Waits
		if len(w) != 1 || w[0].Key != "bad" || !w[0].Urgent || w[0].Attempts < 24*60 || time.Until(w[0].Next) > time.Minute {
			t.Errorf("waits %+v", w)
		}
		picky.mended.Store(true)
		b.pass(time.Minute + time.Second)
		b.posts("a", "bad")
		if len(b.outbox.Health().Waits) > 0 || len(b.failed) < 24*60 {
			t.Errorf("waits %+v, told of %d refusals", b.outbox.Health().Waits, len(b.failed))
		}
	})
}

// Past posts cannot be seen. While the platform surely knows the number of a notice it is posted again, later it is not.
func TestUnseen(t *testing.T) {
	blind := &blind{}
	change := func(o *Options) { blind.Channel, o.Channel = o.Channel.(*chattest.Channel), blind }
	test(t, change, func(b *bench) {
		lost := errors.New("connection reset")
		b.channel.FailBefore(lost, lost)
		b.commit("leak", urgent)
		b.pass(20 * time.Second)
		b.posts("leak")
		b.channel.FailBefore(slices.Repeat([]error{lost}, 10)...)
		b.commit("flood", urgent)
		b.pass(3 * time.Hour)
		tries := b.channel.Tries()
		b.pass(time.Hour)
		if n := b.channel.Tries(); n != tries || tries > 3+10 {
			t.Errorf("posted %d times, then %d times more in the dark", tries, n-tries)
		}
		if w := b.outbox.Health().Waits; len(w) != 1 || !strings.Contains(w[0].Err, "cannot be looked for") {
			t.Errorf("waits %+v", w)
		}
		blind.sees.Store(true)
		b.pass(10 * time.Minute)
		b.state("flood", store.Posted)
	})
}

// blind is a channel whose past cannot be seen, until it sees.
type blind struct {
	*chattest.Channel
	sees atomic.Bool
}

func (c *blind) Find(_ context.Context, id string, _ time.Time) (string, bool, error) {
	if !c.sees.Load() {
		return "", false, chat.ErrUnseen
	}
	for _, p := range c.Notices() {
		if p.Message.ID == id {
			return p.Where, true, nil
		}
	}
	return "", false, nil
}

// An answer that could not be given comes when the platform is back, at any hour, once, and says that it is late.
func TestAnswer(t *testing.T) {
	away := &line{}
	change := func(o *Options) {
		away.Channel, o.Channel = o.Channel.(*chattest.Channel), away
		o.Quiet = func(t time.Time) (time.Time, bool) { return t.Add(time.Hour), true }
	}
	test(t, change, func(b *bench) {
		noted := chat.Message{ID: "s12", ReplyTo: "12", Headline: "Noted: 61 kg.", Body: []string{"why"}}
		if err := b.outbox.Answer(context.Background(), noted); err != nil {
			t.Fatal(err)
		}
		synctest.Wait()
		b.posts("Noted: 61 kg.")
		away.trouble.begin(errors.New("no route to host"))
		noted.ID, noted.ReplyTo, noted.Headline = "s13", "13", "Noted: 62 kg."
		for range 2 { // said twice, as after a crash
			if err := b.outbox.Answer(context.Background(), noted); err != nil {
				t.Fatal(err)
			}
		}
		b.pass(30 * time.Minute)
		away.trouble.end()
		b.pass(15 * time.Minute)
		b.posts("Noted: 61 kg.", "Noted: 62 kg.")
		m := b.channel.Notices()[1].Message
		if m.ReplyTo != "13" || m.Body[0] != "Meant for Saturday 00:00; the chat could not be reached." {
			t.Errorf("%+v", m)
		}
		if h, err := b.store.History(context.Background(), 10); len(h) != 0 || err != nil {
			t.Errorf("answers among the notices: %v, %v", h, err)
		}
	})
}

// Who is told of a refusal may take long to be told; stopping does not wait for it.
func TestStopWhileTelling(t *testing.T) {
	told := make(chan struct{})
	change := func(o *Options) {
		o.Failed = func(ctx context.Context, _ store.Outgoing, _ error) { close(told); <-ctx.Done() }
	}
	test(t, change, func(b *bench) {
		b.channel.FailBefore(chat.ErrPermanent)
		b.commit("a", nil)
		<-told
		b.stop()
		b.state("a", store.Waiting)
	})
}

// A permission was missing for a while. What was refused comes by itself, late, and at once when something gets through.
func TestPermissionComesBack(t *testing.T) {
	away := &line{}
	change := func(o *Options) { away.Channel, o.Channel = o.Channel.(*chattest.Channel), away }
	test(t, change, func(b *bench) {
		away.trouble.begin(fmt.Errorf("no permission: %w", chat.ErrPermanent))
		b.commit("a", nil)
		b.commit("leak", urgent)
		b.pass(5 * time.Hour)
		b.posts()
		away.trouble.end()
		b.pass(time.Minute)
		b.posts("leak", "a")
		if got := b.channel.Notices()[1].Message.Body[0]; got != "Meant for Saturday 00:00; the chat could not be reached." {
			t.Errorf("late: %q", got)
		}
		b.commit("c", nil)
		b.posts("leak", "a", "c")
	})
}

// A message that is itself the reason is not tried in a hot loop.
func TestRefusedMessage(t *testing.T) {
	picky := &picky{}
	change := func(o *Options) { picky.Channel, o.Channel = o.Channel.(*chattest.Channel), picky }
	test(t, change, func(b *bench) {
		b.commit("bad", nil)
		for i := range 10 {
			b.commit(fmt.Sprint(i), nil)
		}
		if o := b.state("bad", store.Waiting); o.Refused != store.Refusals+1 || len(b.failed) != o.Refused {
			t.Errorf("refused %d times, told %d times", o.Refused, len(b.failed))
		}
		b.posts("0", "1", "2", "3", "4", "5", "6", "7", "8", "9")
	})
}

// picky refuses one message for good.
type picky struct {
	*chattest.Channel
	mended atomic.Bool
}

func (p *picky) Post(ctx context.Context, m chat.Message) (string, error) {
	if m.Headline == "bad" && !p.mended.Load() {
		return "", chat.ErrPermanent
	}
	return p.Channel.Post(ctx, m)
}

func TestUnreadablePayload(t *testing.T) {
	test(t, nil, func(b *bench) {
		b.commit("a", func(o *store.Outgoing) { o.Payload = []byte("{") })
		b.state("a", store.Failed)
		b.commit("b", nil)
		b.posts("b")
	})
}

func TestQuietHours(t *testing.T) {
	change := func(o *Options) {
		end := time.Now().Add(10 * time.Hour)
		o.Quiet = func(t time.Time) (time.Time, bool) { return end, t.Before(end) }
	}
	test(t, change, func(b *bench) {
		b.commit("status", nil)
		b.commit("leak", urgent)
		b.pass(10*time.Hour - time.Second)
		b.posts("leak")
		b.pass(2 * time.Second)
		b.posts("leak", "status")
		if text := b.channel.Notices()[1].Text(); strings.Contains(text, "Meant for") {
			t.Errorf("waiting for the morning is not being late: %q", text)
		}
	})
}

// Days without a chat. Of two weekly statuses only the newer comes; the danger comes first; each says when
// it was meant; once one gets through, the others do not wait for their own next attempt.
func TestLongOutage(t *testing.T) {
	line := &line{}
	change := func(o *Options) { line.Channel, o.Channel = o.Channel.(*chattest.Channel), line }
	test(t, change, func(b *bench) { // a bubble begins on Saturday, 1 January 2000, in UTC
		start := time.Now()
		line.trouble.begin(errors.New("no route to host"))
		b.commit("status 1", in("main/status"))
		b.commit("refill", nil)
		b.pass(24 * time.Hour)
		b.commit("status 2", in("main/status"))
		b.pass(47 * time.Hour)
		b.commit("leak", urgent)
		b.pass(61 * time.Minute)
		b.posts()
		if h := b.outbox.Health(); h.Failing == 0 || h.Err == "" || !h.Since.Equal(start) {
			t.Errorf("health: %+v", h)
		}

		line.trouble.end()
		b.pass(2 * time.Minute)
		b.posts("leak", "refill", "status 2")
		b.state("status 1", store.Dropped)
		for i, want := range []string{"Meant for Monday 23:00; the chat could not be reached.",
			"Meant for Saturday 00:00; the chat could not be reached.", "Meant for Sunday 00:00; the chat could not be reached."} {
			if got := b.channel.Notices()[i].Message.Body; got[0] != want || got[1] != "why" {
				t.Errorf("message %d: %q, want first %q", i, got, want)
			}
		}
	})
}

// Nothing was running when it was due, so nothing can be said about the chat.
func TestLateStart(t *testing.T) {
	test(t, nil, func(b *bench) {
		b.commit("a", func(o *store.Outgoing) { o.Due = time.Now().Add(-61 * time.Minute) })
		b.commit("b", func(o *store.Outgoing) { o.Due = time.Now().Add(-60 * time.Minute) })
		if got := b.channel.Notices()[0].Message.Body[0]; got != "Meant for Friday 22:59; it could not be posted until now." {
			t.Errorf("late: %q", got)
		}
		if got := b.channel.Notices()[1].Message.Body[0]; got != "why" {
			t.Errorf("not late: %q", got)
		}
	})
}

// mark commits that an earlier notice has ended.
func (b *bench) mark(key string) {
	b.Helper()
	earlier, err := b.store.Outgoing(context.Background(), key)
	if err != nil {
		b.Fatal(err)
	}
	o, err := InPlace(earlier, "ended", time.Now(), func(m *chat.Message) { m.Headline, m.Buttons = "Ended: "+m.Headline, nil })
	if err != nil {
		b.Fatal(err)
	}
	if _, err := b.store.Write(context.Background(), store.Batch{Outgoing: []store.Outgoing{o}}); err != nil {
		b.Fatal(err)
	}
	b.outbox.Wake()
	synctest.Wait()
}

// An alert that has ended is marked where it stands, in quiet hours too, and keeps its number.
func TestInPlace(t *testing.T) {
	night := func(o *Options) { o.Quiet = func(t time.Time) (time.Time, bool) { return t.Add(time.Hour), true } }
	test(t, night, func(b *bench) {
		b.commit("leak", urgent)
		number := b.channel.Notices()[0].Message.ID
		b.channel.FailAfter(errors.New("connection reset"))
		b.mark("leak")
		b.state("leak/ended", store.Waiting)
		b.pass(time.Minute)
		b.posts("Ended: leak")
		if p := b.channel.Notices()[0]; p.Message.ID != number || p.Message.Body[0] != "why" || b.channel.Tries() != 1 {
			t.Errorf("%+v after %d posts; want number %s", p, b.channel.Tries(), number)
		}
		if o := b.state("leak/ended", store.Posted); o.Posted != b.state("leak", store.Posted).Posted {
			t.Errorf("%+v", o)
		}
	})
}

// What the platform refuses to change is left as it is: nothing is posted, nobody is told but the log, once.
func TestInPlaceRefused(t *testing.T) {
	test(t, nil, func(b *bench) {
		b.commit("leak", urgent)
		b.channel.FailBefore(fmt.Errorf("changed too often: %w", chat.ErrPermanent))
		b.mark("leak")
		b.pass(24 * time.Hour)
		b.posts("leak")
		if o := b.state("leak/ended", store.Dropped); !strings.Contains(o.Err, "changed too often") {
			t.Errorf("recorded: %q", o.Err)
		}
		if n := strings.Count(b.log.String(), "changed too often"); n != 1 || len(b.failed) > 0 || b.outbox.Health().GivenUp > 0 || b.channel.Tries() != 1 {
			t.Errorf("logged %d times, told %v, %+v, posted %d times", n, b.failed, b.outbox.Health(), b.channel.Tries())
		}
	})
}

// The mark of a notice that still waits comes after it; that of one that never came does not come.
func TestInPlaceOfWhatIsNotThere(t *testing.T) {
	test(t, nil, func(b *bench) {
		b.commit("later", func(o *store.Outgoing) { o.Next = time.Now().Add(3 * time.Hour) })
		b.mark("later")
		before := b.store.claims.Load()
		b.pass(3*time.Hour - time.Second)
		b.posts()
		if n := b.store.claims.Load() - before; n != 0 {
			t.Errorf("the store was asked %d times meanwhile", n)
		}
		b.pass(time.Minute)
		b.posts("Ended: later")

		b.commit("stray", func(o *store.Outgoing) { o.Edits = "never made" })
		b.state("stray", store.Dropped)
		b.commit("refused", func(o *store.Outgoing) { o.State, o.Edits = store.Failed, "" })
		b.mark("refused")
		b.state("refused/ended", store.Dropped)
	})
}

// The message stands in the channel but the store cannot be told: it is told later, nothing is posted twice.
func TestStoreFullAfterPost(t *testing.T) {
	test(t, nil, func(b *bench) {
		b.store.settle.begin(store.ErrFull)
		b.commit("a", nil)
		b.pass(10 * time.Minute)
		b.posts("a")
		b.state("a", store.Posting)
		b.store.settle.end()
		b.pass(2 * time.Minute)
		b.state("a", store.Posted)
		b.commit("b", nil)
		b.posts("a", "b")
		if n := b.channel.Tries(); n != 2 {
			t.Errorf("posted %d times", n)
		}
	})
}

// Stopping while a post hangs loses nothing, and the next start looks before it posts.
func TestStopWhilePosting(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		slow := &hanging{Channel: chattest.New()}
		b := running(t, func(o *Options) { o.Channel = slow })
		b.commit("a", nil)
		b.stop()
		if o := b.state("a", store.Waiting); !o.Unsure || o.Attempts != 0 {
			t.Errorf("%+v", o)
		}
		next := New(Options{Store: b.store, Channel: slow.Channel})
		if err := next.Flush(context.Background()); err != nil {
			t.Fatal(err)
		}
		b.state("a", store.Posted)
	})
}

// line is the way to a channel; while there is trouble nothing gets through.
type line struct {
	*chattest.Channel
	trouble trouble
	tries   atomic.Int64
}

func (l *line) Post(ctx context.Context, m chat.Message) (string, error) {
	l.tries.Add(1)
	if err := l.trouble.err(); err != nil {
		return "", err
	}
	return l.Channel.Post(ctx, m)
}

func (l *line) Find(ctx context.Context, id string, since time.Time) (string, bool, error) {
	if err := l.trouble.err(); err != nil {
		return "", false, err
	}
	return l.Channel.Find(ctx, id, since)
}

// hanging never answers a post.
type hanging struct{ *chattest.Channel }

func (h *hanging) Post(ctx context.Context, _ chat.Message) (string, error) {
	<-ctx.Done()
	return "", ctx.Err()
}

func TestHangEnds(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := running(t, func(o *Options) { o.Channel = &hanging{chattest.New()} })
		b.commit("a", nil)
		b.pass(attemptTimeout + time.Second)
		if o := b.state("a", store.Waiting); o.Attempts != 1 || !strings.Contains(o.Err, "deadline") {
			t.Errorf("%+v", o)
		}
	})
}

func TestMoment(t *testing.T) {
	sunday := time.Date(2026, 10, 4, 18, 0, 0, 0, time.UTC)
	for age, want := range map[time.Duration]string{
		2 * time.Hour:        "Sunday 18:00",
		24 * time.Hour:       "Sunday 18:00",
		6 * 24 * time.Hour:   "Sunday 4 October 18:00",
		100 * 24 * time.Hour: "4 October 2026 18:00",
	} {
		if got := moment(sunday, sunday.Add(age)); got != want {
			t.Errorf("after %v: %q, want %q", age, got, want)
		}
	}
}

func TestID(t *testing.T) {
	o := store.Outgoing{Key: "main/status/2026-10-04", Created: time.UnixMilli(1)}
	other := o
	other.Created = time.UnixMilli(2)
	if ID(o) == ID(other) || len(ID(o)) != 16 {
		t.Errorf("%q, %q", ID(o), ID(other))
	}
}
