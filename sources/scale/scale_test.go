package scale

import (
	"context"
	"errors"
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"sync/atomic"
	"testing"
	"time"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
	"tarebell/sources"
	"tarebell/sources/sourcetest"
)

var noon = time.Date(2027, 3, 1, 12, 0, 0, 0, time.UTC)

// serve answers every request with body and returns the address.
func serve(t *testing.T, media, body string) string {
	return serveFunc(t, func(w http.ResponseWriter, r *http.Request) {
		w.Header()["Content-Type"] = []string{media}
		fmt.Fprint(w, body)
	})
}

func serveFunc(t *testing.T, h http.HandlerFunc) string {
	s := httptest.NewServer(h)
	t.Cleanup(s.Close)
	return s.URL
}

// noted is a weighing with its note.
type noted struct {
	record.Event
	Note string
}

func pollOnce(t *testing.T, o Options) (noted, error) {
	t.Helper()
	if o.Now == nil {
		o.Now = func() time.Time { return noon }
	}
	if o.Item == "" {
		o.Item = "main"
	}
	if o.Unit == "" {
		o.Unit = "kg"
	}
	s, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	a, err := s.client.get(context.Background())
	if err != nil {
		return noted{}, s.client.failure(o.Item, err)
	}
	w, note, err := s.take(a)
	return noted{w, note}, err
}

// TestSuite runs what holds for every source against a real server on loopback.
func TestSuite(t *testing.T) {
	sourcetest.Exercise(t, func(t *testing.T) sourcetest.Case {
		want := []record.Event{}
		for i, g := range []unit.Grams{24875, 24845, 24840} {
			want = append(want, record.Event{Cylinder: "main", Gross: g, Temp: unit.Celsius(17 + i), HasTemp: true,
				At: noon.Add(time.Duration(i) * time.Hour), Origin: record.Scale})
		}
		var answered, broken atomic.Int64
		url := serveFunc(t, func(w http.ResponseWriter, r *http.Request) {
			if broken.Load() > 0 {
				http.Error(w, r.URL.String()+" "+r.Header.Get("Authorization"), http.StatusInternalServerError)
				return
			}
			now := want[min(int(answered.Add(1)), len(want))-1]
			fmt.Fprintf(w, `{"weight": %g, "temperature": %g}`, now.Gross.Kilograms(), float64(now.Temp))
		})
		clock := func() time.Time { return noon.Add(time.Duration(answered.Load()-1) * time.Hour) }
		s, err := New(Options{Endpoint: Endpoint{URL: url + "/?key=hush", Token: "hush-hush", Now: clock},
			Item: "main", Unit: "kg", Weight: "/weight", Temperature: "/temperature"})
		if err != nil {
			t.Fatal(err)
		}
		return sourcetest.Case{Source: s, Want: want, Tolerance: 1e-9, Secrets: []string{"hush"},
			Break: func() { broken.Store(1) }, Mend: func() { broken.Store(0) }}
	})
}

