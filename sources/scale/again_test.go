package scale

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"errors"
	"fmt"
	"io"
	"log"
	"math/big"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"tarebell/sources"
)

// senMLAt is a SenML pack weighed at t.
func senMLAt(t time.Time) []byte {
	return fmt.Appendf(nil, `[{"n":"w","u":"kg","v":24.6,"t":%d}]`, t.Unix())
}

// reader is a scale that is not asked, by a clock.
func reader(t *testing.T, o Options, now *time.Time) *Scale {
	t.Helper()
	o.Item, o.Unit, o.Now = "main", "kg", func() time.Time { return *now }
	s, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestFrozenTime: a scale that hands in one weighing for ever fails after four times its pace, and is well with the next new one.
func TestFrozenTime(t *testing.T) {
	now := noon
	s := reader(t, Options{Every: 10 * time.Minute}, &now)
	keys := map[string]bool{}
	for i := range 14 {
		w, _, err := s.Read("application/senml+json", senMLAt(noon))
		if err == nil {
			keys[sources.Key(w)] = true
		}
		if f := (*sources.Failure)(nil); i > 4 != errors.As(err, &f) {
			t.Errorf("poll %d: %v", i, err)
		} else if f != nil && (f.Kind != sources.Stale || f.Error() != "main: sends the weighing of 2027-03-01T12:00:00Z again and again; does it still weigh? want a new time with each weighing, or none") {
			t.Errorf("poll %d: %s %v", i, f.Kind, f)
		}
		now = now.Add(10 * time.Minute)
	}
	if len(keys) != 1 {
		t.Errorf("one weighing has the keys %v", keys)
	}
	if w, _, err := s.Read("application/senml+json", senMLAt(now)); err != nil || !w.At.Equal(now) {
		t.Errorf("a new weighing: %v %v", w.At, err)
	}
}

// TestRepeatOfAWrongClock: a time that cannot be trusted still names the weighing.
func TestRepeatOfAWrongClock(t *testing.T) {
	now := noon
	s := reader(t, Options{}, &now)
	first, _, err := s.Read("application/senml+json", senMLAt(noon.AddDate(-7, 0, 0)))
	if err != nil {
		t.Fatal(err)
	}
	now = now.Add(time.Minute)
	again, _, err := s.Read("application/senml+json", senMLAt(noon.AddDate(-7, 0, 0)))
	if err != nil || sources.Key(again) != sources.Key(first) || !again.At.Equal(noon) {
		t.Errorf("%q at %v, want %q (%v)", sources.Key(again), again.At, sources.Key(first), err)
	}
}

// TestSlowScale: one that weighs hourly and is asked every ten minutes is suspected once; then its pace is known.
func TestSlowScale(t *testing.T) {
	now := noon
	s := reader(t, Options{Every: 10 * time.Minute}, &now)
	failed := 0
	for i := range 60 {
		if _, _, err := s.Read("application/senml+json", senMLAt(noon.Add(time.Duration(i/6)*time.Hour))); err != nil {
			failed++
		}
		now = now.Add(10 * time.Minute)
	}
	if failed != 1 {
		t.Errorf("%d of 60 answers failed, want one", failed)
	}
}

// TestOwnTime: JSON may say when it was weighed.
func TestOwnTime(t *testing.T) {
	now := noon
	for body, want := range map[string]string{
		`{"w":24.6,"at":"2027-03-01T12:58:30+01:00"}`: "2027-03-01T11:58:30Z",
		`{"w":24.6,"at":1803902310.25}`:               "2027-03-01T11:58:30.25Z",
		`{"w":24.6,"at":"noon"}`:                      `main: time is "noon"; want RFC 3339 such as 2027-03-01T12:00:00Z, or seconds since 1970`,
		`{"w":24.6,"at":1e300}`:                       `main: time is "1e300"; want RFC 3339 such as 2027-03-01T12:00:00Z, or seconds since 1970`,
		`{"w":24.6,"at":null}`:                        `main: time is no time; want RFC 3339 such as 2027-03-01T12:00:00Z, or seconds since 1970`,
		`{"w":24.6}`:                                  `main: no "/at" in the answer; set time to the JSON Pointer of when it was weighed, or leave it out`,
	} {
		w, _, err := reader(t, Options{Weight: "/w", Time: "/at"}, &now).Read("application/json", []byte(body))
		got := w.At.Format(time.RFC3339Nano)
		if err != nil {
			got = err.Error()
		}
		if got != want {
			t.Errorf("%s: %s, want %s", body, got, want)
		}
	}
}

func TestNotAsked(t *testing.T) {
	now := noon
	if _, err := reader(t, Options{}, &now).Poll(context.Background()); err == nil {
		t.Error("a scale without url was asked")
	}
}

// TestCertificates: what is wrong with a certificate is said.
func TestCertificates(t *testing.T) {
	for want, c := range map[string]struct {
		from, to time.Time
		host     string
	}{
		"expired on 2026-03-01T12:00:00Z; renew it; or is this machine's clock wrong?": {noon.AddDate(-2, 0, 0), noon.AddDate(-1, 0, 0), "127.0.0.1"},
		"is valid only from 2028-03-01T12:00:00Z; is this machine's clock right?":      {noon.AddDate(1, 0, 0), noon.AddDate(2, 0, 0), "127.0.0.1"},
		"is for another name; want the name in the url that the certificate has":       {noon.AddDate(-1, 0, 0), noon.AddDate(1, 0, 0), "192.0.2.1"},
		"is not trusted; want one of a known authority, or http in your own network":   {noon.AddDate(-1, 0, 0), noon.AddDate(1, 0, 0), ""},
	} {
		cert, roots := certificate(t, c.from, c.to, c.host)
		if c.host == "" {
			roots = x509.NewCertPool()
		}
		s := httptest.NewUnstartedServer(http.NotFoundHandler())
		s.TLS = &tls.Config{Certificates: []tls.Certificate{cert}}
		s.Config.ErrorLog = log.New(io.Discard, "", 0)
		s.StartTLS()
		rt := ownTransport()
		rt.TLSClientConfig = &tls.Config{RootCAs: roots, Time: func() time.Time { return noon }}
		got := refused(t, sources.Unreachable, Options{Endpoint: Endpoint{URL: s.URL, Transport: rt}})
		if host := strings.TrimPrefix(s.URL, "https://"); got != "main: the certificate of "+host+" "+want {
			t.Errorf("got  %s\nwant %s", got, want)
		}
		s.Close()
	}
}

// certificate signs itself for a host.
func certificate(t *testing.T, from, to time.Time, host string) (tls.Certificate, *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	c := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "scale"}, NotBefore: from, NotAfter: to,
		DNSNames: []string{"scale.example"}, BasicConstraintsValid: true, IsCA: true}
	if host != "192.0.2.1" {
		c.IPAddresses = append(c.IPAddresses, []byte{127, 0, 0, 1})
	}
	der, err := x509.CreateCertificate(rand.Reader, c, c, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	parsed, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	roots := x509.NewCertPool()
	roots.AddCert(parsed)
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}, roots
}
