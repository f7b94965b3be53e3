package app

import (
	"crypto/subtle"
	"errors"
	"io"
	"maps"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"tarebell/sources"
	"tarebell/sources/scale"
)

// pushed is what a board that sent a weighing is answered.
type pushed struct {
	Stored   bool    `json:"stored"` // false without an error: it is known already
	Cylinder string  `json:"cylinder,omitempty"`
	GrossKG  float64 `json:"gross_kg,omitempty"`
	At       string  `json:"at,omitempty"`
	Note     string  `json:"note,omitempty"` // what was odd and did no harm
	Error    string  `json:"error,omitempty"`
}

// refuse answers that nothing was taken; after, if not 0, is when to try again.
func refuse(w http.ResponseWriter, status int, after time.Duration, why string) {
	if after > 0 {
		w.Header().Set("Retry-After", strconv.Itoa(int(after/time.Second)))
	}
	answer(w, status, pushed{Error: why})
}

// take answers POST /weighings.
func (s *Site) take(w http.ResponseWriter, r *http.Request) {
	a := s.app.Load()
	if a == nil {
		refuse(w, http.StatusServiceUnavailable, pushEvery, "the program is starting")
		return
	}
	scheme, token, _ := strings.Cut(r.Header.Get("Authorization"), " ")
	known := strings.EqualFold(scheme, "Bearer") && !a.opt.Push.Empty() && subtle.ConstantTimeCompare([]byte(strings.TrimSpace(token)), []byte(a.opt.Push.Reveal())) == 1
	limit := s.pushes
	if !known {
		limit = s.strange
	}
	switch {
	case !limit.Allow():
		refuse(w, http.StatusTooManyRequests, pushEvery, "too many at once")
	case !known:
		w.Header().Set("WWW-Authenticate", `Bearer realm="weighings"`) // RFC 6750 section 3
		refuse(w, http.StatusUnauthorized, 0, "want the header Authorization: Bearer and the token of listen in the config")
	default:
		a.takePush(w, r)
	}
}

// takePush takes a weighing that was sent with the token.
func (a *App) takePush(w http.ResponseWriter, r *http.Request) {
	name, src := a.pushTo(r.URL.Query().Get("cylinder"))
	if src == nil {
		refuse(w, http.StatusNotFound, 0, "want ?cylinder= and one that has a scale: "+strings.Join(a.withScale(), ", "))
		return
	}
	if e := r.Header.Get("Content-Encoding"); e != "" && !strings.EqualFold(e, "identity") {
		refuse(w, http.StatusUnsupportedMediaType, 0, "want it plain, without a content encoding")
		return
	}
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, scale.MaxBody))
	if err != nil {
		status := http.StatusBadRequest
		if tooLong := (*http.MaxBytesError)(nil); errors.As(err, &tooLong) {
			status = http.StatusRequestEntityTooLarge
		}
		refuse(w, status, 0, "want at most 64 KiB, and all of it")
		return
	}
	weighing, note, err := src.Read(r.Header.Get("Content-Type"), body)
	status := http.StatusOK
	out := pushed{Cylinder: name, GrossKG: weighing.Gross.Kilograms(), Note: note}
	if err == nil {
		out.At = weighing.At.Format(time.RFC3339Nano)
		weighing.Cylinder = name
		var stored bool
		stored, err = a.accept(r.Context(), weighing)
		if out.Stored = stored; stored {
			status = http.StatusCreated
		}
	}
	a.noteScale(name, "pushed weighing", err)
	if err != nil {
		a.refusePush(w, err)
		return
	}
	answer(w, status, out)
}

// refusePush answers why a weighing was not taken. One that came before needs no other try; a ledger that takes nothing may later.
func (a *App) refusePush(w http.ResponseWriter, err error) {
	switch cause := causeOf(err); sources.Kind(cause) {
	case sources.Stale:
		answer(w, http.StatusOK, pushed{Note: err.Error()})
	case sources.Nonsense:
		refuse(w, http.StatusUnprocessableEntity, 0, err.Error())
	case ledgerCause:
		refuse(w, http.StatusServiceUnavailable, troubledWait, "it cannot be stored at present")
	default:
		refuse(w, http.StatusBadRequest, 0, err.Error())
	}
}

// pushTo is the scale that is meant by the name of a cylinder; without one, the only scale.
func (a *App) pushTo(name string) (string, *scale.Scale) {
	if names := a.withScale(); name == "" && len(names) == 1 {
		name = names[0]
	}
	s, _ := a.opt.Sources[name].(*scale.Scale)
	return name, s
}

// withScale names the cylinders that stand on a scale.
func (a *App) withScale() []string { return slices.Sorted(maps.Keys(a.opt.Sources)) }
