package main

import (
	"bufio"
	"context"
	"errors"
	"io"
	"sync"
)

// keyboard hands standard input, line by line, to whichever household runs. A line that one took and did not get to handle is the
// next one's.
type keyboard struct {
	in    io.Reader
	begin sync.Once
	lines chan []byte // closed at the end of the input
	back  chan []byte // taken by a reader whose time was over
	err   error       // how it ended; read after lines is closed

	mu   sync.Mutex
	held []byte // taken by the reader that reads now; it is handled once that reader asks for more
	any  bool   // something was ever read
}

func newKeyboard(in io.Reader) *keyboard {
	return &keyboard{in: in, lines: make(chan []byte), back: make(chan []byte, 1)}
}

// longestLine is read in one piece, in bytes.
const longestLine = 8 << 10

func (k *keyboard) pump() {
	defer close(k.lines)
	b := bufio.NewReaderSize(k.in, longestLine)
	for {
		line, err := b.ReadSlice('\n')
		if len(line) > 0 {
			k.lines <- append([]byte(nil), line...)
		}
		if err != nil && !errors.Is(err, bufio.ErrBufferFull) {
			if !errors.Is(err, io.EOF) {
				k.err = err
			}
			return
		}
	}
}

// until is the input of a household that runs until ctx ends. atOnce is called when the input was closed before anything was read:
// after an error of it, that is the end; else the household waits for ctx without anybody who types.
func (k *keyboard) until(ctx context.Context, atOnce func() error) io.Reader {
	k.begin.Do(func() { go k.pump() })
	r := &lineReader{k: k, ctx: ctx, atOnce: atOnce}
	k.mu.Lock()
	r.rest, k.held = k.held, nil
	k.mu.Unlock()
	return r
}

type lineReader struct {
	k      *keyboard
	ctx    context.Context
	atOnce func() error
	rest   []byte // of a line, for the next Read
}

// Read gives at most one line.
func (r *lineReader) Read(p []byte) (int, error) {
	if len(r.rest) == 0 {
		r.k.hold(nil) // whoever asks for more has handled what came before
		select {
		case <-r.ctx.Done():
			return 0, io.EOF
		case r.rest = <-r.k.back:
		case line, more := <-r.k.lines:
			if !more {
				return 0, r.end()
			}
			r.rest = line
		}
		if r.ctx.Err() != nil {
			r.k.back <- r.rest
			return 0, io.EOF
		}
	}
	r.k.hold(r.rest)
	n := copy(p, r.rest)
	r.rest = r.rest[n:]
	return n, nil
}

func (r *lineReader) end() error {
	switch {
	case r.k.err != nil:
		return r.k.err
	case r.k.ever():
		return io.EOF
	}
	if err := r.atOnce(); err != nil {
		return err
	}
	<-r.ctx.Done()
	return io.EOF
}

func (k *keyboard) hold(line []byte) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.held = line
	k.any = k.any || len(line) > 0
}

func (k *keyboard) ever() bool {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.any
}
