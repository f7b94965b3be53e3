package simulated

import (
	"context"
	"encoding/json"
	"io"
	"log"
	"math"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat"

	"tarebell/forecast/unit/record"
	"tarebell/sources"
)

// bare is a scale without faults.
var bare = Scale{Noise: 1e-9}

func gross(t *testing.T, h *House, at time.Time) float64 {
	t.Helper()
	r, ok := h.GrossAt(at)
	if !ok {
		t.Fatalf("%v: no answer", at)
	}
	return float64(r.Gross)
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if math.Abs(got-want) > tol {
		t.Errorf("%s is %.4f, want %.4f ± %v", what, got, want, tol)
	}
}

func TestPerfectScaleShowsTheTruth(t *testing.T) {
	h := New(Options{Seed: 1, Start: start, Scale: bare})
	for d := 0.0; d < 200; d++ {
		near(t, "gross", gross(t, h, days(d)), float64(h.TrueNet(days(d)))+14_300+1_100, 1e-6)
	}
}

// TestNoise: readings of an idle cylinder are white, with the sd asked for.
func TestNoise(t *testing.T) {
	h := nobody(Options{Seed: 1, Scale: Scale{Noise: 20}})
	x := make([]float64, 20_000)
	for i := range x {
		x[i] = gross(t, h, start.Add(time.Duration(i)*10*time.Minute))
	}
	mean, sd := stat.MeanStdDev(x, nil)
	near(t, "mean", mean, 25_400, 4*20/math.Sqrt(20_000))
	near(t, "sd", sd, 20, 4*20/math.Sqrt(2*20_000))
	near(t, "correlation of neighbours", stat.Correlation(x[1:], x[:len(x)-1], nil), 0, 4/math.Sqrt(20_000))
	near(t, "kurtosis", stat.ExKurtosis(x, nil), 0, 4*math.Sqrt(24/20_000.))
}

func TestPolledTwiceAtOnce(t *testing.T) {
	h := nobody(Options{Scale: Scale{Noise: 20}})
	if gross(t, h, days(1)) == gross(t, h, days(1)) {
		t.Error("two polls at the same moment have the same noise")
	}
}

func TestResolution(t *testing.T) {
	h := New(Options{Seed: 2, Start: start, Scale: bathroom()})
	for d := 0.0; d < 100; d++ {
		if g := gross(t, h, days(d)); math.Abs(math.Remainder(g, 100)) > 1e-6 {
			t.Fatalf("%v is not a multiple of 100 g", g)
		}
	}
}

func TestTemperature(t *testing.T) {
	h := nobody(Options{Seed: 3, Scale: Scale{Noise: 1, PerKelvin: 30}})
	var temp, shown []float64
	for i := range 24 * 60 {
		r, _ := h.GrossAt(start.Add(time.Duration(i) * time.Hour))
		temp, shown = append(temp, float64(r.Temp)), append(shown, float64(r.Gross))
	}
	_, slope := stat.LinearRegression(temp, shown, nil, false)
	near(t, "slope", slope, 30, 0.3)
	if _, sd := stat.MeanStdDev(temp, nil); sd < 0.5 || sd > 3 {
		t.Errorf("temperature varies by %.2f K", sd)
	}
}

func TestSpikes(t *testing.T) {
	h := nobody(Options{Seed: 4, Scale: Scale{Noise: 1, Spikes: 0.05, SpikeSize: 3000}})
	n := 0.0
	const all = 10_000
	for i := range all {
		if math.Abs(gross(t, h, start.Add(time.Duration(i)*time.Minute))-25_400) > 10 {
			n++
		}
	}
	near(t, "share of spikes", n/all, 0.05*(1-10/3000.), 4*math.Sqrt(0.05*0.95/all))
}

// TestCreep: right after a fill the scale lags by c·ΔL; an e-th of that 20 minutes later.
func TestCreep(t *testing.T) {
	h := nobody(Options{Scale: Scale{Noise: 1e-9, Creep: 0.001}, NetFill: 1000})
	h.Fill(days(1), 11_000)
	full := 14_300 + 1_100 + 11_000.0
	near(t, "at once", gross(t, h, days(1)), full-10, 1e-6)
	near(t, "after 20 min", gross(t, h, days(1).Add(20*time.Minute)), full-10/math.E, 1e-6)
	near(t, "next day", gross(t, h, days(2)), full, 1e-6)
}