// TestAnswers: what can be read, and as what.
func TestAnswers(t *testing.T) {
	noTemp := math.NaN()
	for name, c := range map[string]struct {
		media, body string
		opt         Options
		gross       float64 // g
		temp        float64
		note        string
	}{
		"a bare number":               {"text/plain", "61.4", Options{}, 61400, noTemp, ""},
		"with line end and BOM":       {"text/plain; charset=utf-8", "\ufeff 61.4\r\n", Options{}, 61400, noTemp, ""},
		"with its unit":               {"text/plain", "61.4 kg", Options{}, 61400, noTemp, ""},
		"with a decimal comma":        {"text/plain", "61,4", Options{}, 61400, noTemp, ""},
		"pounds":                      {"text/plain", "135.375", Options{Unit: "lb"}, 135.375 * 453.59237, noTemp, ""},
		"ounces":                      {"", "32oz", Options{Unit: "oz"}, 907.18474, noTemp, ""},
		"exponent":                    {"", "6.14e4", Options{Unit: "g"}, 61400, noTemp, ""},
		"negative: a drifted zero":    {"text/plain", "-0.04", Options{}, -40, noTemp, ""},
		"a JSON number":               {"application/json", "61.4", Options{}, 61400, noTemp, ""},
		"JSON by pointer":             {"application/json", `{"weight":61.4}`, Options{Weight: "/weight"}, 61400, noTemp, ""},
		"JSON sent as text":           {"text/html", ` {"weight":61.4}`, Options{Weight: "/weight"}, 61400, noTemp, ""},
		"JSON, own media type":        {"application/vnd.example+json", `{"weight":61.4}`, Options{Weight: "/weight"}, 61400, noTemp, ""},
		"a number in a string":        {"application/json", `{"weight":" 61.4 "}`, Options{Weight: "/weight"}, 61400, noTemp, ""},
		"a string with unit":          {"application/json", `{"weight":"61.4 kg"}`, Options{Weight: "/weight"}, 61400, noTemp, ""},
		"deeper":                      {"application/json", `{"cells":[{"a/b":61400}]}`, Options{Unit: "g", Weight: "/cells/0/a~1b"}, 61400, noTemp, ""},
		"with temperature":            {"application/json", `{"w":61.4,"t":17.3}`, Options{Weight: "/w", Temperature: "/t"}, 61400, 17.3, ""},
		"temperature in Fahrenheit":   {"application/json", `{"w":61.4,"t":"68 F"}`, Options{Weight: "/w", Temperature: "/t"}, 61400, 20, ""},
		"temperature missing":         {"application/json", `{"w":61.4}`, Options{Weight: "/w", Temperature: "/t"}, 61400, noTemp, `no "/t" in the answer`},
		"temperature null":            {"application/json", `{"w":61.4,"t":null}`, Options{Weight: "/w", Temperature: "/t"}, 61400, noTemp, `temperature is null`},
		"temperature sensor off":      {"application/json", `{"w":61.4,"t":-127}`, Options{Weight: "/w", Temperature: "/t"}, 61400, noTemp, `temperature of -127 °C not used`},
		"temperature in unknown unit": {"application/json", `{"w":61.4,"t":"3 R"}`, Options{Weight: "/w", Temperature: "/t"}, 61400, noTemp, `temperature of "3 R" not used`},
		"raw counts":                  {"application/json", `{"w":614000}`, Options{Weight: "/w", Raw: &Raw{4000, 10000}}, 61000, noTemp, ""},
		"raw counts that fall":        {"text/plain", `-610000`, Options{Raw: &Raw{0, -10000}}, 61000, noTemp, ""},
		"SenML":                       {"application/senml+json", `[{"n":"gross","u":"kg","v":61.4}]`, Options{Unit: "lb"}, 61400, noTemp, ""},
		"SenML in grams":              {"application/senml+json", `[{"n":"gross","u":"g","v":61400}]`, Options{}, 61400, noTemp, ""},
		"SenML with temperature":      {"application/senml+json;v=1", `[{"bn":"urn:dev:ow:1:","n":"w","u":"kg","v":61.4},{"n":"t","u":"Cel","v":17.3}]`, Options{}, 61400, 17.3, ""},
		"SenML, kelvin":               {"application/senml+json", `[{"n":"w","u":"kg","v":61.4},{"n":"t","u":"K","v":293.15}]`, Options{}, 61400, 20, ""},
		"SenML, base value":           {"application/senml+json", `[{"bn":"w","bu":"kg","bv":60,"v":1.4}]`, Options{}, 61400, noTemp, ""},
		"SenML, only a base value":    {"application/senml+json", `[{"bn":"w","bu":"kg","bv":60}]`, Options{}, 60000, noTemp, ""},
		"SenML, by record":            {"application/senml+json", `[{"bn":"s/","bu":"kg","n":"net","v":1},{"n":"gross","v":61.4}]`, Options{Record: "gross"}, 61400, noTemp, ""},
		"SenML, latest of a series":   {"application/senml+json", `[{"n":"w","u":"kg","t":-5,"v":1},{"n":"w","u":"kg","v":61.4},{"n":"w","u":"kg","t":-9,"v":2}]`, Options{}, 61400, noTemp, ""},
		"SenML, raw counts":           {"application/senml+json", `[{"n":"w","u":"count","v":614000}]`, Options{Raw: &Raw{4000, 10000}}, 61000, noTemp, ""},
	} {
		t.Run(name, func(t *testing.T) {
			c.opt.URL = serve(t, c.media, c.body)
			w, err := pollOnce(t, c.opt)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(float64(w.Gross)-c.gross) > 1e-6 {
				t.Errorf("gross %v, want %v", w.Gross, c.gross)
			}
			if w.HasTemp == math.IsNaN(c.temp) || w.HasTemp && math.Abs(float64(w.Temp)-c.temp) > 1e-9 {
				t.Errorf("temperature %v %v, want %v", w.HasTemp, w.Temp, c.temp)
			}
			if w.Note != c.note {
				t.Errorf("note %q, want %q", w.Note, c.note)
			}
		})
	}
}

