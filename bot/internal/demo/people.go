package demo

import (
	"context"
	"slices"
	"strings"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/chat/terminal"
	"tarebell/sources/simulated"
)

// room is the group channel with its people: what is posted may move them to do something later.
type room struct {
	*terminal.Channel
	demo *demo
	dir  string
	ctx  context.Context
	todo []deed
	said []posted
	seen map[string]bool // kinds of posts that somebody is already seeing to
}

// deed is something somebody is going to do.
type deed struct {
	at time.Time
	do func()
}

// posted is a notice with the time at which it stood in the channel.
type posted struct {
	at time.Time
	chat.Message
}

func newRoom(t *terminal.Channel, d *demo) *room {
	r := &room{Channel: t, demo: d, seen: map[string]bool{}}
	r.habits(d.clock.Now())
	return r
}

// Post shows a notice and lets the people read it.
func (r *room) Post(ctx context.Context, m chat.Message) (string, error) {
	id, err := r.Channel.Post(ctx, m)
	if err == nil {
		r.said = append(r.said, posted{r.demo.clock.Now(), m})
		r.react(m)
		r.pause()
	}
	return id, err
}

func (r *room) pause() {
	if r.demo.opt.Pace > 0 {
		time.Sleep(r.demo.opt.Pace)
	}
}

func (r *room) at(t time.Time, do func()) { r.todo = append(r.todo, deed{t, do}) }

// next is when somebody does something next; zero: never.
func (r *room) next() time.Time {
	var next time.Time
	for _, d := range r.todo {
		if next.IsZero() || d.at.Before(next) {
			next = d.at
		}
	}
	return next
}

// act does what is due.
func (r *room) act(ctx context.Context, now time.Time) {
	r.ctx = ctx
	due := []deed{}
	r.todo = slices.DeleteFunc(r.todo, func(d deed) bool {
		if d.at.After(now) {
			return false
		}
		due = append(due, d)
		return true
	})
	slices.SortStableFunc(due, func(a, b deed) int { return a.at.Compare(b.at) })
	for _, d := range due {
		d.do()
	}
}

func (r *room) says(by chat.Member, text string) chat.Answer {
	defer r.pause()
	return r.Says(r.ctx, by, text)
}

func (r *room) calls(by chat.Member, name string, options ...string) {
	defer r.pause()
	r.Calls(r.ctx, by, name, options...)
}

// presses lets somebody press the newest button that begins so.
func (r *room) presses(by chat.Member, button string, fields ...string) {
	defer r.pause()
	for _, p := range slices.Backward(r.said) {
		if i := slices.IndexFunc(p.Buttons, func(b chat.Button) bool { return strings.HasPrefix(b.ID, button) }); i >= 0 {
			button = p.Buttons[i].ID
			break
		}
	}
	r.Presses(r.ctx, by, button, fields...)
}

// react decides what people do about a notice.
func (r *room) react(m chat.Message) {
	switch {
	case has(m, "booked:"):
		r.once("refill", r.refill)
	case has(m, "answer:leak:") && m.Severity == chat.Danger:
		r.once("danger", r.danger)
	case has(m, "answer:leak:"):
		r.once("slow", r.slow)
	}
}

func has(m chat.Message, button string) bool {
	return slices.ContainsFunc(m.Buttons, func(b chat.Button) bool { return strings.HasPrefix(b.ID, button) })
}

// once starts a reaction unless one of the kind is going on.
func (r *room) once(kind string, start func(done func())) {
	if r.seen[kind] {
		return
	}
	r.seen[kind] = true
	start(func() { r.seen[kind] = false })
}

// refill: Marta takes it on after lunch, books, and brings the full cylinder on the first open day after the lead time.
func (r *room) refill(done func()) {
	now := r.demo.clock.Now()
	arrives := now.AddDate(0, 0, r.demo.cfg.Refill.LeadDays)
	for !slices.Contains(r.demo.cfg.Refill.Open, arrives.Weekday()) {
		arrives = arrives.AddDate(0, 0, 1)
	}
	brought := time.Date(arrives.Year(), arrives.Month(), arrives.Day(), 17, 20, 0, 0, arrives.Location())
	r.at(now.Add(4*time.Hour), func() { r.presses(marta, "mine:main") })
	r.at(now.Add(5*time.Hour), func() {
		r.presses(marta, "booked:main")
		r.presses(marta, "booked:main", "day", arrives.Format(time.DateOnly))
	})
	r.at(brought.Add(-50*time.Minute), func() {
		r.demo.house.Happen(simulated.Incident{At: r.demo.clock.Now(), What: simulated.Lifted, For: 50 * time.Minute})
	})
	r.at(brought, func() {
		r.demo.left = r.demo.house.TrueNet(r.demo.clock.Now())
		r.demo.house.Fill(r.demo.clock.Now(), r.demo.cfg.Cylinders[0].NetFill-40)
		r.calls(marta, "filled", "net", "6 kg", "price", "31 EUR")
		done()
	})
}

// danger: whoever is awake airs the kitchen and shuts the valve, and says what it was.
func (r *room) danger(done func()) {
	now := r.demo.clock.Now()
	r.at(now.Add(25*time.Minute), func() {
		answer := "answer:used:"
		if r.demo.losing() {
			answer = "answer:shut:"
		}
		r.demo.house.CloseValve(r.demo.clock.Now())
		r.presses(joon, answer)
	})
	r.at(now.Add(7*time.Hour), func() { r.demo.house.OpenValve(r.demo.clock.Now()); done() })
}

// slow: looked at the next evening; if there is a leak it is mended the day after.
func (r *room) slow(done func()) {
	now := r.demo.clock.Now()
	evening := time.Date(now.Year(), now.Month(), now.Day()+1, 18, 30, 0, 0, now.Location())
	r.at(evening, func() {
		if r.demo.losing() {
			r.presses(ade, "answer:leak:")
		} else {
			r.presses(ade, "answer:used:")
		}
	})
	r.at(evening.Add(17*time.Hour), func() {
		if r.demo.losing() {
			r.demo.house.Repair(r.demo.clock.Now())
			r.says(ade, "soapy water found it: the washer at the regulator. new one is in")
		}
		done()
	})
}

// losing reports whether gas is really leaving.
func (d *demo) losing() bool {
	for _, l := range d.house.Truth().Losses {
		if l.To.IsZero() {
			return true
		}
	}
	return false
}
