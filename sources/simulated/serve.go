package simulated

import (
	"encoding/json"
	"math"
	"net/http"
	"time"

	"tarebell/forecast/unit"
)

// Endpoint serves the scale of a house over HTTP as JSON, such as
//
//	{"weight":24.871,"unit":"kg","temperature":19.8}
//
// A silent scale drops the connection without an answer.
type Endpoint struct {
	House *House
	Now   func() time.Time // nil: time.Now
}

type answer struct {
	Weight      float64      `json:"weight"`
	Unit        string       `json:"unit"`
	Temperature unit.Celsius `json:"temperature"`
}

// ServeHTTP answers GET and HEAD.
func (e Endpoint) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		w.Header().Set("Allow", "GET, HEAD")
		http.Error(w, "only GET", http.StatusMethodNotAllowed)
		return
	}
	now := time.Now
	if e.Now != nil {
		now = e.Now
	}
	got, ok := e.House.GrossAt(now())
	if !ok {
		panic(http.ErrAbortHandler)
	}
	a := answer{math.Round(float64(got.Gross)*10) / 1e4, "kg", got.Temp}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	_ = json.NewEncoder(w).Encode(a) // a reader that has gone away is no concern of the scale
}