// TestCreepAfterASwapOffThePlatform: the whole load comes back with the cylinder.
func TestCreepAfterASwapOffThePlatform(t *testing.T) {
	h := nobody(Options{Scale: Scale{Noise: 1e-9, Creep: 0.001}, NetFill: 1000})
	h.Happen(Incident{At: days(1), What: Lifted, For: time.Hour})
	h.Fill(days(1).Add(30*time.Minute), 10_000)
	near(t, "off", gross(t, h, days(1).Add(40*time.Minute)), 0, 1e-6)
	near(t, "put back", gross(t, h, days(1).Add(time.Hour)), 25_400*(1-0.001), 1e-6)
	near(t, "next day", gross(t, h, days(2)), 25_400, 1e-6)
}

func TestMishaps(t *testing.T) {
	h := nobody(Options{Scale: bare, Script: []Incident{
		{At: days(1), What: ObjectOn, Mass: 700, For: time.Hour},
		{At: days(3), What: Lifted, For: time.Hour},
		{At: days(4), What: ScaleSilent, For: time.Hour},
	}})
	const full = 25_400.0
	half := 30 * time.Minute
	near(t, "untouched", gross(t, h, days(0.5)), full, 1e-6)
	near(t, "with an object", gross(t, h, days(1).Add(half)), full+700, 1e-6)
	near(t, "without it", gross(t, h, days(1).Add(2*half)), full, 1e-6)
	near(t, "lifted", gross(t, h, days(3).Add(half)), 0, 1e-6)
	near(t, "back", gross(t, h, days(3).Add(3*half)), full, 1e-6)
	if _, ok := h.GrossAt(days(4).Add(half)); ok {
		t.Error("a silent scale answered")
	}
}

func TestFill(t *testing.T) {
	h := nobody(Options{Scale: bare})
	h.Fill(days(1), 9_000)
	near(t, "gross", gross(t, h, days(1)), 14_300+1_100+9_000, 1e-6)
	if v := h.Truth(); v.Returned != 10_000 || v.Filled != 19_000 {
		t.Errorf("truth is %+v", v)
	}
}

func TestEndpoint(t *testing.T) {
	now := days(1)
	h := nobody(Options{Scale: Scale{Resolution: 1}, Script: []Incident{{At: days(2), What: ScaleSilent}}})
	srv := httptest.NewUnstartedServer(Endpoint{h, func() time.Time { return now }})
	srv.Config.ErrorLog = log.New(io.Discard, "", 0)
	srv.Start()
	defer srv.Close()

	get := func(method string) (*http.Response, error) {
		req, err := http.NewRequestWithContext(context.Background(), method, srv.URL, nil)
		if err != nil {
			t.Fatal(err)
		}
		return srv.Client().Do(req)
	}
	resp, err := get(http.MethodGet)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	var got map[string]any
	if err := json.NewDecoder(resp.Body).Decode(&got); err != nil {
		t.Fatal(err)
	}
	if got["weight"] != 25.4 || got["unit"] != "kg" || resp.Header.Get("Content-Type") != "application/json" {
		t.Errorf("answer is %v", got)
	}
	if temp, ok := got["temperature"].(float64); !ok || temp < 5 || temp > 35 {
		t.Errorf("temperature is %v", got["temperature"])
	}
	if resp, err := get(http.MethodPost); err != nil || resp.StatusCode != http.StatusMethodNotAllowed {
		t.Errorf("POST: %v, %v", resp, err)
	}
	now = days(3)
	if resp, err := get(http.MethodGet); err == nil {
		t.Errorf("a silent scale answered %s", resp.Status)
	}
}

// TestReadingsAreNearTheTruth: in an ordinary house the scale is off by what its faults make, and seldom silent.
func TestReadingsAreNearTheTruth(t *testing.T) {
	h := New(Options{Seed: 1, Start: start})
	n := 0
	for i := range 5000 {
		at := start.Add(time.Duration(i) * time.Hour)
		r, ok := h.GrossAt(at)
		if !ok {
			continue
		}
		n++
		w := record.Event{Kind: record.Weighed, Gross: r.Gross, Temp: r.Temp, HasTemp: true, At: at, Origin: record.Scale}
		if err := sources.Check(w, at); err != nil {
			t.Fatal(err)
		}
		if math.Abs(float64(r.Gross-14_300-1_100-h.TrueNet(at))) > 4000 {
			t.Errorf("%v: gross is %v", at, r.Gross)
		}
	}
	if n < 4500 || n == 5000 {
		t.Errorf("%d of 5000 polls answered; silences are expected, but few", n)
	}
}

// bathroom is a bathroom scale that people read; common practice, no source.
func bathroom() Scale {
	return Scale{Noise: 80, Resolution: 100, PerKelvin: 5, Lag: time.Hour, Wander: 5}
}
