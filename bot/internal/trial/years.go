package trial

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
)

// kinds are the sorts of losses, smallest first.
var kinds = []string{"slow", "medium", "valve", "violent"}

// census sums up lives.
type census struct {
	years, refills, spells, dry, missed, lost, typed, polls, falses, worst float64
	ever, none                                                             share
	left, leftDays                                                         []float64
	posts                                                                  map[string]int
	losses                                                                 map[string][]Loss
}

// Years are the figures of households that lived through years.
//
//	dry_spells         times without gas per refill; dry_days: a year; ever_dry: share of households
//	missed             share of servings that nobody could draw
//	leftover_share     when the refill came, of the fill; leftover_d: in days of mean use; medians but for leftover_d_mean
//	slow_told ...      share of the losses of a kind that were told while they went on, told_late: told at all, also after they had ended by themselves;
//	                   slow_g ...: median lost
//	lost_kg            a year
//	false_alarms       possible leaks told a year where there was none; none: share of households without any; worst: household
//	typed, polls       weights typed, and readings beyond the regular ones, a month
//	posts              a month of all kinds, follow-ups too; then by kind, follow-up being what continues one
func Years(lives []Life) []Figure {
	c := census{posts: map[string]int{}, losses: map[string][]Loss{}}
	for _, l := range lives {
		c.add(l)
	}
	out := []Figure{{"households", float64(len(lives))}, {"years", c.years}, {"refills", c.refills},
		{"dry_spells", c.spells / c.refills}, {"dry_days", c.dry / c.years}, {"ever_dry", c.ever.value()}, {"missed", c.missed / float64(len(lives))},
		{"leftover_share", median(c.left)}, {"leftover_d", median(c.leftDays)}, {"leftover_d_mean", mean(c.leftDays)}}
	for _, k := range kinds {
		out = append(out, lossFigures(k, c.losses[k])...)
	}
	out = append(out, Figure{"lost_kg", c.lost / c.years}, Figure{"false_alarms", c.falses / c.years}, Figure{"none", c.none.value()}, Figure{"worst", c.worst})
	months, all := 12*c.years, 0
	var posts []Figure
	for _, k := range sorted(c.posts) {
		all += c.posts[k]
		posts = append(posts, Figure{k, float64(c.posts[k]) / months})
	}
	out = append(out, Figure{"typed", c.typed / months}, Figure{"polls", c.polls / months}, Figure{"posts", float64(all) / months})
	return append(out, posts...)
}

func (c *census) add(l Life) {
	years := float64(l.Home.Days) / 365.25
	c.years, c.refills, c.spells, c.dry = c.years+years, c.refills+float64(l.Refills), c.spells+float64(l.Spells), c.dry+l.Dry
	c.missed, c.typed, c.polls = c.missed+l.Missed, c.typed+float64(l.Typed), c.polls+float64(l.Polls)
	c.falses, c.worst = c.falses+float64(l.False), max(c.worst, float64(l.False)/years)
	c.ever.add(l.Spells > 0)
	c.none.add(l.False == 0)
	c.left, c.leftDays = append(c.left, l.Left...), append(c.leftDays, l.LeftDays...)
	for _, x := range l.Losses {
		c.losses[x.kind] = append(c.losses[x.kind], x)
		c.lost += x.lost / 1000
	}
	for k, n := range l.Posts {
		c.posts[k] += n
	}
}

func lossFigures(kind string, all []Loss) []Figure {
	if len(all) == 0 {
		return nil
	}
	var open, told share
	var lost []float64
	for _, l := range all {
		open.add(l.fate == Told)
		told.add(l.told != never)
		lost = append(lost, l.lost)
	}
	return []Figure{{kind, float64(len(all))}, {kind + "_told", open.value()}, {kind + "_told_late", told.value()}, {kind + "_g", median(lost)}}
}

// WriteLife prints a household in a line.
func WriteLife(w io.Writer, l Life) {
	h := l.Home
	fmt.Fprintf(w, "  %s; refills %d, dry %d (%.1f d), left %.0f d, losses %d, false %d; %s\n",
		h, l.Refills, l.Spells, l.Dry, l.LeftDays, len(l.Losses), l.False, listed(l.Posts))
}

// String is a household in a few words.
func (h *Home) String() string {
	return fmt.Sprintf("seed %d: %.2f kg, %.0f g/day, lead %d, sd %.0f g, grain %.0f g, every %d min",
		h.Seed, h.net/1000, h.rate, h.lead, h.scale.sd, h.scale.grain, h.scale.every)
}

func sorted(counts map[string]int) []string { return slices.Sorted(maps.Keys(counts)) }

// listed is counts by name.
func listed(counts map[string]int) string {
	var out []string
	for _, k := range sorted(counts) {
		out = append(out, fmt.Sprintf("%s %d", k, counts[k]))
	}
	return strings.Join(out, ", ")
}
