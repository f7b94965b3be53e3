package discord_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/chat/discord/discordtest"
)

// A handler that takes long: the platform is told in time, and the answer comes in the right form.
func TestSlowHandler(t *testing.T) {
	t.Parallel()
	tests := []struct {
		rule    string
		command string
		typ     int
		text    string
		private bool
		answers int
	}{
		{"public", "slow", 5, "**6.4 kg of gas are left, good for 740 litres.**\nAt your way of drinking until about 9 October.", false, 1},
		{"private", "slow-private", 5, "This can be said here.", true, 1},
		{"a form can't open any more", "slow-form", 5, "That took me too long for the form to open. Please try once more.", true, 1},
		{"nothing", "slow-nothing", 5, "", false, 0},
	}
	for _, tt := range tests {
		t.Run(tt.rule, func(t *testing.T) {
			t.Parallel()
			inBubble(t, func(t *testing.T) {
				f := moveIn(t, platform(t))
				f.house.slow = make(chan struct{})
				x := f.Calls(f.anna, tt.command)
				if typ, _, err := x.Wait(f.ctx); typ != tt.typ || err != nil {
					t.Fatalf("reaction %d, %v; want %d", typ, err, tt.typ)
				}
				close(f.house.slow)
				if tt.answers > 0 {
					if m := f.message(t, x); m.Content != tt.text || m.Private != tt.private {
						t.Errorf("answered %q, private %v; want %q, %v", m.Content, m.Private, tt.text, tt.private)
					}
				}
				if err := f.stop(); err != nil {
					t.Fatal(err)
				}
				if n := x.Answers(); n != tt.answers {
					t.Errorf("%d answers; want %d", n, tt.answers)
				}
			})
		})
	}
	t.Run("a press", func(t *testing.T) {
		t.Parallel()
		inBubble(t, func(t *testing.T) {
			f := moveIn(t, platform(t))
			f.house.slow = make(chan struct{})
			id, err := f.bot.Post(f.ctx, chat.Message{ID: "n", Headline: "Hm.", Buttons: []chat.Button{{ID: "slow", Label: "Slow"}}})
			if err != nil {
				t.Fatal(err)
			}
			notice := now(f, discordtest.Message{ID: id})
			x := f.Presses(f.anna, notice, "Slow")
			if typ, _, err := x.Wait(f.ctx); typ != 6 || err != nil {
				t.Fatalf("reaction %d, %v; want 6, which shows nothing", typ, err)
			}
			close(f.house.slow)
			if m := f.message(t, x); m.Content != "Done at last." || len(now(f, notice).Buttons()) > 0 {
				t.Errorf("answered %q, %d buttons left", m.Content, len(now(f, notice).Buttons()))
			}
		})
	})
}

// The platform fails while it is being answered.
func TestAnswersUnderFaults(t *testing.T) {
	t.Parallel()
	type fault = discordtest.Fault
	const callback = "POST /interactions/{}/{}/callback"
	tests := []struct {
		rule    string
		command string
		faults  []fault
		answers int // to the interaction
		posts   int // in the channel in its place
	}{
		{"5xx once", "gas", []fault{{Match: callback, Status: 503}}, 1, 0},
		{"stored, but the answer is lost", "gas", []fault{{Match: callback, Cut: true, Stored: true}}, 1, 0},
		{"429", "gas", []fault{{Match: callback, Status: 429, RetryAfter: 20 * time.Millisecond}}, 1, 0},
		{"429 for longer than there is time", "gas", []fault{{Match: callback, Status: 429, RetryAfter: time.Hour, Times: 9}}, 0, 1},
		{"never", "gas", []fault{{Match: callback, Status: 500, Times: 9}}, 0, 1},
		{"never, and private", "help", []fault{{Match: callback, Status: 500, Times: 5}}, 0, 0},
		{"forgotten", "gas", []fault{{Match: callback, Status: 404, Code: 10062}}, 0, 1},
		{"and the channel fails at first", "gas", []fault{{Match: callback, Status: 500, Times: 9}, {Match: posting, Status: 500}, {Match: posting, Cut: true, Stored: true}}, 0, 1},
	}
	for _, tt := range tests {
		t.Run(tt.rule, func(t *testing.T) {
			t.Parallel()
			inBubble(t, func(t *testing.T) {
				f := moveIn(t, platform(t))
				f.Fail(tt.faults...)
				x := f.Calls(f.anna, tt.command)
				posts := func() (n int) {
					for _, m := range f.Posted() {
						if m.Nonce != "" {
							n++
						}
					}
					return n
				}
				f.until(t, "an answer", func() bool { return x.Answers()+posts() > 0 || tt.answers+tt.posts == 0 && f.Faults() == 0 })
				if err := f.stop(); err != nil {
					t.Fatal(err)
				}
				if n := posts(); x.Answers() != tt.answers || n != tt.posts {
					t.Errorf("%d answers, %d posts; want %d, %d", x.Answers(), n, tt.answers, tt.posts)
				}
			})
		})
	}
}

// What was typed and accepted is acknowledged once, though the platform fails several times.
func TestRepliesUnderFaults(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		f := moveIn(t, platform(t))
		f.Fail(discordtest.Fault{Match: posting, Status: 500}, discordtest.Fault{Match: posting, Cut: true, Stored: true}, discordtest.Fault{Match: posting, Status: 429, RetryAfter: time.Millisecond})
		f.answerTo(t, f.Types(f.anna, "61 kg"))
		f.answerTo(t, f.Types(f.anna, "62 kg"))
		if n := len(f.Posted()); n != 2 {
			t.Errorf("%d answers; want 2", n)
		}
	})
}

