package household

import (
	"tarebell/forecast/serving"
	"tarebell/forecast/unit"
)

// servings is what a serving takes, and who logged how many.
type servings struct {
	found  serving.Serving    // by weighing; zero: as configured
	logged map[string]float64 // by name
}

// somebody is for whom servings count when it was not said, as in recorded events; others is under whose name they are kept once there are more
// names than maxNames.
const (
	somebody = "somebody"
	others   = "others"
	maxNames = 64
)

// log counts servings for somebody, of the present fill; nil: there is none yet.
func (s *servings) log(present *fill, by string, n float64) {
	if by == "" {
		by = somebody
	}
	if _, known := s.logged[by]; !known && len(s.logged) >= maxNames {
		by = others
	}
	s.logged[by] += n
	if present == nil {
		return
	}
	if present.served == nil {
		present.served = map[string]float64{}
	}
	present.served[by] += n
}

// adopt plans from now on with a serving found by weighing.
func (s *servings) adopt(found serving.Serving, cfg *Cylinder) {
	if found.Litres <= 0 {
		found.Litres = s.litres(cfg)
	}
	s.found = found
}

// litres is the drink in a serving, 0 unknown.
func (s *servings) litres(cfg *Cylinder) unit.Litres {
	if s.found.Litres > 0 {
		return s.found.Litres
	}
	return cfg.Litres
}

// gas is what a serving takes, 0 unknown.
func (s *servings) gas(cfg *Cylinder) unit.Grams {
	if s.found.CO2 > 0 {
		return s.found.CO2
	}
	return cfg.Forecast.Serving
}

// perLitre is the gas in a litre of drink, g/L; 0 unknown.
func (s *servings) perLitre(cfg *Cylinder) float64 {
	if p := s.found.PerLitre(); p > 0 {
		return float64(p)
	}
	return cfg.GramsPerLitre
}

// configured is a serving found by weighing in servings as configured, which is how the forecast counts.
func (s *servings) configured(cfg *Cylinder) float64 {
	if s.found.CO2 > 0 && cfg.Forecast.Serving > 0 {
		return float64(s.found.CO2 / cfg.Forecast.Serving)
	}
	return 1
}