// TestSenMLTimes: a scale with a clock of its own says when it weighed, unless that clock is wrong.
func TestSenMLTimes(t *testing.T) {
	unix := noon.Unix()
	for name, c := range map[string]struct {
		body string
		at   time.Time
		note string
	}{
		"no time":        {`[{"n":"w","u":"kg","v":1}]`, noon, ""},
		"absolute":       {fmt.Sprintf(`[{"n":"w","u":"kg","v":1,"bt":%d,"t":-60.25}]`, unix), noon.Add(-60250 * time.Millisecond), ""},
		"relative":       {`[{"n":"w","u":"kg","v":1,"t":-90}]`, noon.Add(-90 * time.Second), ""},
		"a day late":     {`[{"n":"w","u":"kg","v":1,"t":-86400}]`, noon.Add(-24 * time.Hour), ""},
		"an unset clock": {`[{"n":"w","u":"kg","v":1,"t":946684800}]`, noon, "the scale's clock says 2000-01-01T00:00:00Z; its time is not used"},
		"a clock ahead":  {`[{"n":"w","u":"kg","v":1,"t":3600}]`, noon, "the scale's clock says 2027-03-01T13:00:00Z; its time is not used"},
		"little ahead":   {`[{"n":"w","u":"kg","v":1,"t":60}]`, noon.Add(time.Minute), ""},
		"800 years ago":  {`[{"n":"w","u":"kg","v":1,"t":-25245561600}]`, noon, "the scale's clock says 1227-03-01T12:00:00Z; its time is not used"},
	} {
		t.Run(name, func(t *testing.T) {
			w, err := pollOnce(t, Options{Endpoint: Endpoint{URL: serve(t, "application/senml+json", c.body)}})
			if err != nil || !w.At.Equal(c.at) || w.Note != c.note {
				t.Errorf("at %v, %q, %v; want %v, %q", w.At, w.Note, err, c.at, c.note)
			}
		})
	}
}

// TestRequest: what the scale is asked.
func TestRequest(t *testing.T) {
	for name, c := range map[string]struct {
		opt   Options
		user  string
		check func(http.Header) string
		want  string
	}{
		"bearer token":      {Options{Endpoint: Endpoint{Token: "tok"}}, "", func(h http.Header) string { return h.Get("Authorization") }, "Bearer tok"},
		"token in a header": {Options{Endpoint: Endpoint{Token: "tok", Header: "X-Api-Key"}}, "", func(h http.Header) string { return h.Get("X-Api-Key") + h.Get("Authorization") }, "tok"},
		"user and password": {Options{}, "me:pw@", func(h http.Header) string { return h.Get("Authorization") }, "Basic bWU6cHc="},
		"no compression":    {Options{}, "", func(h http.Header) string { return h.Get("Accept-Encoding") }, ""},
		"SenML preferred":   {Options{}, "", func(h http.Header) string { return h.Get("Accept") }, "application/senml+json, application/json;q=0.9, text/plain;q=0.8, */*;q=0.1"},
		"JSON preferred with a pointer": {Options{Weight: "/w"}, "", func(h http.Header) string { return h.Get("Accept") },
			"application/json, application/senml+json;q=0.9, text/plain;q=0.8, */*;q=0.1"},
	} {
		t.Run(name, func(t *testing.T) {
			got := make(chan string, 1)
			url := serveFunc(t, func(w http.ResponseWriter, r *http.Request) {
				got <- c.check(r.Header)
				fmt.Fprint(w, `{"w": 1}`)
			})
			c.opt.URL = "http://" + c.user + url[len("http://"):]
			pollOnce(t, c.opt)
			if s := <-got; s != c.want {
				t.Errorf("%q, want %q", s, c.want)
			}
		})
	}
}

