package config

import (
	"fmt"
	"slices"
	"strings"

	"gopkg.in/yaml.v3"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/mistake"
)

// document is a file being read: the mistakes so far, and where every value stood for checks across keys.
type document struct {
	file string
	errs mistake.List
	at   map[string]*yaml.Node

	secrets []Place
}

// fail records a mistake at n; shown is what was read, already fit to be shown.
func (d *document) fail(n *yaml.Node, path, shown, want string) {
	d.errs = append(d.errs, &mistake.Mistake{File: d.file, Line: n.Line, Col: n.Column, Path: path, Read: shown, Want: want})
}

// failAt records a mistake in the value read at path, found by comparing it with others. One that could not
// be read, or is known to be wrong, is not judged again.
func (d *document) failAt(path, want string) {
	if n := d.at[path]; n != nil && !d.failed(path) {
		d.fail(n, path, show(n), want)
	}
}

// show is a value as an error repeats it.
func show(n *yaml.Node) string {
	switch {
	case n.Kind == yaml.SequenceNode:
		return "a list"
	case n.Kind == yaml.MappingNode:
		return "a group of keys"
	case n.Tag == "!!null":
		return "nothing"
	}
	return mistake.Quote(n.Value)
}

// follow resolves an alias.
func follow(n *yaml.Node) *yaml.Node {
	if n.Kind == yaml.AliasNode {
		return n.Alias
	}
	return n
}

// group is one mapping of the file with the keys that the schema allows there.
type group struct {
	d    *document
	node *yaml.Node
	path string // with indices: cylinders[0].scale
	kind string // in the schema: cylinders[].scale
	vals map[string]*yaml.Node
}

// open reads n as the group that the schema calls kind. Unknown, repeated and missing keys are recorded.
// ok is false when n is no mapping.
func (d *document) open(n *yaml.Node, path, kind string) (g group, ok bool) {
	n = follow(n)
	g = group{d, n, path, kind, map[string]*yaml.Node{}}
	if n.Kind != yaml.MappingNode {
		d.fail(n, path, show(n), "want keys: "+mistake.Join(names(schema[kind]), "or"))
		return g, false
	}
	for i := 0; i+1 < len(n.Content); i += 2 {
		g.add(n.Content[i], n.Content[i+1])
	}
	for _, k := range schema[kind] {
		if k.need && g.vals[k.name] == nil {
			d.fail(n, g.sub(k.name), "", "missing; "+k.wanted())
		}
	}
	return g, true
}

func (g group) add(name, val *yaml.Node) {
	name = follow(name)
	known := slices.Contains(names(schema[g.kind]), name.Value)
	switch first := g.vals[name.Value]; {
	case name.Kind != yaml.ScalarNode:
		g.d.fail(name, g.path, show(name), "want a key here")
	case inlineSecrets[name.Value] && !known:
		g.d.fail(name, g.sub(name.Value), "", "secrets do not belong into this file; use token_env or token_file")
	case !known:
		g.d.fail(name, g.sub(clip(name.Value)), "", unknownKey(g.kind, name.Value))
	case first != nil:
		g.d.fail(name, g.sub(name.Value), "", fmt.Sprintf("given twice; first in line %d", first.Line))
	default:
		g.vals[name.Value] = follow(val)
		g.d.at[g.sub(name.Value)] = follow(val)
	}
}

// inlineSecrets are keys under which somebody might write a secret itself.
var inlineSecrets = map[string]bool{"token": true, "password": true, "secret": true, "api_key": true, "webhook": true}

func (g group) sub(name string) string { return strings.TrimPrefix(g.path+"."+name, ".") }

func (g group) key(name string) key {
	return schema[g.kind][slices.Index(names(schema[g.kind]), name)]
}

// child opens the group below a key; ok is false without it.
func (g group) child(name string) (group, bool) {
	n := g.vals[name]
	if n == nil {
		return group{}, false
	}
	return g.d.open(n, g.sub(name), strings.TrimPrefix(g.kind+"."+name, "."))
}

// items are the elements of the list below a key with their paths. A single value is a list of one if lone.
func (g group) items(name string, lone bool) (nodes []*yaml.Node, paths []string) {
	n := g.vals[name]
	switch {
	case n == nil:
	case n.Kind == yaml.SequenceNode:
		for i, e := range n.Content {
			nodes = append(nodes, follow(e))
			paths = append(paths, fmt.Sprintf("%s[%d]", g.sub(name), i))
			g.d.at[paths[i]] = nodes[i]
		}
		if len(nodes) == 0 {
			g.d.fail(n, g.sub(name), "an empty list", g.key(name).wanted())
		}
	case lone && n.Kind == yaml.ScalarNode && n.Tag != "!!null":
		return []*yaml.Node{n}, []string{g.sub(name)}
	default:
		g.d.fail(n, g.sub(name), show(n), "want a list"+g.key(name).eg())
	}
	return nodes, paths
}

// take reads the scalar below a key into dst, if the key is there. It reports whether dst was set.
func take[T any](g group, name string, dst *T, parse func(string) (T, error)) bool {
	n := g.vals[name]
	return n != nil && scalar(g.d, n, g.sub(name), g.key(name), dst, parse)
}

// list reads the scalars of a list, or one alone, below a key; nil without the key.
func list[T any](g group, name string, parse func(string) (T, error)) (out []T) {
	nodes, paths := g.items(name, true)
	for i, n := range nodes {
		var v T
		scalar(g.d, n, paths[i], g.key(name), &v, parse)
		out = append(out, v)
	}
	return out
}

// into reads the group below a key into dst, if the key is there.
func into[T any](g group, name string, dst *T, read func(group, *T)) bool {
	sub, ok := g.child(name)
	if ok {
		read(sub, dst)
	}
	return ok
}

// optional reads the group below a key into a copy of pattern; nil without the key.
func optional[T any](g group, name string, pattern T, read func(group, *T)) *T {
	if !into(g, name, &pattern, read) {
		return nil
	}
	return &pattern
}

// scalar reads n into dst.
func scalar[T any](d *document, n *yaml.Node, path string, k key, dst *T, parse func(string) (T, error)) bool {
	if n.Kind != yaml.ScalarNode || n.Tag == "!!null" {
		d.fail(n, path, show(n), k.wanted())
		return false
	}
	v, err := parse(n.Value)
	if err != nil {
		want := err.Error()
		switch err.(type) {
		case advice, unit.Ambiguous: // complete
		default:
			want += k.eg()
		}
		d.fail(n, path, shownFor(k.name, n), want)
		return false
	}
	*dst = v
	return true
}

// advice is a complaint to which the key's example would add nothing.
type advice string

func (a advice) Error() string { return string(a) }

// shownFor hides what may be a secret in the wrong place.
func shownFor(name string, n *yaml.Node) string {
	switch {
	case name == "token_env", name == "token_file":
		return hidden
	case name == "url" && strings.ContainsAny(n.Value, "@?"):
		return hidden
	}
	return show(n)
}

func names(ks []key) []string {
	out := make([]string, len(ks))
	for i, k := range ks {
		out[i] = k.name
	}
	return out
}

// clip bounds a key from the file that is shown without quotes.
func clip(s string) string {
	q := mistake.Quote(s)
	return q[1 : len(q)-1]
}
