package scale

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"tarebell/sources"
	"tarebell/sources/sourcetest"
)

// refused polls a scale that cannot be read, checks that the failure can be shown, and returns its text.
func refused(t *testing.T, kind sources.Kind, o Options) string {
	t.Helper()
	w, err := pollOnce(t, o)
	f := (*sources.Failure)(nil)
	if !errors.As(err, &f) {
		t.Fatalf("got %+v, %v; want a *sources.Failure", w, err)
	}
	sourcetest.Explained(t, f, "hush")
	if f.Kind != kind {
		t.Errorf("kind %s, want %s: %v", f.Kind, kind, f)
	}
	return f.Error()
}

// TestAnswersThatAreNoWeight: every one is explained in full; the texts are exact.
func TestAnswersThatAreNoWeight(t *testing.T) {
	atW := Options{Weight: "/w"}
	senML := "application/senml+json"
	for name, c := range map[string]struct {
		media, body string
		opt         Options
		kind        sources.Kind
		want        string
	}{
		"empty":                    {"text/plain", " \n", Options{}, sources.Unreadable, `an empty answer; want a number`},
		"empty JSON":               {"application/json", "", atW, sources.Unreadable, `an empty answer; want JSON`},
		"a web page":               {"text/html", "<!doctype html><html><head><title>Router\n login</title>", Options{}, sources.Unreadable, `a web page: "Router login"; want the address of the weight itself, not of a page to look at`},
		"a page for JSON":          {"application/json", "<html>busy</html>", atW, sources.Unreadable, `a web page: "<html>busy</html>"; want JSON`},
		"words":                    {"text/plain", "scale ready", Options{}, sources.Unreadable, `the answer is "scale ready"; want a number`},
		"two numbers":              {"text/plain", "61.4 60.1", Options{}, sources.Unreadable, `the answer is "61.4 60.1"; want a number`},
		"two lines":                {"text/plain", "61.4\n60.1", Options{}, sources.Unreadable, `an answer of 9 bytes that starts with "61.4 60.1"; want a number, JSON or SenML`},
		"hexadecimal":              {"text/plain", "0x3d", Options{}, sources.Nonsense, `weight is "0x3d"; want a number, in kg`},
		"NaN":                      {"text/plain", "nan", Options{}, sources.Nonsense, `the answer is "nan"; the sensor has no reading; is it connected?`},
		"infinity":                 {"text/plain", "-Infinity", Options{}, sources.Nonsense, `the answer is "-Infinity"; the sensor has no reading; is it connected?`},
		"NaN in JSON":              {"application/json", `{"w": NaN}`, atW, sources.Nonsense, `JSON with NaN; the sensor has no reading; is it connected?`},
		"NaN in a string":          {"application/json", `{"w": "NaN"}`, atW, sources.Nonsense, `weight is "NaN"; the sensor has no reading; is it connected?`},
		"null":                     {"application/json", `{"w": null}`, atW, sources.Nonsense, `weight is null; the sensor has no reading; is it connected?`},
		"beyond float64":           {"application/json", `{"w": 1e999}`, atW, sources.Nonsense, `weight is "1e999"; want a number of sensible size`},
		"grams called kilograms":   {"application/json", `{"w": 61400}`, atW, sources.Nonsense, `weight is 61400 kg; want -20 to 1000 kg; is the unit right?`},
		"another unit":             {"text/plain", "135.4 lb", Options{}, sources.Nonsense, `weight is "135.4 lb"; the config says kg; one of the two is wrong`},
		"unknown unit":             {"text/plain", "9.6 st", Options{}, sources.Nonsense, `weight is "9.6 st"; want a number, in kg`},
		"thousands or decimals":    {"text/plain", "61,400", Options{}, sources.Nonsense, `the answer is "61,400"; may be thousands or decimals; want a decimal point`},
		"a unit with raw counts":   {"text/plain", "61.4 kg", Options{Raw: &Raw{0, 1}}, sources.Nonsense, `weight is "61.4 kg" where raw counts are configured; want a number without unit, or no raw`},
		"raw overflow":             {"text/plain", "1e300", Options{Raw: &Raw{0, 1e-300}}, sources.Nonsense, `weight is +Inf; want a number`},
		"true":                     {"application/json", `{"w": true}`, atW, sources.Unreadable, `weight is true; want a number`},
		"an object":                {"application/json", `{"w": {"kg": 61.4}}`, atW, sources.Unreadable, `weight is a whole object; set weight to the JSON Pointer of one: /w/kg`},
		"a list":                   {"application/json", `{"w": [61.4, 61.5]}`, atW, sources.Unreadable, `weight is a whole list; set weight to the JSON Pointer of one: /w/0, /w/1`},
		"an object, no pointer":    {"application/json", `{"gross": 61.4, "a/b": 1}`, Options{}, sources.Unreadable, `weight is a whole object; set weight to the JSON Pointer of one: /a~1b, /gross`},
		"a number, but a pointer":  {"application/json", `61.4`, atW, sources.Unreadable, `no "/w" in the answer; the whole answer is a number; leave weight out of the config`},
		"missing key":              {"application/json", `{"gross": 61.4}`, atW, sources.Unreadable, `no "/w" in the answer; set weight to the JSON Pointer of one: /gross`},
		"no number anywhere":       {"application/json", `{"state": "tare"}`, atW, sources.Unreadable, `no "/w" in the answer; there is no number in it; want one`},
		"many numbers":             {"application/json", `{"a":1,"b":1,"c":1,"d":1,"e":1,"f":1}`, atW, sources.Unreadable, `no "/w" in the answer; set weight to the JSON Pointer of one: /a, /b, /c, /d, /e, …`},
		"cut short":                {"application/json", `{"w": 61.`, atW, sources.Unreadable, `broken JSON: "{"w": 61."; want JSON as RFC 8259 has it`},
		"two values":               {"application/json", `{"w": 61.4}{"w": 1}`, atW, sources.Unreadable, `more than one JSON value: "{"w": 61.4}{"w": 1}"; want one`},
		"deep":                     {"application/json", strings.Repeat("[", 30000), atW, sources.Unreadable, `broken JSON: "` + strings.Repeat("[", 59) + `…"; want JSON as RFC 8259 has it`},
		"binary":                   {"application/octet-stream", "\x00\x01\xff\x1b[31m", Options{}, sources.Unreadable, `an answer of 8 bytes that starts with "····[31m"; want a number, JSON or SenML`},
		"SenML, an object":         {senML, `{"n":"w"}`, Options{}, sources.Unreadable, `SenML that is no list: "{"n":"w"}"; want a list of records (RFC 8428 section 5)`},
		"SenML, not of objects":    {senML, `[1]`, Options{}, sources.Unreadable, `SenML record 1 is no object; want records as in RFC 8428 section 4`},
		"SenML, nothing":           {senML, `[]`, Options{}, sources.Unreadable, `SenML without a number; want a record in kg`},
		"SenML, no mass":           {senML, `[{"n":"t","u":"Cel","v":20}]`, Options{}, sources.Unreadable, `SenML without a record in kg, but in "Cel"; want the weight in kg`},
		"SenML, two masses":        {senML, `[{"bu":"kg","n":"net","v":1},{"n":"gross","v":2}]`, Options{}, sources.Unreadable, `SenML with several records in kg: "net", "gross"; set record to the name of the weight`},
		"SenML, wrong record":      {senML, `[{"bu":"kg","n":"net","v":1}]`, Options{Record: "gross"}, sources.Unreadable, `SenML without a record "gross" in kg, but "net"; is record right?`},
		"SenML, text for a number": {senML, `[{"n":"w","u":"kg","v":"61"}]`, Options{}, sources.Unreadable, `SenML record 1 has a field v that is no number; want records as in RFC 8428 section 4`},
		"SenML, a later version":   {senML, `[{"bver":11,"n":"w","u":"kg","v":61}]`, Options{}, sources.Unreadable, `SenML record 1 has version 11; known is 10; want records as in RFC 8428 section 4`},
		"SenML, must understand":   {senML, `[{"n":"w","u":"kg","v":61,"x_":1}]`, Options{}, sources.Unreadable, `SenML record 1 needs the field "x_" to be understood; want records as in RFC 8428 section 4`},
		"SenML, time out of range": {senML, `[{"n":"w","u":"kg","v":61,"t":1e300}]`, Options{}, sources.Unreadable, `SenML record 1 has a time out of range; want records as in RFC 8428 section 4`},
		"SenML, beyond float64":    {senML, `[{"n":"w","u":"kg","bv":1e308,"v":1e308}]`, Options{}, sources.Unreadable, `SenML record 1 has a value out of range; want records as in RFC 8428 section 4`},
	} {
		t.Run(name, func(t *testing.T) {
			c.opt.URL = serve(t, c.media, c.body)
			if got, want := refused(t, c.kind, c.opt), "main: "+c.want; got != want {
				t.Errorf("got  %s\nwant %s", got, want)
			}
		})
	}
}

