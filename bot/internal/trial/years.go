package trial

import (
	"fmt"
	"io"
	"slices"
	"strings"
)

// kinds are the sorts of losses, smallest first.
var kinds = []string{"slow", "medium", "valve", "violent"}

// WriteYears prints the figures of households that lived through years.
//
//	dry_spells    times without gas per refill; dry_days a year; ever: share of households that were ever dry
//	missed        share of servings that nobody could draw
//	leftover      when the refill came: share of the fill, and days of mean use
//	loss          told while it went on, told at all (also after it had ended by itself), grams lost
//	false_alarms  possible leaks told a year where there was none; none: share of households without any
//	posts         notices a month; again: what continues one
func WriteYears(w io.Writer, lives []Life) {
	years, refills, spells, ever, none, typed, falses := 0., 0, 0, 0, 0, 0, 0
	var dry, missed, lost float64
	var left, days, worst []float64
	posts, losses := map[string]int{}, map[string][]Loss{}
	for _, l := range lives {
		years += float64(l.Home.Days) / 365.25
		refills, spells, typed, falses = refills+l.Refills, spells+l.Spells, typed+l.Typed, falses+l.False
		ever, none = ever+min(l.Spells, 1), none+1-min(l.False, 1)
		dry, missed = dry+l.Dry, missed+l.Missed
		left, days = append(left, l.Left...), append(days, l.LeftDays...)
		worst = append(worst, float64(l.False)/float64(l.Home.Days)*365.25)
		for _, x := range l.Losses {
			losses[x.kind] = append(losses[x.kind], x)
			lost += x.lost / 1000
		}
		for k, n := range l.Posts {
			posts[k] += n
		}
	}
	n := float64(len(lives))
	fmt.Fprintf(w, "  %d households, %.0f years, %d refills\n", len(lives), years, refills)
	fmt.Fprintf(w, "  dry_spells %.3f per refill  dry_days %.2f a year  ever %.2f  missed %.4f\n", float64(spells)/max(1, float64(refills)), dry/years, float64(ever)/n, missed/n)
	fmt.Fprintf(w, "  leftover_share median %.3f mean %.3f  leftover_d median %.1f mean %.1f\n", median(left), mean(left), median(days), mean(days))
	for _, k := range kinds {
		writeLosses(w, k, losses[k])
	}
	fmt.Fprintf(w, "  lost_kg %.3f a year\n", lost/years)
	fmt.Fprintf(w, "  false_alarms %.3f a year  none %.2f  worst %.1f a year\n", float64(falses)/years, float64(none)/n, slices.Max(worst))
	if typed > 0 {
		fmt.Fprintf(w, "  weights typed %.1f a month\n", float64(typed)/years/12)
	}
	if len(posts) > 0 {
		fmt.Fprintf(w, "  posts a month: %s\n", listed(posts, years*12))
	}
}

func writeLosses(w io.Writer, kind string, all []Loss) {
	if len(all) == 0 {
		return
	}
	open, told := 0, 0
	var lost []float64
	for _, l := range all {
		if l.fate == Told {
			open++
		}
		if l.told != never {
			told++
		}
		lost = append(lost, l.lost)
	}
	n := float64(len(all))
	fmt.Fprintf(w, "  loss %s: %d  told while open %.2f  told at all %.2f  grams lost median %.0f mean %.0f\n", kind, len(all), float64(open)/n, float64(told)/n, median(lost), mean(lost))
}

// WriteLife prints a household in a line.
func WriteLife(w io.Writer, l Life) {
	h := l.Home
	fmt.Fprintf(w, "  seed %d: %.2f kg, %.0f g/day, lead %d; refills %d, dry %d (%.1f d), left %s d, losses %d, false %d; sd %.0f g, grain %.0f g, every %d min; %s\n",
		h.Seed, h.net/1000, h.rate, h.lead, l.Refills, l.Spells, l.Dry, rounded(l.LeftDays), len(l.Losses), l.False, h.scale.sd, h.scale.grain, h.scale.every, listed(l.Posts, 1))
}

func rounded(xs []float64) string {
	var out []string
	for _, x := range xs {
		out = append(out, fmt.Sprintf("%.0f", x))
	}
	return "[" + strings.Join(out, " ") + "]"
}

// listed is counts by name, divided.
func listed(counts map[string]int, by float64) string {
	var names, out []string
	for k := range counts {
		names = append(names, k)
	}
	slices.Sort(names)
	for _, k := range names {
		out = append(out, fmt.Sprintf("%s %.4g", k, float64(counts[k])/by))
	}
	return strings.Join(out, ", ")
}
