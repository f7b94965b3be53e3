//go:build !race

package discord_test

// Every request that these tests make the bot send is checked against Discord's own description of its HTTP
// interface (github.com/discord/discord-api-spec, specs/openapi.json, MIT). The description is not part of this
// project: it is looked for beside it, and without it nothing is checked, which is said. The checker lives in a
// test file because the validator takes long to compile.

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"sort"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/pb33f/libopenapi"
	validator "github.com/pb33f/libopenapi-validator"
	"github.com/pb33f/libopenapi-validator/config"

	"tarebell/bot/internal/chat/discord/discordtest"
)

const racing = false

// findDescription looks for the description in ../shared/discord beside the folder that holds go.mod.
func findDescription() (path string, err error) {
	dir, err := os.Getwd()
	if err != nil {
		return "", err
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			break
		}
		up := filepath.Dir(dir)
		if up == dir {
			return "", errors.New("no go.mod above the working folder")
		}
		dir = up
	}
	path = filepath.Join(dir, "..", "shared", "discord", "openapi.json")
	if _, err := os.Stat(path); err != nil {
		return "", errors.New("no ../shared/discord/openapi.json beside the project")
	}
	return path, nil
}

// checker collects requests, and checks them when all are there: compiling the description takes longer than
// the tests it serves.
type checker struct {
	mu       sync.Mutex
	requests []discordtest.Request
}

// note keeps a request for the check. It is a discordtest.Platform's Inspect.
func (c *checker) note(q discordtest.Request) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.requests = append(c.requests, q)
}

// report is what a check found.
type report struct {
	Requests   int
	Operations map[string]int // by method and path of the description
	Strict     int            // distinct shapes, checked for undeclared fields too
	Failures   []string
}

func (r report) String() string {
	var ops []string
	for op, n := range r.Operations {
		ops = append(ops, fmt.Sprintf("%6d %s", n, op))
	}
	sort.Strings(ops)
	return fmt.Sprintf("%d requests of %d operations (%d distinct shapes checked strictly): %d failures\n%s",
		r.Requests, len(r.Operations), r.Strict, len(r.Failures), strings.Join(ops, "\n"))
}

// check validates all requests noted so far, those that are the same but for ids in the path once. Undeclared fields are looked for once for each distinct shape of
// a request, as that is slow and depends on nothing else.
func (c *checker) check(path string) (report, error) {
	c.mu.Lock()
	all := slices.Clone(c.requests)
	c.mu.Unlock()
	raw, err := os.ReadFile(path)
	if err != nil {
		return report{}, fmt.Errorf("reading the description: %w", err)
	}
	plain, strict, ops, err := compile(raw, all)
	if err != nil {
		return report{}, err
	}
	if err := awake(plain, strict, all); err != nil {
		return report{}, err
	}
	r := report{Operations: map[string]int{}}
	shapes, judged := map[string]bool{}, map[string]bool{}
	for _, q := range all {
		r.Requests++
		op := operation(q, ops)
		r.Operations[q.Method+" "+op]++
		shape := q.Method + " " + op + " " + shapeOf(q)
		v := plain
		if !shapes[shape] {
			shapes[shape] = true
			r.Strict++
			v = strict
		}
		same := strings.Join([]string{q.Method, q.Route, q.Query, q.Header.Get("Content-Type"), string(q.Body)}, " ") // but for ids in the path
		if v == plain && judged[same] {
			continue
		}
		judged[same] = true
		if problem := validate(v, q); problem != "" {
			r.Failures = append(r.Failures, fmt.Sprintf("%s %s: %s\n%s", q.Method, q.Route, problem, short(q)))
		}
	}
	return r, nil
}

// awake makes sure that the validators see what is wrong: a post with a nonce that is too long, and one with a
// field that nobody declared.
func awake(plain, strict validator.Validator, all []discordtest.Request) error {
	for _, q := range all {
		if q.Method != http.MethodPost || !strings.HasSuffix(q.Path, "/messages") {
			continue
		}
		q.Header = q.Header.Clone()
		q.Header.Set("Content-Type", "application/json")
		q.Body = []byte(`{"content":"x","nonce":"` + strings.Repeat("9", 26) + `"}`)
		if validate(plain, q) == "" {
			return errors.New("the validator takes a nonce of 26 characters")
		}
		q.Body = []byte(`{"content":"x","colour":"red"}`)
		if validate(strict, q) == "" {
			return errors.New("the validator takes a field that is not in the description")
		}
		return nil
	}
	return nil
}

