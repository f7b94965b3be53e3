package household

import (
	"testing"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/unit/record"
)

// TestSpareTakesThePlace: the cylinder that takes another's place stands on its scale, in its room and beside its monitor.
func TestSpareTakesThePlace(t *testing.T) {
	o := options()
	c := &o.Cylinders[0]
	c.Scale, c.AirAlarm, c.RoomVolume, c.AirChanges = true, 5_000, 38_000, 0.5
	o.Cylinders = append(o.Cylinders, Cylinder{Name: "second", SilentAfter: 26 * time.Hour, Spare: true, Forecast: c.Forecast})
	e := New(o)
	feedAll(e, readings(start, 10, 5_900, 55))
	e.airs(time.Minute, 450, 440, 450)
	e.Apply(record.Event{Cylinder: "second", Instead: "main", At: e.Now().Add(time.Minute), Kind: record.InUse})
	e.Apply(record.Event{Kind: record.Weighed, Cylinder: "main", At: e.Now().Add(time.Minute), Gross: 15_900})

	second := e.find("second")
	e.found(second, []forecast.Finding{{Kind: forecast.SlowLoss, At: e.Now(), Since: e.Now().Add(-time.Hour), Mass: 240, Rate: 5, RateSD: 1}})
	if l := second.leaks.open.loss(e.turn(second), second.place, second.fc.Outlook(e.now)); l.Assumed || l.Room.Volume != 38_000 {
		t.Error("a loss knows nothing of the room any more")
	}
	said := append(e.airs(time.Minute, 1200), e.airs(time.Minute, 6000)...)
	if len(said) != 2 || said[0].Follows == "" || said[0].Cylinder != "second" || said[1].Severity != notice.Danger || said[1].Cylinder != "second" {
		t.Errorf("the monitor made it say %+v, want the loss raised and the alarm, of the second cylinder", said)
	}
	e.Apply(record.Event{Kind: record.Weighed, Cylinder: "main", At: e.Now().Add(time.Minute), Gross: 12_000})
	if e.Pace("main") != forecast.AtOnce {
		t.Error("a reading that stands out is not to be repeated")
	}
	last := e.Now()
	silent := ofKind(e.Advance(last.Add(24*time.Hour)), notice.ScaleSilent)
	if len(silent) != 1 || !silent[0].At.Equal(last.Add(6*time.Hour)) {
		t.Errorf("of the scale it says %+v, want its silence after six hours", silent)
	}
}
