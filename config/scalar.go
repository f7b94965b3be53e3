package config

import (
	"errors"
	"fmt"
	"math"
	"net"
	"net/netip"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	_ "time/tzdata" // a small board may have no zone files
	"unicode"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/mistake"
)

// text reads a name or sentence shown in the chat: one line of at most n characters.
func text(n int) func(string) (string, error) {
	return func(s string) (string, error) {
		s = strings.TrimSpace(s)
		switch {
		case s == "":
			return "", errors.New("empty")
		case len([]rune(s)) > n:
			return "", errors.New("too long; shorten it")
		case strings.ContainsFunc(s, unicode.IsControl):
			return "", errors.New("want one line of plain text")
		}
		return s, nil
	}
}

func oneOf(words ...string) func(string) (string, error) {
	return func(s string) (string, error) {
		w := strings.ToLower(strings.TrimSpace(s))
		if !slices.Contains(words, w) {
			return "", errors.New("want " + mistake.Join(words, "or"))
		}
		return w, nil
	}
}

func parseUnits(s string) (unit.System, error) {
	u, err := oneOf("metric", "us")(s)
	if u == "us" {
		return unit.US, err
	}
	return unit.Metric, err
}

func parseGas(s string) (string, error) {
	switch g := strings.ToLower(strings.TrimSpace(s)); g {
	case "co2":
		return g, nil
	case "carbon dioxide", "co₂":
		return "co2", nil
	}
	return "", advice("only co2 is understood: the heel, the pressure and the cautions are those of carbon dioxide")
}

func parseBool(s string) (bool, error) {
	w, err := oneOf("true", "false")(s)
	return w == "true", err
}

func parseZone(s string) (*time.Location, error) {
	if s == "" || strings.EqualFold(s, "local") {
		return nil, errors.New("want an IANA time zone")
	}
	loc, err := time.LoadLocation(s)
	if err != nil {
		return nil, errors.New("no such time zone; want an IANA name")
	}
	return loc, nil
}

// days reads mon, Monday or mon-fri.
func days(s string) ([]time.Weekday, error) {
	from, to, span := strings.Cut(strings.ReplaceAll(s, "–", "-"), "-")
	a, err := weekday(from)
	if err != nil || !span {
		return []time.Weekday{a}, err
	}
	b, err := weekday(to)
	if err != nil {
		return nil, err
	}
	out := []time.Weekday{a}
	for d := a; d != b; {
		d = (d + 1) % 7
		out = append(out, d)
	}
	return out, nil
}

// mondayFirst sorts days and drops repeats.
func mondayFirst(ds []time.Weekday) []time.Weekday {
	slices.SortFunc(ds, func(a, b time.Weekday) int { return int((a+6)%7) - int((b+6)%7) })
	return slices.Compact(ds)
}

func weekday(s string) (time.Weekday, error) {
	w := strings.ToLower(strings.TrimSpace(s))
	for d := time.Sunday; d <= time.Saturday; d++ {
		if full := strings.ToLower(d.String()); w == full || w == full[:3] {
			return d, nil
		}
	}
	return 0, errors.New("want mon, tue, wed, thu, fri, sat or sun")
}

// mostMoney is more than anything here costs, in any currency.
const mostMoney = 1e9

// places says how many decimals a currency has (ISO 4217, minor units).
func places(scale int) string {
	switch scale {
	case 0:
		return "no decimals"
	case 1:
		return "one decimal"
	}
	return fmt.Sprintf("%d decimals", scale)
}

