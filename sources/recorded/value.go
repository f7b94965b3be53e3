package recorded

import (
	"fmt"
	"strings"
)

// ReadEvent reads the value of an event of some kind, as it stands in a file, into a new Event without a time.
func ReadEvent(kind Kind, value string) (Event, error) {
	e := Event{Kind: kind, Value: value}
	parse, known := values[kind]
	if !known {
		return e, fmt.Errorf("event %q: unknown", kind)
	}
	if err := parse(&e, strings.TrimSpace(value)); err != nil {
		return e, fmt.Errorf("event %q, value %q: %w", kind, value, err)
	}
	return e, nil
}
