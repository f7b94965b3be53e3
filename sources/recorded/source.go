package recorded

import (
	"context"
	"io"
	"iter"

	"tarebell/sources"
)

// Source hands out recorded weighings one at a time, as a sources.Source.
type Source struct {
	next func() (sources.Weighing, error, bool)
	stop func()
	err  error
}

// NewSource reads from r; file names it in errors.
func NewSource(file string, r io.Reader) *Source {
	s := &Source{}
	s.next, s.stop = iter.Pull2(Weighings(file, r))
	return s
}

// Poll returns the next weighing, io.EOF after the last. A mistake in the file is a *sources.Failure around an
// *Error; what follows it is not read.
func (s *Source) Poll(ctx context.Context) (sources.Weighing, error) {
	if ctx.Err() != nil {
		return sources.Weighing{}, ctx.Err()
	}
	if s.err != nil {
		return sources.Weighing{}, s.err
	}
	w, err, ok := s.next()
	switch {
	case !ok:
		s.err = io.EOF
	case err != nil:
		s.err = &sources.Failure{Kind: sources.Unreadable, Read: err.Error(), Err: err}
	}
	if s.err != nil {
		s.stop()
	}
	return w, s.err
}

// Close ends the reading early.
func (s *Source) Close() error {
	s.stop()
	return nil
}

var _ sources.Source = (*Source)(nil)
