package discord

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strings"
)

// maxAnswer bounds what is read of an answer, in bytes.
const maxAnswer = 16 << 20

// guard stands between the client library and the network: it bounds what is read, and turns a 429 that is not
// about the rate of requests into what the library understands.
type guard struct{ next http.RoundTripper }

func (g guard) RoundTrip(r *http.Request) (*http.Response, error) {
	resp, err := g.next.RoundTrip(r)
	if err != nil {
		return nil, err
	}
	if resp.StatusCode == http.StatusTooManyRequests {
		return resp, clarify(resp)
	}
	resp.Body = struct {
		io.Reader
		io.Closer
	}{io.LimitReader(resp.Body, maxAnswer), resp.Body}
	return resp, nil
}

// clarify looks into a 429. A web page means that this machine's address is blocked. That a message was changed too
// often is no reason to wait with anything else: it becomes an ordinary refusal.
func clarify(resp *http.Response) error {
	defer func() { _ = resp.Body.Close() }()
	body, err := io.ReadAll(io.LimitReader(resp.Body, maxAnswer))
	if err != nil {
		return err
	}
	var said struct{ Code int }
	switch {
	case !strings.Contains(resp.Header.Get("Content-Type"), "json"):
		body = fmt.Appendf(nil, `{"message":"blocked","retry_after":%d,"global":true}`, int(blocked.Seconds()))
		resp.Header.Del("X-RateLimit-Global")
	case json.Unmarshal(body, &said) == nil && said.Code == codeChangedTooOften:
		resp.StatusCode = http.StatusBadRequest
	}
	resp.Body = io.NopCloser(bytes.NewReader(body))
	return nil
}
