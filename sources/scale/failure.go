package scale

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"io"
	"net"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"syscall"
	"time"
	"unicode"

	"tarebell/sources"
)

func unreadable(read, want string) *sources.Failure {
	return &sources.Failure{Kind: sources.Unreadable, Read: read, Want: want}
}

func nonsense(read, want string) *sources.Failure {
	return &sources.Failure{Kind: sources.Nonsense, Read: read, Want: want}
}

// failure makes any error of a poll fit to be shown: explained, bounded, without secrets.
func (c *client) failure(item string, err error) *sources.Failure {
	var known *sources.Failure
	f := c.transport(err)
	if errors.As(err, &known) {
		f = *known
	}
	f.Item, f.Read, f.Want = item, c.scrub(f.Read), c.scrub(f.Want)
	return &f
}

// transport explains an error of dialling, sending or receiving.
func (c *client) transport(err error) sources.Failure {
	if u := (*url.Error)(nil); errors.As(err, &u) {
		err = u.Err // the outer text repeats the whole address
	}
	var (
		redirect errRedirect
		dns      *net.DNSError
		cert     *tls.CertificateVerificationError
	)
	f := sources.Failure{Kind: sources.Unreachable, Err: err}
	switch timeout := net.Error(nil); {
	case errors.Is(err, context.Canceled):
		f.Read = "stopped while asking " + c.host
	case errors.Is(err, context.DeadlineExceeded), errors.As(err, &timeout) && timeout.Timeout():
		f.Read, f.Want = "no whole answer from "+c.host+" within "+c.timeout.String(), "is it on and in the network?"
		f.Err = context.DeadlineExceeded
	case errors.As(err, &redirect):
		f.Kind, f.Read, f.Want = sources.Refused, redirect.why, "not followed; want the address where the weight is"
	case errors.As(err, &dns):
		f.Read, f.Want = "no host "+excerpt(dns.Name), "is the name in the url right?"
	case errors.Is(err, syscall.ECONNREFUSED):
		f.Read, f.Want = c.host+" refuses connections", "is the port right, and the scale's program running?"
	case errors.As(err, &cert):
		f.Read, f.Want = c.distrust(cert.Err)
	case errors.Is(err, http.ErrSchemeMismatch):
		f.Read, f.Want = c.host+" speaks http, not https", "want http:// in the url"
	case errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, io.EOF), errors.Is(err, syscall.ECONNRESET):
		f.Read, f.Want = c.host+" broke off its answer", "is its supply or Wi-Fi weak?"
	default:
		f.Read, f.Want = "asking "+c.host+": "+excerpt(innermost(err).Error()), "is it a web server?"
	}
	return f
}

// distrust says what is wrong with a certificate.
func (c *client) distrust(err error) (read, want string) {
	var invalid x509.CertificateInvalidError
	var name x509.HostnameError
	what := "the certificate of " + c.host
	switch {
	case errors.As(err, &invalid) && invalid.Reason == x509.Expired && c.now().Before(invalid.Cert.NotBefore):
		return what + " is valid only from " + invalid.Cert.NotBefore.UTC().Format(time.RFC3339), "is this machine's clock right?"
	case errors.As(err, &invalid) && invalid.Reason == x509.Expired:
		return what + " expired on " + invalid.Cert.NotAfter.UTC().Format(time.RFC3339), "renew it; or is this machine's clock wrong?"
	case errors.As(err, &name):
		return what + " is for another name", "want the name in the url that the certificate has"
	}
	return what + " is not trusted", "want one of a known authority, or http in your own network"
}

// innermost is the cause at the end of the chain.
func innermost(err error) error {
	for {
		next := errors.Unwrap(err)
		if next == nil {
			return err
		}
		err = next
	}
}

// maxExcerpt bounds what is shown of an answer, in characters.
const maxExcerpt = 60

// excerpt shows text from outside on one line, quoted and bounded.
func excerpt(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case r == unicode.ReplacementChar || !unicode.IsPrint(r) && r != ' ' && r != '\n' && r != '\t' && r != '\r':
			return '·'
		case unicode.IsSpace(r):
			return ' '
		}
		return r
	}, s)
	s = strings.Join(strings.Fields(s), " ")
	if r := []rune(s); len(r) > maxExcerpt {
		s = string(r[:maxExcerpt-1]) + "…"
	}
	return `"` + s + `"`
}

// secretsOf lists what no message may contain: token, user, password and query values, plain, escaped, and as
// an excerpt would show them.
func secretsOf(u *url.URL, token string) []string {
	found := []string{token}
	if u.User != nil {
		p, _ := u.User.Password()
		found = append(found, u.User.Username(), p)
	}
	for _, vs := range u.Query() {
		found = append(found, vs...)
	}
	var out []string
	for _, s := range found {
		if len(s) < minSecret {
			continue
		}
		shown := excerpt(s)
		out = append(out, s, url.QueryEscape(s), url.PathEscape(s), shown[1:len(shown)-1])
	}
	slices.SortFunc(out, func(a, b string) int { return len(b) - len(a) })
	return slices.Compact(out)
}

// minSecret: a query such as n=1 is no secret, and its 1 is in many a number.
const minSecret = 3

// scrub replaces secrets that the other side repeats, and the start of one where an excerpt was cut.
func (c *client) scrub(s string) string {
	for _, secret := range c.secrets {
		s = strings.ReplaceAll(s, secret, "<secret>")
	}
	head, tail, cut := strings.Cut(s, "…")
	if !cut {
		return s
	}
	for _, secret := range c.secrets {
		for n := len(secret) - 1; n >= minSecret; n-- {
			if h, ok := strings.CutSuffix(head, secret[:n]); ok {
				head = h + "<secret>"
				break
			}
		}
	}
	return head + "…" + tail
}