func TestRefusals(t *testing.T) {
	for name, c := range map[string]struct {
		status int
		after  string
		want   string
		wait   time.Duration
	}{
		"unauthorised": {401, "", "main: answers 401 Unauthorized; is the token or password right?", 0},
		"not found":    {404, "", "main: answers 404 Not Found; is the path in the url right?", 0},
		"not modified": {304, "", "main: answers 304 Not Modified; want the address where the weight is", 0},
		// RFC 9110 section 10.2.3 gives these two forms, and 120 and the date as examples.
		"busy, seconds": {503, "120", "main: answers 503 Service Unavailable; want 200", 2 * time.Minute},
		"busy, a date":  {503, noon.Add(time.Minute).Format(http.TimeFormat), "main: answers 503 Service Unavailable; want 200", time.Minute},
		"a date past":   {503, "Fri, 31 Dec 1999 23:59:59 GMT", "main: answers 503 Service Unavailable; want 200", 0},
		"far too long":  {429, "999999999", "main: answers 429 Too Many Requests; want 200", time.Hour},
		"nonsense":      {429, "-5", "main: answers 429 Too Many Requests; want 200", 0},
	} {
		t.Run(name, func(t *testing.T) {
			url := serveFunc(t, func(w http.ResponseWriter, r *http.Request) {
				if c.after != "" {
					w.Header().Set("Retry-After", c.after)
				}
				w.WriteHeader(c.status)
			})
			_, err := pollOnce(t, Options{Endpoint: Endpoint{URL: url}})
			f := (*sources.Failure)(nil)
			if !errors.As(err, &f) || f.Error() != c.want || f.After != c.wait || f.Kind != sources.Refused {
				t.Errorf("%v, after %v; want %s, %v", err, f.After, c.want, c.wait)
			}
		})
	}
}

