package config

import (
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"runtime"
	"strings"
)

const hidden = "<secret>"

// Secret is a token. However it is printed, logged or encoded it reads <secret>. The token stands behind a
// pointer because fmt does not call the methods of values inside unexported fields but prints them raw.
type Secret struct{ value *string }

// NewSecret hides s.
func NewSecret(s string) Secret { return Secret{&s} }

// Reveal is the token itself, for the request that needs it; "" without one.
func (s Secret) Reveal() string {
	if s.value == nil {
		return ""
	}
	return *s.value
}

// Empty reports that there is no token.
func (s Secret) Empty() bool { return s.Reveal() == "" }

// Format prints <secret> for every verb.
func (s Secret) Format(f fmt.State, _ rune) { fmt.Fprint(f, hidden) }

// MarshalText hides the token from encoders and from slog.
func (s Secret) MarshalText() ([]byte, error) { return []byte(hidden), nil }

// SecretSource says where a token is kept: in an environment variable or in a file.
type SecretSource struct{ Env, File string }

// Set reports that a place is named.
func (s SecretSource) Set() bool { return s.Env != "" || s.File != "" }

// Read fetches the token. getenv is usually os.Getenv. Surrounding white space is dropped. Without a place
// the token is empty; a named place that holds none is an error that names the place.
func (s SecretSource) Read(getenv func(string) string) (Secret, error) {
	switch {
	case s.File != "":
		text, err := readToken(s.File)
		if err != nil {
			return Secret{}, fmt.Errorf("reading the token from %q: %w", s.File, err)
		}
		return oneToken(text, "the file "+fmt.Sprintf("%q", s.File))
	case s.Env != "":
		return oneToken(getenv(s.Env), "the environment variable "+s.Env)
	}
	return Secret{}, nil
}

// maxToken is longer than any token, in bytes.
const maxToken = 4 << 10

// readToken reads a plain file: a device may have no end, and a pipe may have no beginning.
func readToken(path string) (string, error) {
	if info, err := os.Stat(path); err != nil {
		return "", err
	} else if !info.Mode().IsRegular() {
		return "", fmt.Errorf("it is %s; want a file with the token alone", kindOf(info.Mode()))
	}
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	b, err := io.ReadAll(io.LimitReader(f, maxToken+1))
	if err == nil && len(b) > maxToken {
		err = fmt.Errorf("it is longer than %d bytes; want the token alone", maxToken)
	}
	return string(b), err
}

func kindOf(m fs.FileMode) string {
	switch {
	case m.IsDir():
		return "a folder"
	case m&fs.ModeNamedPipe != 0:
		return "a pipe"
	case m&fs.ModeSocket != 0:
		return "a socket"
	}
	return "a device"
}

// Exposed reports whether everybody on this machine may read the file that holds the token. Where permissions are not those of Unix
// nobody can tell.
func (s SecretSource) Exposed() bool {
	if s.File == "" || runtime.GOOS == "windows" {
		return false
	}
	info, err := os.Stat(s.File)
	return err == nil && info.Mode()&0o004 != 0
}

func oneToken(text, where string) (Secret, error) {
	t := strings.TrimSpace(text)
	switch {
	case t == "":
		return Secret{}, fmt.Errorf("no token in %s", where)
	case strings.ContainsFunc(t, func(r rune) bool { return r <= ' ' || r == 0x7f }):
		return Secret{}, fmt.Errorf("more than one word or line in %s; want the token alone", where)
	}
	return NewSecret(t), nil
}

// URL is an address that may hold a password or a key; printed, it shows neither. See Secret for the pointer.
type URL struct{ full *string }

// NewURL wraps an address.
func NewURL(u string) URL { return URL{&u} }

// Reveal is the whole address, for the request.
func (u URL) Reveal() string {
	if u.full == nil {
		return ""
	}
	return *u.full
}

// String is the address with user and query hidden.
func (u URL) String() string {
	p, err := url.Parse(u.Reveal())
	if err != nil {
		return hidden
	}
	s := p.Scheme + "://"
	if p.User != nil {
		s += hidden + "@"
	}
	s += p.Host + p.EscapedPath()
	if p.RawQuery != "" {
		s += "?" + hidden
	}
	return s
}

// GoString hides what String hides.
func (u URL) GoString() string { return u.String() }

// MarshalText hides what String hides.
func (u URL) MarshalText() ([]byte, error) { return []byte(u.String()), nil }
