package config

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"gopkg.in/yaml.v3"
)

// shape is a JSON Schema (draft 7, which editors know best).
type shape struct {
	Schema      string            `json:"$schema,omitempty"`
	Title       string            `json:"title,omitempty"`
	Description string            `json:"description,omitempty"`
	Type        any               `json:"type,omitempty"` // a name or several
	Properties  map[string]*shape `json:"properties,omitempty"`
	Required    []string          `json:"required,omitempty"`
	More        *bool             `json:"additionalProperties,omitempty"` // keys that are not among the properties
	Items       *shape            `json:"items,omitempty"`
	AnyOf       []*shape          `json:"anyOf,omitempty"`
	Enum        []string          `json:"enum,omitempty"`
	MinItems    int               `json:"minItems,omitempty"`
	Examples    []any             `json:"examples,omitempty"`
}

// choices are the words that a key takes, for an editor to offer.
var choices = map[string][]string{
	"household.units":        {"metric", "us"},
	"cylinders[].scale.unit": {"g", "kg", "lb", "oz", "G", "KG", "Kg", "LB", "OZ"},
}

// JSONSchema describes the config for an editor: every key, what belongs there and what its absence means. It knows the shape of a
// value and not its meaning: what it lets pass, Parse may refuse.
func JSONSchema() ([]byte, error) {
	s, err := groupShape("")
	if err != nil {
		return nil, err
	}
	s.Schema, s.Title = "http://json-schema.org/draft-07/schema#", "Config of Tarebell"
	return json.MarshalIndent(s, "", "  ")
}

// groupShape is a group of keys.
func groupShape(group string) (*shape, error) {
	no := false
	s := &shape{Type: "object", Properties: map[string]*shape{}, More: &no}
	for _, k := range schema[group] {
		v, err := k.shape(strings.TrimPrefix(group+"."+k.name, "."))
		if err != nil {
			return nil, err
		}
		s.Properties[k.name] = v
		if k.need {
			s.Required = append(s.Required, k.name)
		}
	}
	return s, nil
}

// shape is a key with its value, whose form is that of the example.
func (k key) shape(path string) (*shape, error) {
	var example any
	if err := yaml.Unmarshal([]byte(k.example), &example); err != nil {
		return nil, fmt.Errorf("example of %s: %w", path, err)
	}
	s, err := valueShape(path, example)
	if err != nil {
		return nil, err
	}
	s.Description = strings.ToUpper(k.want[:1]) + k.want[1:] + "."
	if k.def != "" {
		s.Description += " If left out: " + k.def + "."
	}
	s.Examples = []any{example}
	return s, nil
}

func valueShape(path string, example any) (*shape, error) {
	list, isList := example.([]any)
	switch {
	case schema[path] != nil:
		return groupShape(path)
	case schema[path+"[]"] != nil:
		item, err := groupShape(path + "[]")
		if slices.ContainsFunc(list, func(e any) bool { _, word := e.(string); return word }) {
			item = &shape{AnyOf: []*shape{scalarShape(""), item}}
		}
		return &shape{Type: "array", Items: item, MinItems: 1}, err
	case isList:
		one := scalarShape(list[0])
		return &shape{AnyOf: []*shape{one, {Type: "array", Items: one, MinItems: 1}}}, nil
	case choices[path] != nil:
		return &shape{Enum: choices[path]}, nil
	}
	return scalarShape(example), nil
}

// scalarShape is a value by its example: true or false; a long number, which an editor would round unless it is in quotes; or whatever
// can be written in a word, as most values are read from their letters.
func scalarShape(example any) *shape {
	switch x := example.(type) {
	case bool:
		return &shape{Type: "boolean"}
	case string:
		if len(x) > 15 && strings.Trim(x, "0123456789") == "" {
			return &shape{Type: "string"}
		}
	}
	return &shape{Type: []string{"string", "number"}}
}
