package household

import (
	"tarebell/bot/internal/notice"
	"tarebell/forecast/room"
	"tarebell/forecast/unit"
)

// air is what a loss at rate would make of the room's air by a well-mixed balance.
func air(c *Cylinder, rate unit.GramsPerHour) notice.Air {
	if c.RoomVolume <= 0 || rate <= 0 {
		return notice.Air{}
	}
	r, err := room.New(c.RoomVolume, c.AirChanges)
	if err != nil {
		return notice.Air{}
	}
	return notice.Air{Known: true, Volume: c.RoomVolume, AirChanges: c.AirChanges,
		After15: r.After(0.25/24, rate, r.Outdoor), After60: r.After(1.0/24, rate, r.Outdoor), Steady: r.Steady(rate)}
}
