package household

import (
	"slices"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/unit/record"
)

// people is who lives here, who saw to a refill last, and who is away.
type people struct {
	members []record.Member
	last    map[string]time.Time // booked, carried or filled
	gone    map[string]time.Time // until
}

func newPeople(members []record.Member) people {
	return people{members, map[string]time.Time{}, map[string]time.Time{}}
}

// did takes down that somebody saw to a refill. Only members take turns.
func (p *people) did(name string, at time.Time) {
	if p.member(name) {
		p.last[name] = at
	}
}

func (p *people) member(name string) bool {
	return slices.ContainsFunc(p.members, func(m record.Member) bool { return m.Name == name })
}

// turns is who could see to the refill, who did it least lately first; in the order of the config among equals.
// It is empty for fewer than two members: nobody needs a list then.
func (p *people) turns(now time.Time) []notice.Turn {
	if len(p.members) < 2 {
		return nil
	}
	var out []notice.Turn
	for _, m := range p.members {
		if m.Carries && !p.gone[m.Name].After(now) {
			out = append(out, notice.Turn{Name: m.Name, Last: p.last[m.Name]})
		}
	}
	slices.SortStableFunc(out, func(a, b notice.Turn) int { return a.Last.Compare(b.Last) })
	return out
}

// helpers can carry, but for one.
func (p *people) helpers(but string, now time.Time) []string {
	var out []string
	for _, m := range p.members {
		if m.Carries && m.Name != but && !p.gone[m.Name].After(now) {
			out = append(out, m.Name)
		}
	}
	return out
}

// allGone is until when every member is away; zero: somebody is there, or nobody is listed.
func (p *people) allGone(now time.Time) time.Time {
	var first time.Time
	for _, m := range p.members {
		until := p.gone[m.Name]
		if !until.After(now) {
			return time.Time{}
		}
		first = earlier(first, until)
	}
	return first
}

// absent takes down that a member is away. When that leaves nobody, nobody draws until the first is back.
func (e *Engine) absent(ev record.Event) {
	if !e.people.member(ev.By) {
		return
	}
	before := e.people.allGone(ev.At)
	e.people.gone[ev.By] = ev.Until
	after := e.people.allGone(ev.At)
	if after.Equal(before) {
		return
	}
	if after.IsZero() {
		after = ev.At
	}
	for _, it := range e.items {
		if !it.spare {
			it.fc.Apply(forecast.Event{At: ev.At, Kind: forecast.Away, Until: after})
		}
	}
}
