package terminal

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"os"
	"path/filepath"
	"time"

	"tarebell/bot/internal/chat"
)

// entry is one line of the logbook: a message that was posted (or edited: the same Number again), or, with
// only Read set, the fact that it has been shown.
type entry struct {
	Number  int           `json:"n,omitempty"`
	At      time.Time     `json:"at,omitzero"`
	Message *chat.Message `json:"message,omitempty"` // files without their data
	Places  []string      `json:"places,omitempty"`
	Read    int           `json:"read,omitempty"` // number of a message that reached the screen
}

// logbook is the channel's memory: an append-only file, each line written in one piece. It makes a notice
// that was posted before a crash findable after it, and keeps the codes of buttons. Without a file it
// remembers for as long as the program runs.
type logbook struct {
	file    *os.File
	next    int
	byID    map[string]int
	posts   map[int]entry
	pending map[int]bool // posted, but not known to have been shown
	torn    bool         // the last write may have left half a line
}

// kept is how many messages are remembered: enough for any notice still on its way and any button in sight.
const kept = 2000

func openLogbook(path string) (*logbook, error) {
	t := &logbook{next: 1, byID: map[string]int{}, posts: map[int]entry{}, pending: map[int]bool{}}
	if path == "" {
		return t, nil
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return nil, fmt.Errorf("making the channel's folder: %w", err)
	}
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_APPEND, 0o644)
	if err != nil {
		return nil, fmt.Errorf("opening the channel's logbook: %w", err)
	}
	t.file = f
	if err := t.load(); err != nil {
		return nil, errors.Join(fmt.Errorf("reading the channel's logbook %q: %w", path, err), f.Close())
	}
	return t, nil
}

// load reads the file. A line cut off by a crash was never acknowledged: it is ended and left behind.
func (t *logbook) load() error {
	r := bufio.NewReader(t.file)
	for {
		line, err := r.ReadBytes('\n')
		if err == io.EOF {
			if len(line) > 0 {
				_, err = t.file.WriteString("\n")
				return err
			}
			return nil
		}
		if err != nil {
			return err
		}
		var e entry
		if json.Unmarshal(line, &e) == nil {
			t.remember(e)
		}
	}
}

func (t *logbook) remember(e entry) {
	if e.Read != 0 {
		delete(t.pending, e.Read)
		return
	}
	if e.Message == nil {
		return
	}
	t.posts[e.Number] = e
	t.pending[e.Number] = true
	t.next = max(t.next, e.Number+1)
	if e.Message.ID != "" {
		t.byID[e.Message.ID] = e.Number
	}
	t.forget(e.Number - kept)
}

func (t *logbook) forget(n int) {
	if e, ok := t.posts[n]; ok {
		delete(t.byID, e.Message.ID)
		delete(t.posts, n)
		delete(t.pending, n)
	}
}

// newest goes through the messages, the newest first, with their numbers.
func (t *logbook) newest() iter.Seq2[int, *chat.Message] {
	return func(yield func(int, *chat.Message) bool) {
		for n := t.next - 1; n > 0 && n > t.next-kept; n-- {
			if e, ok := t.posts[n]; ok && !yield(n, e.Message) {
				return
			}
		}
	}
}

// append remembers e, and writes it down. After an error it is remembered all the same, until the program ends.
func (t *logbook) append(e entry) error {
	defer t.remember(e)
	if t.file == nil {
		return nil
	}
	line, err := json.Marshal(e)
	if err != nil {
		return err
	}
	line = append(line, '\n')
	if t.torn {
		line = append([]byte{'\n'}, line...)
	}
	_, err = t.file.Write(line)
	t.torn = err != nil
	return err
}

func (t *logbook) close() error {
	if t.file == nil {
		return nil
	}
	return t.file.Close()
}
