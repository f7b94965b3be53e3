package config

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"

	"gopkg.in/yaml.v3"

	"tarebell/forecast/unit/mistake"
)

// maxFile is larger than any household's config.
const maxFile = 1 << 20

// Judge finds what only other packages know to be wrong in a config whose values were each read well. A path that did not stand in the
// file is not complained of.
type Judge func(*Config) []Doubt

// Load reads the config file at path. What is wrong in the file comes as Errors.
func Load(path string, judges ...Judge) (*Config, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("reading the config: %w", err)
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, maxFile+1))
	if err != nil {
		return nil, fmt.Errorf("reading the config: %w", err)
	}
	return Parse(path, text, judges...)
}

// Parse reads a config from text. Name stands in messages, and relative paths in the config count from its
// folder. The error, if any, is an Errors with every mistake in file order.
func Parse(name string, text []byte, judges ...Judge) (*Config, error) {
	d := &document{file: name, at: map[string]*yaml.Node{}}
	root := d.syntax(text)
	var c *Config
	if root != nil {
		c = d.config(root)
		d.check(c)
		for _, judge := range judges {
			for _, wrong := range judge(c) {
				d.failAt(wrong.Path, wrong.Said)
			}
		}
	}
	if len(d.errs) > 0 {
		d.errs.Sort()
		return nil, Errors{d.errs}
	}
	return c, nil
}

// syntax parses the text as one YAML document; nil means that a mistake was recorded.
func (d *document) syntax(text []byte) *yaml.Node {
	switch {
	case len(text) > maxFile:
		return d.refuse(0, 0, "larger than 1 MiB; want a config file")
	case !utf8.Valid(text):
		line, col := firstNotUTF8(text)
		return d.refuse(line, col, "not UTF-8; save the file as UTF-8")
	}
	if line, col := tabIndent(text); line > 0 {
		return d.refuse(line, col, "a tab; YAML is indented with spaces")
	}
	dec := yaml.NewDecoder(bytes.NewReader(text))
	var doc, more yaml.Node
	if err := dec.Decode(&doc); errors.Is(err, io.EOF) {
		return d.refuse(1, 1, "empty; want household and cylinders")
	} else if err != nil {
		return d.notYAML(err)
	}
	if err := dec.Decode(&more); err == nil {
		return d.refuse(more.Line, more.Column, "a second document; want one")
	} else if !errors.Is(err, io.EOF) {
		return d.notYAML(err)
	}
	if len(doc.Content) == 0 || doc.Content[0].Tag == "!!null" {
		return d.refuse(1, 1, "empty; want household and cylinders")
	}
	return doc.Content[0]
}

func (d *document) refuse(line, col int, want string) *yaml.Node {
	d.errs = append(d.errs, &mistake.Mistake{File: d.file, Line: line, Col: col, Want: want})
	return nil
}

var yamlLine = regexp.MustCompile(`^yaml: (?:line (\d+): )?(.*)$`)

// notYAML records the parser's complaint. It names a line, seldom exactly, and no column.
func (d *document) notYAML(err error) *yaml.Node {
	line, what := 0, err.Error()
	if m := yamlLine.FindStringSubmatch(what); m != nil {
		line, _ = strconv.Atoi(m[1])
		what = m[2]
	}
	switch {
	case strings.Contains(what, "anchor"):
		return d.refuse(line, 0, "not YAML: "+clip(what))
	case line == 0:
		line = 1 // the parser names no line when it is the first
	}
	return d.refuse(line, 0, "not YAML: "+clip(what)+"; look at this line and the one above for a missing colon, quote, bracket or space")
}

// tabIndent finds a tab among the white space that starts a line.
func tabIndent(text []byte) (line, col int) {
	for i, l := range strings.Split(string(text), "\n") {
		body := strings.TrimLeft(l, " \t")
		if at := strings.IndexByte(l[:len(l)-len(body)], '\t'); at >= 0 && strings.TrimSpace(body) != "" && body[0] != '#' {
			return i + 1, at + 1
		}
	}
	return 0, 0
}

// firstNotUTF8 is the place of the first byte that is no UTF-8.
func firstNotUTF8(text []byte) (line, col int) {
	marked := strings.ToValidUTF8(string(text), "\xff") // a byte that UTF-8 never has
	before := marked[:strings.IndexByte(marked, 0xff)]
	return 1 + strings.Count(before, "\n"), 1 + utf8.RuneCountInString(before[strings.LastIndexByte(before, '\n')+1:])
}