func TestRedirects(t *testing.T) {
	other := serve(t, "", "1")
	var asked atomic.Int64
	url := serveFunc(t, func(w http.ResponseWriter, r *http.Request) {
		asked.Add(1)
		switch r.URL.Path {
		case "/moved":
			http.Redirect(w, r, "/weight", http.StatusFound)
		case "/loop":
			http.Redirect(w, r, "/loop?key=hush", http.StatusFound)
		case "/other":
			http.Redirect(w, r, other+"/?key=hush", http.StatusTemporaryRedirect)
		case "/file":
			http.Redirect(w, r, "file:///etc/passwd", http.StatusFound)
		default:
			fmt.Fprint(w, r.Header.Get("X-Key")[len("tok"):]+"61.4")
		}
	})
	at := func(path string) Options {
		return Options{Endpoint: Endpoint{URL: url + path, Header: "X-Key", Token: "tok"}}
	}
	if w, err := pollOnce(t, at("/moved")); err != nil || w.Gross != 61400 {
		t.Errorf("a redirect on the same host: %v, %v", w.Gross, err)
	}
	asked.Store(0)
	if got, want := refused(t, sources.Refused, at("/loop")), "main: redirects more than 3 times; not followed; want the address where the weight is"; got != want || asked.Load() != 4 {
		t.Errorf("%s after %d requests, want %s", got, asked.Load(), want)
	}
	if got, want := refused(t, sources.Refused, at("/other")), `main: redirects to "`+other+`"; not followed; want the address where the weight is`; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	if got := refused(t, sources.Refused, at("/file")); !strings.Contains(got, "redirects to") {
		t.Error(got)
	}
}

