package trial

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
)

// Figure is a number with a name.
type Figure struct {
	Name  string
	Value float64 // NaN: unknown
}

// text is three digits, and all of a whole number.
func (f Figure) text() string {
	switch v := math.Abs(f.Value); {
	case math.IsNaN(v) || math.IsInf(v, 0):
		return "-"
	case v >= 100 || v == math.Trunc(v):
		return fmt.Sprintf("%.0f", f.Value)
	case v >= 10:
		return fmt.Sprintf("%.1f", f.Value)
	}
	return fmt.Sprintf("%.3f", f.Value)
}

// WriteFigures prints figures in lines.
func WriteFigures(w io.Writer, figures []Figure) {
	line := ""
	for _, f := range figures {
		s := "  " + f.Name + " " + f.text()
		if len(line)+len(s) > 110 {
			fmt.Fprintln(w, line)
			line = ""
		}
		line += s
	}
	fmt.Fprintln(w, line)
}

// Row is the figures of a case.
type Row struct {
	Case    string
	Figures []Figure
}

// WriteTable prints the figures with those names as a table in Markdown, a row a case.
func WriteTable(w io.Writer, names []string, rows []Row) {
	fmt.Fprintf(w, "| | %s |\n|%s\n", strings.Join(names, " | "), strings.Repeat(" --- |", len(names)+1))
	for _, r := range rows {
		fmt.Fprintf(w, "| %s |", r.Case)
		for _, name := range names {
			f := Figure{Value: math.NaN()}
			if i := slices.IndexFunc(r.Figures, func(f Figure) bool { return f.Name == name }); i >= 0 {
				f = r.Figures[i]
			}
			fmt.Fprintf(w, " %s |", f.text())
		}
		fmt.Fprintln(w)
	}
}

// probabilities are those at which a forecast is judged.
var probabilities = [7]float64{0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95}

// quantileLoss is twice the mean pinball loss of quantiles q, at probabilities, when y came: the CRPS by its quantiles
// (Gneiting and Raftery 2007, doi:10.1198/016214506000001437, section 4.2).
func quantileLoss(q [7]float64, y float64) float64 {
	sum := 0.0
	for i, p := range probabilities {
		if y < q[i] {
			p--
		}
		sum += p * (y - q[i])
	}
	return 2 * sum / float64(len(q))
}

// median is the upper one of an even number; NaN of none.
func median(xs []float64) float64 {
	if len(xs) == 0 {
		return math.NaN()
	}
	xs = slices.Clone(xs)
	slices.Sort(xs)
	return xs[len(xs)/2]
}

func mean(xs []float64) float64 {
	sum := 0.0
	for _, x := range xs {
		sum += x
	}
	return sum / float64(len(xs))
}

// share is a count of how many of how many.
type share struct{ n, of int }

func (s *share) add(yes bool) {
	s.of++
	if yes {
		s.n++
	}
}

// value is NaN of none.
func (s share) value() float64 { return float64(s.n) / float64(s.of) }