// TestNoProxy: a proxy meant for the web does not get the household's weights.
func TestNoProxy(t *testing.T) {
	t.Setenv("HTTP_PROXY", "http://127.0.0.1:1")
	t.Setenv("http_proxy", "http://127.0.0.1:1")
	if ownTransport().Proxy != nil {
		t.Error("takes a proxy from the environment")
	}
	if _, err := pollOnce(t, Options{Endpoint: Endpoint{URL: serve(t, "", "1")}}); err != nil {
		t.Error(err)
	}
}

func TestBadOptions(t *testing.T) {
	ok := Endpoint{URL: "http://scale.example"}
	for want, o := range map[string]Options{
		`unit "kgs": unknown unit; use g, kg, lb or oz`:                                {Endpoint: ok, Unit: "kgs"},
		`raw: counts per unit are 0`:                                                   {Endpoint: ok, Unit: "kg", Raw: &Raw{}},
		`weight: "w" is no JSON Pointer (RFC 6901); want one such as /weight`:          {Endpoint: ok, Unit: "kg", Weight: "w"},
		`temperature: "/a~2b" is no JSON Pointer (RFC 6901); want one such as /weight`: {Endpoint: ok, Unit: "kg", Temperature: "/a~2b"},
		`url: want an address that begins with http:// or https://`:                    {Endpoint: Endpoint{URL: "hush"}, Unit: "kg"},
	} {
		if _, err := New(o); err == nil || err.Error() != want {
			t.Errorf("%v, want %s", err, want)
		}
	}
	if _, err := NewMonitor(MonitorOptions{Endpoint: ok, Value: "x"}); err == nil {
		t.Error("accepted a value that is no pointer")
	}
}

func TestMonitor(t *testing.T) {
	for name, c := range map[string]struct {
		media, body, value string
		want               float64
		fail               string
	}{
		"JSON":          {"application/json", `{"ppm":812}`, "/ppm", 812, ""},
		"bare":          {"text/plain", "812 ppm", "", 812, ""},
		"SenML ppm":     {"application/senml+json", `[{"n":"co2","u":"ppm","v":812}]`, "", 812, ""},
		"SenML ratio":   {"application/senml+json", `[{"n":"co2","u":"/","v":0.000812},{"n":"t","u":"Cel","v":20}]`, "", 812, ""},
		"warming up":    {"application/json", `{"ppm":0}`, "/ppm", 0, "main: value is 0 ppm; want 200 to 1000000 ppm; is it warming up?"},
		"too much":      {"text/plain", "1e7", "", 0, "main: value is 1e+07 ppm; want 200 to 1000000 ppm; is it warming up?"},
		"percent":       {"text/plain", "4 %", "", 0, `main: value is "4 %"; want a number, in ppm`},
		"wrong pointer": {"application/json", `{"ppm":812}`, "/co2", 0, `main: no "/co2" in the answer; set value to the JSON Pointer of one: /ppm`},
		"no CO2":        {"application/senml+json", `[{"n":"t","u":"Cel","v":20}]`, "", 0, `main: SenML without a record in ppm, but in "Cel"; want the value in ppm`},
	} {
		t.Run(name, func(t *testing.T) {
			m, err := NewMonitor(MonitorOptions{Endpoint{URL: serve(t, c.media, c.body), Now: func() time.Time { return noon }}, "main", c.value})
			if err != nil {
				t.Fatal(err)
			}
			got, err := m.Poll(context.Background())
			if c.fail != "" {
				if f := (*sources.Failure)(nil); !errors.As(err, &f) || err.Error() != c.fail {
					t.Errorf("%v, want %s", err, c.fail)
				}
				return
			}
			if err != nil || math.Abs(float64(got.PPM)-c.want) > 1e-9 || !got.At.Equal(noon) || got.Cylinder != "main" {
				t.Errorf("%+v, %v", got, err)
			}
		})
	}
}
