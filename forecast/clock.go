package forecast

import "time"

// clock reads the household's local time. It keeps the zone's offset for the hour, since asking for it costs
// more than everything else here.
type clock struct {
	loc    *time.Location
	from   int64 // unix seconds for which offset holds: [from, from+900)
	offset int64
	valid  bool
}

// local is a moment of the household's day.
type local struct {
	hour float64 // 0 to 24
	day  int     // days since 1 January 1970
	free bool    // Saturday or Sunday
}

// quarter divides every change of every zone's offset that is in use.
const quarter = 900

func (c *clock) read(t time.Time) local {
	s := t.Unix()
	if !c.valid || s < c.from || s >= c.from+quarter {
		_, off := t.In(c.loc).Zone()
		c.from, c.offset, c.valid = s-mod(s, quarter), int64(off), true
	}
	s += c.offset
	in := mod(s, 86400)
	day := (s - in) / 86400
	weekday := mod(day+4, 7) // 1970-01-01 was a Thursday
	return local{hour: float64(in) / 3600, day: int(day), free: weekday == 0 || weekday == 6}
}

// week is the hour of the week, 0 to 168, from Sunday on.
func (l local) week() float64 { return float64(mod(int64(l.day)+4, 7)*24) + l.hour }

func mod(a, b int64) int64 { return ((a % b) + b) % b }
