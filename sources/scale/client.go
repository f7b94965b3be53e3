package scale

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"tarebell/sources"
)

// Bounds of one poll.
const (
	defaultTimeout = 10 * time.Second
	maxBody        = 64 << 10
	maxHeader      = 16 << 10
	maxRedirects   = 3
)

// client asks one address.
type client struct {
	url     string
	host    string // for messages
	header  string
	token   string
	accept  string
	timeout time.Duration
	now     func() time.Time
	http    *http.Client
	secrets []string
}

// newClient makes a client of e; plainJSON asks for JSON before SenML.
func newClient(e Endpoint, plainJSON bool) (*client, error) {
	u, err := url.Parse(e.URL)
	if e.URL != "" && (err != nil || u.Scheme != "http" && u.Scheme != "https" || u.Host == "") {
		return nil, errors.New("url: want an address that begins with http:// or https://")
	}
	c := &client{url: e.URL, host: u.Host, header: e.Header, token: e.Token, timeout: e.Timeout, now: e.Now,
		accept: "application/senml+json, application/json;q=0.9, text/plain;q=0.8, */*;q=0.1"}
	if plainJSON {
		c.accept = "application/json, application/senml+json;q=0.9, text/plain;q=0.8, */*;q=0.1"
	}
	if c.timeout <= 0 {
		c.timeout = defaultTimeout
	}
	if c.now == nil {
		c.now = time.Now
	}
	if c.header == "" && c.token != "" {
		c.header, c.token = "Authorization", "Bearer "+c.token
	}
	c.secrets = secretsOf(u, e.Token)
	rt := e.Transport
	if rt == nil {
		rt = ownTransport()
	}
	c.http = &http.Client{Transport: rt, CheckRedirect: c.redirect}
	return c, nil
}

// ownTransport takes no proxy from the environment, keeps no connection (a small board has few) and never
// unpacks (a small body must not become a large one).
func ownTransport() *http.Transport {
	return &http.Transport{DisableKeepAlives: true, DisableCompression: true, MaxResponseHeaderBytes: maxHeader}
}

// errRedirect is a redirect that is not followed.
type errRedirect struct{ why string }

func (e errRedirect) Error() string { return e.why }

// redirect follows a few redirects on the same host, so that a token never travels elsewhere.
func (c *client) redirect(next *http.Request, via []*http.Request) error {
	from := via[len(via)-1].URL
	upgrade := from.Scheme == "http" && next.URL.Scheme == "https"
	switch {
	case len(via) > maxRedirects:
		return errRedirect{fmt.Sprintf("redirects more than %d times", maxRedirects)}
	case next.URL.Hostname() != from.Hostname(), !upgrade && (next.URL.Scheme != from.Scheme || next.URL.Port() != from.Port()):
		return errRedirect{"redirects to " + excerpt(next.URL.Scheme+"://"+next.URL.Host)}
	}
	return nil
}

// answer is the body of a response with its media type.
type answer struct {
	media string // lower case, without parameters
	body  []byte
}

func (c *client) get(ctx context.Context) (answer, error) {
	ctx, cancel := context.WithTimeout(ctx, c.timeout)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, c.url, nil)
	if err != nil {
		return answer{}, err
	}
	req.Header.Set("Accept", c.accept)
	req.Header.Set("User-Agent", "tarebell")
	req.Header.Set("Cache-Control", "no-cache")
	if c.token != "" {
		req.Header.Set(c.header, c.token)
	}
	resp, err := c.http.Do(req)
	if err != nil {
		return answer{}, err
	}
	defer resp.Body.Close()
	if err := c.status(resp); err != nil {
		return answer{}, err
	}
	body, err := readBody(resp)
	return answer{mediaType(resp.Header.Get("Content-Type")), body}, err
}

// mediaType is a Content-Type in lower case, without parameters.
func mediaType(contentType string) string {
	media, _, _ := strings.Cut(contentType, ";")
	return strings.ToLower(strings.TrimSpace(media))
}

// status accepts 2xx.
func (c *client) status(r *http.Response) error {
	if r.StatusCode/100 == 2 {
		return nil
	}
	f := &sources.Failure{Kind: sources.Refused, Read: fmt.Sprintf("answers %d %s", r.StatusCode, http.StatusText(r.StatusCode))}
	switch {
	case r.StatusCode == 401 || r.StatusCode == 403:
		f.Want = "is the token or password right?"
	case r.StatusCode == 404:
		f.Want = "is the path in the url right?"
	case r.StatusCode/100 == 3:
		f.Want = "want the address where the weight is"
	default:
		f.Want = "want 200"
	}
	f.After = retryAfter(r.Header.Get("Retry-After"), c.now())
	return f
}

// maxAfter is the longest wait that is granted.
const maxAfter = time.Hour

// retryAfter reads Retry-After: seconds or a date (RFC 9110 section 10.2.3). What is neither counts as absent.
func retryAfter(s string, now time.Time) time.Duration {
	var d time.Duration
	if t, err := http.ParseTime(s); err == nil {
		d = t.Sub(now)
	} else if n, err := strconv.ParseUint(s, 10, 31); err == nil {
		d = time.Duration(n) * time.Second
	}
	return min(max(d, 0), maxAfter)
}

func readBody(r *http.Response) ([]byte, error) {
	if e := r.Header.Get("Content-Encoding"); e != "" && !strings.EqualFold(e, "identity") {
		return nil, unreadable("answers with content encoding "+excerpt(e), "want it plain")
	}
	if r.ContentLength > maxBody {
		return nil, unreadable(fmt.Sprintf("announces %d bytes", r.ContentLength), "want at most 64 KiB; is it the address of the weight alone?")
	}
	body, err := io.ReadAll(io.LimitReader(r.Body, maxBody+1))
	switch {
	case err != nil:
		return nil, err
	case len(body) > maxBody:
		return nil, unreadable("answers with more than 64 KiB", "is it the address of the weight alone?")
	}
	return body, nil
}
