package row

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"unicode/utf8"

	"stillrow/ingest/weather"
)

// maxLine is the longest line a weather file may have, bytes; header lines of
// real files reach 10 kB.
const maxLine = 1 << 20

// Lines reads a text file line by line. Lines end with LF or CRLF, mixed as they
// come; a UTF-8 byte order mark at the start is skipped.
type Lines struct {
	name string
	r    *bufio.Reader
	here []byte // whole lines of r's buffer, without a NUL
	used int    // bytes of here that are read
	long []byte // a line longer than the buffer
	line int
	cut  bool
}

// NewLines reads r, which errors call name.
func NewLines(name string, r io.Reader) *Lines {
	return &Lines{name: name, r: bufio.NewReaderSize(r, 1<<16)}
}

// Line gives the number of the line read last, from 1.
func (l *Lines) Line() int { return l.line }

// Cut reports whether the line read last has no line end: the file stops in it.
func (l *Lines) Cut() bool { return l.cut }

// Header gives errors for the line read last.
func (l *Lines) Header() Header { return Header{File: l.name, Line: l.line} }

// Next gives the next line without its end, valid until the next call. At the
// end of the file the error is io.EOF; any other is a *weather.FileError.
func (l *Lines) Next() ([]byte, error) {
	b := l.here[l.used:]
	i := bytes.IndexByte(b, '\n')
	if i < 0 {
		return l.next()
	}
	b = b[:i]
	l.used += i + 1
	l.line++
	if i > 0 && b[i-1] == '\r' {
		b = b[:i-1]
	}
	return b, nil
}

// next gives a line that here does not hold, and sets here to what the buffer
// has of whole lines after it.
func (l *Lines) next() ([]byte, error) {
	if _, err := l.r.Discard(l.used); err != nil {
		return nil, err // never: they are in the buffer
	}
	l.here, l.used = nil, 0
	b, err := l.read()
	if err != nil {
		return nil, err
	}
	l.line++
	if l.line == 1 {
		switch {
		case bytes.HasPrefix(b, []byte("\xef\xbb\xbf")):
			b = b[3:]
		case bytes.HasPrefix(b, []byte("\xff\xfe")), bytes.HasPrefix(b, []byte("\xfe\xff")):
			return nil, l.fail("text in UTF-16; save it as UTF-8")
		}
	}
	if bytes.IndexByte(b, 0) >= 0 {
		return nil, l.fail("binary content, not text")
	}
	l.cut = true
	if n := len(b); n > 0 && b[n-1] == '\n' {
		b, l.cut = b[:n-1], false
	}
	if n := len(b); n > 0 && b[n-1] == '\r' {
		b = b[:n-1]
	}
	l.here, err = l.r.Peek(l.r.Buffered())
	if zero := bytes.IndexByte(l.here, 0); zero >= 0 {
		l.here = l.here[:zero]
	}
	l.here = l.here[:bytes.LastIndexByte(l.here, '\n')+1]
	return b, err
}

// Blank reports whether a line is empty but for spaces.
func Blank(line []byte) bool {
	return (len(line) == 0 || line[0] <= ' ' || line[0] >= utf8.RuneSelf) && len(bytes.TrimSpace(line)) == 0
}

// read gives the next line with its end.
func (l *Lines) read() ([]byte, error) {
	b, err := l.r.ReadSlice('\n')
	if err == bufio.ErrBufferFull {
		l.long = append(l.long[:0], b...)
		for err == bufio.ErrBufferFull {
			if len(l.long) > maxLine {
				l.line++
				return nil, l.fail(fmt.Sprintf("a line of over %d bytes, the most a line may have; not a weather table", maxLine))
			}
			b, err = l.r.ReadSlice('\n')
			l.long = append(l.long, b...)
		}
		b = l.long
	}
	if err == io.EOF && len(b) > 0 {
		return b, nil
	}
	if err != nil && err != io.EOF {
		return nil, &weather.FileError{File: l.name, Line: l.line + 1, Err: err}
	}
	return b, err
}

func (l *Lines) fail(reason string) error {
	return &weather.FileError{File: l.name, Line: l.line, Err: errors.New(reason)}
}