// compile builds validators for those paths of the description that the requests use. What the platform
// answers is left out: the stand-in answers here, and it is most of the work.
func compile(raw []byte, all []discordtest.Request) (plain, strict validator.Validator, ops []string, err error) {
	var doc map[string]any
	if err := json.Unmarshal(raw, &doc); err != nil {
		return nil, nil, nil, fmt.Errorf("understanding the description: %w", err)
	}
	paths, _ := doc["paths"].(map[string]any)
	routes := map[string]string{} // one path for each route is enough
	for _, q := range all {
		routes[q.Route] = trimmed(q)
	}
	for p, item := range paths {
		if !slices.ContainsFunc(slices.Collect(maps.Values(routes)), func(of string) bool { return matches(p, of) }) {
			delete(paths, p)
			continue
		}
		ops = append(ops, p)
		methods, _ := item.(map[string]any)
		for _, m := range methods {
			if o, ok := m.(map[string]any); ok && o["responses"] != nil {
				o["responses"] = map[string]any{"200": map[string]any{"description": "left out"}}
			}
		}
	}
	small, err := json.Marshal(doc)
	if err != nil {
		return nil, nil, nil, err
	}
	plain, err = build(small, config.WithFormatAssertions())
	if err != nil {
		return nil, nil, nil, err
	}
	strict, err = build(small, config.WithFormatAssertions(), config.WithStrictMode())
	return plain, strict, ops, err
}

func build(doc []byte, opts ...config.Option) (validator.Validator, error) {
	d, err := libopenapi.NewDocument(doc)
	if err != nil {
		return nil, fmt.Errorf("understanding the description: %w", err)
	}
	v, errs := validator.NewValidator(d, opts...)
	return v, errors.Join(errs...)
}

var braces = regexp.MustCompile(`\\\{[^}]+\\\}`)

// patterns are the compiled forms of paths of the description.
var patterns sync.Map

// matches says whether a path of the description is that of a request.
func matches(path, of string) bool {
	p, ok := patterns.Load(path)
	if !ok {
		p, _ = patterns.LoadOrStore(path, regexp.MustCompile("^"+braces.ReplaceAllString(regexp.QuoteMeta(path), `[^/]+`)+"$"))
	}
	return p.(*regexp.Regexp).MatchString(of)
}

// operation is the path of the description that fits a request best: the one with most literal parts.
func operation(q discordtest.Request, paths []string) string {
	best, braces := "unknown "+q.Route, 99
	for _, p := range paths {
		if n := strings.Count(p, "{"); n < braces && matches(p, trimmed(q)) {
			best, braces = p, n
		}
	}
	return best
}

var version = regexp.MustCompile(`^/api/v(9|10)`)

func trimmed(q discordtest.Request) string { return version.ReplaceAllString(q.Path, "") }

// validate checks one request. The client library speaks version 9, the description is of version 10; a form
// with files is checked by its payload_json, as the validator does not look into forms.
func validate(v validator.Validator, q discordtest.Request) string {
	body, _, err := discordtest.Payload(q)
	if err != nil && len(q.Body) > 0 {
		return err.Error()
	}
	url := "https://discord.com/api/v10" + trimmed(q)
	if q.Query != "" {
		url += "?" + q.Query
	}
	r, err := http.NewRequest(q.Method, url, bytes.NewReader(body))
	if err != nil {
		return err.Error()
	}
	r.Header = q.Header.Clone()
	r.Header.Del("Content-Length")
	if len(body) > 0 {
		r.Header.Set("Content-Type", "application/json")
	}
	ok, problems := v.ValidateHttpRequestSync(r)
	if ok {
		return ""
	}
	var parts []string
	for _, p := range problems {
		text := p.Message + ": " + p.Reason
		for _, s := range p.SchemaValidationErrors {
			text += "; " + s.Reason + " at " + s.FieldPath
		}
		parts = append(parts, text)
	}
	return strings.Join(parts, " | ")
}

// shapeOf is the set of fields with the kinds of their values.
func shapeOf(q discordtest.Request) string {
	body, files, err := discordtest.Payload(q)
	if err != nil {
		return "none"
	}
	var v any
	if json.Unmarshal(body, &v) != nil {
		return "none"
	}
	seen := map[string]bool{}
	walk(v, "", seen)
	var all []string
	for k := range seen {
		all = append(all, k)
	}
	sort.Strings(all)
	return fmt.Sprint(len(files) > 0, q.Query != "", all)
}

func walk(v any, at string, seen map[string]bool) {
	switch v := v.(type) {
	case map[string]any:
		if t, ok := v["type"]; ok {
			at += fmt.Sprintf("<%v>", t)
		}
		for k, x := range v {
			walk(x, at+"."+k, seen)
		}
	case []any:
		seen[at+"[]"] = true
		for _, x := range v {
			walk(x, at+"[]", seen)
		}
	default:
		seen[fmt.Sprintf("%s %T", at, v)] = true
	}
}

func short(q discordtest.Request) string {
	body, _, _ := discordtest.Payload(q)
	if len(body) > 600 {
		return string(body[:600]) + "…"
	}
	return string(body)
}

func checked() (ok bool) {
	if testing.Short() {
		fmt.Println("requests not checked against Discord's description: -short")
		return true
	}
	path, err := findDescription()
	if err != nil {
		fmt.Println("SKIPPED: requests not checked against Discord's description:", err)
		return true
	}
	began := time.Now()
	r, err := noted.check(path)
	if err != nil {
		fmt.Println("checking requests against Discord's description:", err)
		return false
	}
	fmt.Printf("checked against Discord's description in %v: %v\n", time.Since(began).Round(time.Millisecond), r)
	for _, f := range r.Failures[:min(len(r.Failures), 20)] {
		fmt.Println("REFUSED:", f)
	}
	return len(r.Failures) == 0
}