// parseMoney reads "42 EUR"; the code may stand in front. Codes are those of ISO 4217.
func parseMoney(s string) (unit.Money, error) {
	s = strings.TrimSpace(s)
	if i := strings.IndexAny(s, "0123456789"); i > 0 && strings.ContainsFunc(s[:i], unicode.IsLetter) {
		s = s[i:] + " " + s[:i]
	}
	x, code, err := unit.ParseNumber(s)
	if err != nil {
		return unit.Money{}, unit.WithUnits(err, "a currency code of ISO 4217")
	}
	if code == "" {
		return unit.Money{}, errors.New("no currency; want its three letters")
	}
	zero, err := unit.NewMoney(0, code)
	minor := x * math.Pow10(zero.Decimals())
	switch {
	case err != nil:
		return unit.Money{}, errors.New("unknown currency; want three letters of ISO 4217")
	case x <= 0:
		return unit.Money{}, errors.New("want more than nothing")
	case x > mostMoney:
		return unit.Money{}, errors.New("too large; want at most a thousand million")
	case math.Abs(minor-math.Round(minor)) > 1e-6*minor:
		return unit.Money{}, fmt.Errorf("%s has %s; want %.*f %s", zero.Code(), places(zero.Decimals()),
			zero.Decimals(), math.Max(x, math.Pow10(-zero.Decimals())), zero.Code())
	}
	return zero.With(minor), nil
}

var snowflake = regexp.MustCompile(`^[0-9]{1,20}$`)

// parseSnowflake reads a number that Discord gives to channels, servers, roles and people.
func parseSnowflake(s string) (string, error) {
	if !snowflake.MatchString(s) {
		return "", errors.New("want the long number that Discord shows with developer mode on, in quotes")
	}
	return s, nil
}

// maxURL is longer than any address worth polling.
const maxURL = 2000

func parseURL(s string) (URL, error) {
	u, err := url.Parse(s)
	switch {
	case err != nil || len(s) > maxURL:
		return URL{}, errors.New("not a web address")
	case u.Scheme != "http" && u.Scheme != "https":
		return URL{}, errors.New("want an address that begins with http:// or https://")
	case u.Hostname() == "":
		return URL{}, errors.New("no host in the address")
	case u.Fragment != "":
		return URL{}, errors.New("want an address without #")
	}
	return NewURL(s), nil
}

var badEscape = regexp.MustCompile(`~([^01]|$)`)

// parsePointer checks a JSON Pointer after RFC 6901 section 3.
func parsePointer(s string) (string, error) {
	switch {
	case s != "" && s[0] != '/':
		return "", errors.New("not a JSON Pointer; want one that begins with /")
	case badEscape.MatchString(s):
		return "", errors.New("not a JSON Pointer; write ~0 for ~ and ~1 for /")
	}
	return s, nil
}

// parseMassUnit reads a scale's unit.
func parseMassUnit(s string) (string, error) {
	s = strings.TrimSpace(s)
	_, err := unit.MassUnit(s)
	return strings.ToLower(s), err
}

var (
	envName    = regexp.MustCompile(`^[A-Za-z_][A-Za-z0-9_]*$`)
	headerName = regexp.MustCompile("^[!#$%&'*+.^_`|~0-9A-Za-z-]+$") // RFC 9110 section 5.6.2, token
)

func parseEnv(s string) (string, error) {
	if !envName.MatchString(s) || len(s) > 64 {
		return "", errors.New("want the name of an environment variable, never the token itself")
	}
	return s, nil
}

func parseHeader(s string) (string, error) {
	if !headerName.MatchString(s) || len(s) > 64 {
		return "", errors.New("not a header name")
	}
	switch strings.ToLower(s) {
	case "host", "connection", "content-length", "transfer-encoding", "accept", "user-agent":
		return "", advice("that header is the program's own")
	}
	return s, nil
}

// parseRegion reads a country or country-region; whether its holidays are known, others judge.
func parseRegion(s string) (string, error) {
	return strings.ToLower(strings.ReplaceAll(strings.TrimSpace(s), "_", "-")), nil
}

// parseAddress reads an IP address and a port to listen on.
func parseAddress(s string) (string, error) {
	host, port, err := net.SplitHostPort(strings.TrimSpace(s))
	if n, e := strconv.ParseUint(port, 10, 16); err != nil || e != nil || n == 0 {
		return "", errors.New("want an IP address and a port")
	}
	if _, err := netip.ParseAddr(host); err != nil && host != "localhost" {
		return "", errors.New("want an IP address of this machine before the port; 0.0.0.0 is all of them")
	}
	return net.JoinHostPort(host, port), nil
}
