package household

import (
	"tarebell/forecast/serving"
	"tarebell/forecast/unit"
)

// servings is what a serving takes, and who logged how many.
type servings struct {
	litres   unit.Litres        // of drink in one; 0 unknown
	gas      unit.Grams         // for one; 0 unknown
	perLitre float64            // gas in a litre of drink, g/L; 0 unknown
	logged   map[string]float64 // by name
}

func newServings(cfg *Cylinder) servings {
	return servings{litres: cfg.Litres, gas: cfg.Forecast.Serving, perLitre: cfg.GramsPerLitre, logged: map[string]float64{}}
}

// adopt plans from now on with a serving found by weighing.
func (s *servings) adopt(found serving.Serving) {
	if found.Litres <= 0 {
		found.Litres = s.litres
	}
	s.litres, s.gas = found.Litres, found.CO2
	if p := found.PerLitre(); p > 0 {
		s.perLitre = float64(p)
	}
}

// configured is n servings in servings as configured, which is how the forecast counts.
func (s *servings) configured(n float64, cfg *Cylinder) float64 {
	if s.gas > 0 && cfg.Forecast.Serving > 0 {
		return n * float64(s.gas/cfg.Forecast.Serving)
	}
	return n
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