// TestEndless: an endless or huge answer costs little time and less memory.
func TestEndless(t *testing.T) {
	var sent atomic.Int64
	chunk := []byte(strings.Repeat("1", 32<<10))
	url := serveFunc(t, func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/announced" {
			w.Header().Set("Content-Length", "2147483648")
		}
		for sent.Load() < 2<<30 {
			n, err := w.Write(chunk)
			if sent.Add(int64(n)); err != nil {
				return
			}
		}
	})
	if got, want := refused(t, sources.Unreadable, Options{Endpoint: Endpoint{URL: url + "/announced"}}),
		"main: announces 2147483648 bytes; want at most 64 KiB; is it the address of the weight alone?"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	if got, want := refused(t, sources.Unreadable, Options{Endpoint: Endpoint{URL: url}}),
		"main: answers with more than 64 KiB; is it the address of the weight alone?"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	if n := sent.Load(); n > 64<<20 {
		t.Errorf("%d MB were taken before the connection was closed", n>>20)
	}
}

func TestHeadersAreBounded(t *testing.T) {
	url := serveFunc(t, func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("X-Long", strings.Repeat("x", 1<<20))
		fmt.Fprint(w, "61.4")
	})
	if got := refused(t, sources.Unreachable, Options{Endpoint: Endpoint{URL: url}}); !strings.Contains(got, "headers exceeded 16384 bytes") {
		t.Error(got)
	}
}

func TestUninvitedCompression(t *testing.T) {
	url := serveFunc(t, func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Encoding", "gzip")
		fmt.Fprint(w, "\x1f\x8b...")
	})
	if got, want := refused(t, sources.Unreadable, Options{Endpoint: Endpoint{URL: url}}),
		`main: answers with content encoding "gzip"; want it plain`; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

// TestHangs: no answer, half an answer, and a connection that says nothing end with the time-out.
func TestHangs(t *testing.T) {
	silent, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer silent.Close()
	hang := func(w http.ResponseWriter, r *http.Request) { <-r.Context().Done() }
	drip := func(w http.ResponseWriter, r *http.Request) {
		fmt.Fprint(w, "61")
		w.(http.Flusher).Flush()
		<-r.Context().Done()
	}
	for name, url := range map[string]string{
		"no answer": serveFunc(t, hang), "half an answer": serveFunc(t, drip), "nothing at all": "http://" + silent.Addr().String(),
	} {
		t.Run(name, func(t *testing.T) {
			got := refused(t, sources.Unreachable, Options{Endpoint: Endpoint{URL: url + "/?key=hush", Timeout: 30 * time.Millisecond}})
			want := "main: no whole answer from " + url[len("http://"):] + " within 30ms; is it on and in the network?"
			if got != want {
				t.Errorf("%s, want %s", got, want)
			}
		})
	}
}

func TestUnreachable(t *testing.T) {
	gone, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	addr := gone.Addr().String()
	gone.Close()
	https := httptest.NewUnstartedServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) {}))
	https.Config.ErrorLog = log.New(io.Discard, "", 0) // it complains about our distrust
	https.StartTLS()
	defer https.Close()
	plain := serve(t, "", "1")
	cut := serveFunc(t, func(w http.ResponseWriter, r *http.Request) {
		c, _, err := w.(http.Hijacker).Hijack()
		if err == nil {
			fmt.Fprint(c, "HTTP/1.1 200 OK\r\nContent-Length: 100\r\n\r\n61")
			c.Close()
		}
	})
	garbage := serveFunc(t, func(w http.ResponseWriter, r *http.Request) {
		if c, _, err := w.(http.Hijacker).Hijack(); err == nil {
			fmt.Fprint(c, "SMTP\r\n")
			c.Close()
		}
	})
	for url, want := range map[string]string{
		"http://hush:hush@" + addr + "/?key=hush": "main: " + addr + " refuses connections; is the port right, and the scale's program running?",
		https.URL: "main: the certificate of " + https.Listener.Addr().String() + " is not trusted; want one of a known authority, or http in your own network",
		strings.Replace(plain, "http:", "https:", 1) + "/": "main: " + plain[len("http://"):] + " speaks http, not https; want http:// in the url",
		cut:                                     "main: " + cut[len("http://"):] + " broke off its answer; is its supply or Wi-Fi weak?",
		"http://no-such-host.invalid/?key=hush": `main: no host "no-such-host.invalid"; is the name in the url right?`,
	} {
		if got := refused(t, sources.Unreachable, Options{Endpoint: Endpoint{URL: url, Transport: quickNames{ownTransport()}}}); got != want {
			t.Errorf("got  %s\nwant %s", got, want)
		}
	}
	if got := refused(t, sources.Unreachable, Options{Endpoint: Endpoint{URL: garbage}}); !strings.Contains(got, `"malformed HTTP response "SMTP""; is it a web server?`) {
		t.Error(got)
	}
}

