package climate

import (
	"bytes"
	"errors"
	"fmt"
	"io"

	"stillrow/ingest/weather"
)

// mostLine is the longest line a table may have, bytes, and with it the longest
// text in quotation marks, which may hold ends of lines, and run of comments.
const mostLine = 4 << 20

var errLine = fmt.Errorf("a line or a text in quotation marks of over %d bytes, want at most that: not a table of monthly means", mostLine)

// A bound reads no more of one line than mostLine, and a little that csv.Reader
// reads ahead.
type bound struct {
	r    io.Reader
	left int // bytes that may still be read before the next line is asked for
	line int // that the last byte read lies in
}

// Read reads on.
func (b *bound) Read(p []byte) (int, error) {
	if b.left <= 0 {
		return 0, errLine
	}
	n, err := b.r.Read(p)
	b.left -= n
	b.line += bytes.Count(p[:n], []byte("\n"))
	return n, err
}

// next gives the fields of the next line.
func (t *table) next() ([]string, error) {
	t.bound.left = mostLine
	return t.csv.Read()
}

// broken makes the file's error of what ended its reading.
func (t *table) broken(err error) error {
	at := &weather.FileError{File: t.file, Err: err}
	if errors.Is(err, errLine) {
		at.Line = t.bound.line
	}
	return at
}
