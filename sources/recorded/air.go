package recorded

import (
	"errors"
	"strconv"
	"strings"

	"tarebell/forecast/unit"
)

// air reads "5200 ppm", what a CO2 monitor beside the cylinder showed.
func (e *Event) air(s string) error {
	number, ok := strings.CutSuffix(s, " ppm")
	x, err := strconv.ParseFloat(number, 64)
	if !ok || err != nil || !plain(number) || x < 0 || x > 1e6 {
		return errors.New("want what the CO2 monitor showed, for example 5200 ppm")
	}
	e.PPM = unit.PPM(x)
	return nil
}

func (e Event) airText() string { return strconv.FormatFloat(float64(e.PPM), 'f', -1, 64) + " ppm" }