// More is typed than the platform takes answers to at a time: they come when it lets them.
func TestRepliesBeyondTheLimit(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		p := platform(t)
		p.BucketLimit, p.BucketWindow = 2, 20*time.Millisecond
		f := moveIn(t, p)
		var all []discordtest.Message
		for i := range 60 {
			all = append(all, f.Types(f.anna, fmt.Sprint(i, " kg")))
		}
		for _, m := range all {
			f.answerTo(t, m)
		}
		if n := len(f.Posted()); n != len(all) {
			t.Errorf("%d answers; want %d", n, len(all))
		}
	})
}

// Without the permission to read the history nothing can be replied to; the answer is then an ordinary message.
func TestWithoutPermissionForReplies(t *testing.T) {
	t.Parallel()
	inBubble(t, func(t *testing.T) {
		f := moveIn(t, platform(t))
		f.Fail(discordtest.Fault{Match: posting, Status: 403, Code: 160002})
		f.Types(f.anna, "63 kg")
		if _, err := f.WaitMessage(f.ctx, "an answer that is no reply", func(m discordtest.Message) bool { return m.ReplyTo == "" }); err != nil {
			t.Fatal(err)
		}
		if n := len(f.Posted()); n != 1 {
			t.Errorf("%d answers; want one", n)
		}
	})
}

// A day of five people, while one request in fifty goes wrong: every interaction is answered, within its three seconds.
func TestADayOfChat(t *testing.T) {
	each := 200
	if testing.Short() || racing {
		each = 60
	}
	strict(t, func(t *testing.T, s *stage) {
		rnd, bad := rand.New(rand.NewPCG(23, 5)), 0
		s.Chance = func(discordtest.Request) *discordtest.Fault {
			if rnd.Float64() >= 0.02 {
				return nil
			}
			bad++
			return []*discordtest.Fault{{Status: 500}, {Status: 502}, {Status: 503, Page: true}, {Status: 500, Stored: true}, {Status: 429, RetryAfter: 500 * time.Millisecond}, {Status: 429, RetryAfter: 5 * time.Second}}[rnd.IntN(6)]
		}
		s.start(t)
		s.connected(t)
		took := s.day(t, each, func(r *rand.Rand) { time.Sleep(time.Duration(r.ExpFloat64() * float64(16*time.Hour) / float64(each))) })
		if last := took[len(took)-1]; last > 3*time.Second {
			t.Errorf("a first reaction took %v; the platform waits for 3 s", last)
		}
		t.Logf("%d interactions, %d requests went wrong: first reaction p50 %v, p99 %v, max %v", len(took), bad, took[len(took)/2], took[len(took)*99/100], took[len(took)-1])
	})
}

// How soon the platform hears something, of all interactions of a day: half of them, and 99 of 100.
func BenchmarkFirstReaction(b *testing.B) {
	p := platform(b)
	p.BucketLimit, p.GlobalLimit = 1<<20, 1<<20 // it is the bot's time that counts here
	f := moveIn(b, p)
	f.ctx = b.Context()
	var took []time.Duration
	for b.Loop() {
		took = append(took, f.day(b, 120, func(*rand.Rand) {})...)
	}
	slices.Sort(took)
	b.ReportMetric(float64(took[len(took)/2].Microseconds())/1000, "p50-ms")
	b.ReportMetric(float64(took[len(took)*99/100].Microseconds())/1000, "p99-ms")
}

// day lets five people do something so many times each, with pauses, and returns how long the reactions took, shortest
// first.
func (f *flat) day(t testing.TB, each int, pause func(*rand.Rand)) (took []time.Duration) {
	var mu sync.Mutex
	var all sync.WaitGroup
	for person := range 5 {
		by := f.Join(fmt.Sprint("Person ", person), f.Role)
		all.Go(func() {
			rnd := rand.New(rand.NewPCG(11, uint64(person)))
			for range each {
				pause(rnd)
				d, ok := f.does(t, by, rnd)
				mu.Lock()
				if ok {
					took = append(took, d)
				}
				mu.Unlock()
			}
		})
	}
	all.Wait()
	slices.Sort(took)
	return took
}

// does lets a member do one thing and waits for all that it leads to; ok says whether it was an interaction, took how
// long the first reaction took.
func (f *flat) does(t testing.TB, by discordtest.Member, rnd *rand.Rand) (took time.Duration, ok bool) {
	var x *discordtest.Interaction
	silent := false
	switch rnd.IntN(8) {
	case 0:
		f.answerTo(t, f.Types(by, fmt.Sprintf("%d kg", rnd.IntN(90))))
		return 0, false
	case 1:
		f.Types(by, "shall we make some lemonade?")
		return 0, false
	case 2:
		x = f.Calls(by, "weigh", discordtest.Option{Name: "weight", Value: "61.4 kg"})
	case 3:
		x, silent = f.Completes(by, "weigh", discordtest.Option{Name: "cylinder", Value: "m", Focused: true}), true
	case 4:
		x = f.Presses(by, f.answerTo(t, f.Types(by, "61 kg")), "Undo")
	case 5:
		x, silent = f.Calls(by, "plan"), true // a form
	case 6:
		x = f.Calls(by, "chart")
	default:
		x = f.Calls(by, "gas")
	}
	ctx, cancel := context.WithTimeout(f.ctx, time.Minute)
	defer cancel()
	_, took, err := x.Wait(ctx)
	if err == nil && !silent {
		if _, err = x.Message(ctx); err != nil { // or in the channel, where no answer could be given
			_, err = f.WaitMessage(f.ctx, "an answer", func(m discordtest.Message) bool { return m.Nonce == "i"+x.ID })
		}
	}
	if err != nil {
		t.Errorf("unanswered: %v", err)
	}
	return took, true
}
