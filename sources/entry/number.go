package entry

import (
	"strconv"
	"strings"
)

// amount is what a number may mean. 24.871 is a decimal or, as in "24.871 g", twenty-four thousand.
type amount struct {
	v         float64
	thousands float64 // the other reading; 0 if there is none
	integer   bool    // written without separator
}

// readNumber reads digits with separators. A number with both signs has its decimals after the last one;
// a sign that occurs twice separates thousands; one sign with three digits after it is ambiguous. Ten million
// and more is no weight in any unit.
func readNumber(s string) (amount, bool) {
	if len(s) > 15 {
		return amount{}, false
	}
	a, ok := readAny(s)
	return a, ok && a.v < 1e7 && a.thousands < 1e7
}

func readAny(s string) (amount, bool) {
	s = strings.ReplaceAll(s, string(space), "'")
	cut := strings.LastIndexAny(s, ".,")
	if cut < 0 {
		v, ok := groups(s)
		return amount{v: v, integer: !strings.Contains(s, "'")}, ok
	}
	whole, part := s[:cut], s[cut+1:]
	if strings.Contains(part, "'") || part == "" {
		return amount{}, false
	}
	if strings.IndexByte(whole, s[cut]) >= 0 { // 1.234.567
		v, ok := groups(s)
		return amount{v: v}, ok
	}
	w, ok := groups(whole)
	if whole != "" && !ok {
		return amount{}, false
	}
	v, err := strconv.ParseFloat(strconv.FormatFloat(w, 'f', 0, 64)+"."+part, 64)
	a := amount{v: v}
	if len(part) == 3 && !strings.ContainsAny(whole, ".,'") {
		a.thousands, _ = groups(s)
	}
	return a, err == nil
}

// groups reads a whole number whose thousands may be separated, always by the same sign.
func groups(s string) (float64, bool) {
	if s == "" {
		return 0, false
	}
	sep := strings.IndexAny(s, ".,'")
	if sep < 0 {
		v, err := strconv.ParseFloat(s, 64)
		return v, err == nil
	}
	parts := strings.Split(s, s[sep:sep+1])
	for i, p := range parts {
		if strings.ContainsAny(p, ".,'") || i > 0 && len(p) != 3 || i == 0 && (len(p) == 0 || len(p) > 3 || p[0] == '0') {
			return 0, false
		}
	}
	v, err := strconv.ParseFloat(strings.Join(parts, ""), 64)
	return v, err == nil
}

// small reads a whole number of one to four digits, as in times and dates.
func small(s string) (int, bool) {
	if len(s) == 0 || len(s) > 4 {
		return 0, false
	}
	n, err := strconv.Atoi(s)
	return n, err == nil
}