// quickNames answers names in .invalid (RFC 2606) without asking a name server, as one would.
type quickNames struct{ http.RoundTripper }

func (q quickNames) RoundTrip(r *http.Request) (*http.Response, error) {
	if strings.HasSuffix(r.URL.Hostname(), ".invalid") {
		return nil, &net.OpError{Op: "dial", Err: &net.DNSError{Err: "no such host", Name: r.URL.Hostname(), IsNotFound: true}}
	}
	return q.RoundTripper.RoundTrip(r)
}

func TestCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	url := serveFunc(t, func(w http.ResponseWriter, r *http.Request) {
		cancel()
		<-r.Context().Done()
	})
	s, err := New(Options{Endpoint: Endpoint{URL: url}, Unit: "kg"})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Poll(ctx); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}

// TestEchoedSecrets: a scale that repeats the request does not get its secrets into our messages, not even
// their beginnings.
func TestEchoedSecrets(t *testing.T) {
	secrets := []string{"hush-token-1", "hush pass/word", "hush-key-é", "hush-user"}
	var body atomic.Value
	url := serveFunc(t, func(w http.ResponseWriter, r *http.Request) { io.WriteString(w, body.Load().(string)) })
	o := Options{Endpoint: Endpoint{URL: "http://hush-user:hush%20pass%2Fword@" + url[len("http://"):] + "/?key=hush-key-%C3%A9", Token: secrets[0]}}
	for _, s := range append(secrets, "hush+pass%2Fword", "hush%20pass%2Fword", "hush-key-%C3%A9") {
		for pad := 0; pad < 70; pad++ {
			body.Store(strings.Repeat("x", pad) + s)
			refused(t, sources.Unreadable, o)
		}
	}
}

// FuzzAnswer: no answer panics; what is accepted passes the checks; what is not is explained.
func FuzzAnswer(f *testing.F) {
	for _, s := range []string{"61.4", "61,4 kg", "<html>", `{"w":61.4,"t":20}`, `{"w":"61.4 kg"}`, `[{"bn":"a","bu":"kg","bt":1.8e9,"t":-1,"bv":1,"v":2}]`, `[{"u":"Cel","v":1}]`, "NaN", `{"w":NaN}`} {
		for kind := range 3 {
			f.Add(s, kind)
		}
	}
	media := []string{"text/plain", "application/json", "application/senml+json"}
	f.Fuzz(func(t *testing.T, body string, kind int) {
		if kind < 0 || kind >= len(media) {
			return
		}
		s, err := New(Options{Endpoint: Endpoint{URL: "http://scale.example/"}, Item: "main", Unit: "kg", Weight: "/w", Temperature: "/t"})
		if err != nil {
			t.Fatal(err)
		}
		r, err := s.read(answer{media[kind], []byte(body)}, noon)
		w, note := s.weighing(r, noon)
		if err == nil {
			err = sources.Check(w, noon)
		}
		if err != nil {
			sourcetest.Explained(t, s.client.failure("main", err))
			return
		}
		if n := len([]rune(note)); n > 300 {
			t.Errorf("a note of %d characters: %q", n, note)
		}
	})
}
