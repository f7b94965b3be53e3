package loss

import "time"

// logged remembers the servings that the household says it made lately. A fall that they explain is no loss.
type logged struct {
	at   [logs]time.Time
	mass [logs]float64 // g
	next int
	each float64 // g, a serving
}

const (
	logs       = 32
	mostLogged = 60               // servings that logs can explain at once: a slip of the finger must not hide an open valve
	helping    = 8.0              // g, a serving where its size is not known: our own guess
	belated    = 30 * time.Minute // people log when they are done; or just before
)

func (l *logged) add(at time.Time, mass float64) {
	l.at[l.next%logs], l.mass[l.next%logs] = at, mass
	l.next++
}

// between is what was logged from from to to, g, somewhat too early or too late.
func (l *logged) between(from, to time.Time) (mass float64) {
	for i := range min(l.next, logs) {
		if !l.at[i].Before(from.Add(-belated)) && !l.at[i].After(to.Add(belated)) {
			mass += l.mass[i]
		}
	}
	return min(mass, mostLogged*l.each)
}

// Made says that n servings were made by at. They explain that much of a fall; that more than they take has gone is
// no proof of a loss, since nobody logs everything.
func (w *Watch) Made(at time.Time, n float64) {
	s := float64(w.opt.Serving)
	if s <= 0 {
		s = helping
	}
	if n > 0 {
		w.logged.each = s
		w.logged.add(at, n*s)
	}
}
