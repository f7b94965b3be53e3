package main

import (
	"fmt"

	"tarebell/config"
)

// schemaCommand prints the JSON Schema of the config.
type schemaCommand struct{}

func (schemaCommand) Run(w *world) error {
	s, err := config.JSONSchema()
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(w.out, "%s\n", s)
	return err
}
