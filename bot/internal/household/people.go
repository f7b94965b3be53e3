package household

import (
	"slices"
	"time"

	"tarebell/bot/internal/notice"
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

// did records that somebody saw to a refill. Only members take turns.
func (p *people) did(name string, at time.Time) {
	if p.member(name) {
		p.last[name] = at
	}
}

func (p *people) member(name string) bool {
	return slices.ContainsFunc(p.members, func(m record.Member) bool { return m.Name == name })
}

// carriers are those who are here and carry, in the order of the config.
func (p *people) carriers(now time.Time) (names []string) {
	for _, m := range p.members {
		if m.Carries && !p.gone[m.Name].After(now) {
			names = append(names, m.Name)
		}
	}
	return names
}

// turns is who could see to the refill, who did it least lately first; in the order of the config among equals.
// It is empty for fewer than two members: nobody needs a list then.
func (p *people) turns(now time.Time) (out []notice.Turn) {
	if len(p.members) < 2 {
		return nil
	}
	for _, name := range p.carriers(now) {
		out = append(out, notice.Turn{Name: name, Last: p.last[name]})
	}
	slices.SortStableFunc(out, func(a, b notice.Turn) int { return a.Last.Compare(b.Last) })
	return out
}

// helpers are those who can carry except one.
func (p *people) helpers(but string, now time.Time) []string {
	return slices.DeleteFunc(p.carriers(now), func(name string) bool { return name == but })
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

// absent records that a member is away. changed: from now on nobody draws until the first is back, or somebody does again.
func (p *people) absent(ev record.Event) (until time.Time, changed bool) {
	if !p.member(ev.By) {
		return until, false
	}
	before := p.allGone(ev.At)
	p.gone[ev.By] = ev.Until
	until = p.allGone(ev.At)
	if changed = !until.Equal(before); until.IsZero() {
		until = ev.At
	}
	return until, changed
}
