package demand

// weekdays is what one weekday drew beside what the clock alone had led to expect. A weekday that draws more makes drawing likelier; one that draws
// less changes nothing, since gas that leaves on it is no more suspicious for that.
type weekdays struct {
	hours           float64 // seen
	expected, draws float64 // steps that draw
	due, fell       float64 // g
}

// weekday is the day of the week of an hour of the week, 0 to 168.
func weekday(hour float64) int { return min(max(int(hour/24), 0), 6) }

// add counts a step of dt hours.
func (w *weekdays) add(dt, expected, draws, due, fell float64) {
	const keep = 1 - 7.0/memory
	w.hours += dt
	w.expected, w.draws = w.expected*keep+expected, w.draws*keep+draws
	w.due, w.fell = w.due*keep+due, w.fell*keep+fell
}

// aDay is the steps that draw on a day, about: for so many the prior counts that weekdays are alike.
const aDay = 14

// busy is by how much oftener this weekday draws than others at the same time.
func (w *weekdays) busy() float64 { return (w.draws + aDay) / (w.expected + aDay) }

// heavy is the same of the mass, where a day draws use g on average.
func (w *weekdays) heavy(use float64) float64 { return (max(w.fell, 0) + use) / (w.due + use) }

// Unseen reports that the household has not been seen on this weekday yet, from its beginning to its end.
func (m *Model) Unseen(hour float64) bool { return m.week[weekday(hour)].hours < 18 }
