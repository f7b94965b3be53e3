package recorded

import (
	"bufio"
	"io"
)

// skipBOM drops the byte order mark that spreadsheets put in front.
func skipBOM(r io.Reader) io.Reader {
	b := bufio.NewReaderSize(r, 1<<16)
	if head, _ := b.Peek(3); string(head) == "\ufeff" {
		b.Discard(3)
	}
	return b
}
