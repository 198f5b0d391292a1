package asciigrid

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"

	"stillrow/ingest/row"
	"stillrow/ingest/weather"
)

// maxWord is the longest word of such a file, bytes.
const maxWord = 64

// A scanner parts a file into words.
type scanner struct {
	in     *bufio.Reader
	name   string
	at     place // of the word read last
	pos    int64 // of the next byte
	line   int   // it is on
	word   [maxWord]byte
	n      int
	peeked bool
}

func newScanner(r io.ReaderAt, from place, size int64, name string) *scanner {
	return &scanner{in: bufio.NewReaderSize(io.NewSectionReader(r, from.at, size-from.at), 1<<16), name: name, pos: from.at, line: from.line}
}

// peek gives the next word, which next will give again.
func (s *scanner) peek() ([]byte, error) {
	w, err := s.next()
	s.peeked = err == nil
	return w, err
}

// next gives the next word, valid until the next call; at the end io.EOF.
func (s *scanner) next() ([]byte, error) {
	if s.peeked {
		s.peeked = false
		return s.word[:s.n], nil
	}
	s.n = 0
	for {
		c, err := s.in.ReadByte()
		if err == io.EOF && s.n > 0 {
			return s.word[:s.n], nil
		}
		if err == io.EOF {
			s.at = place{s.pos, s.line}
			return nil, err
		}
		if err != nil {
			return nil, &weather.FileError{File: s.name, Line: s.line, Err: err}
		}
		if c == ' ' || c == '\t' || c == '\r' || c == '\n' || c == '\f' {
			if s.n > 0 {
				s.in.UnreadByte() // the line counts from here on
				return s.word[:s.n], nil
			}
			s.pos++
			if c == '\n' {
				s.line++
			}
			continue
		}
		if s.n == 0 {
			s.at = place{s.pos, s.line}
		}
		s.pos++
		if c < ' ' || c == 0x7f {
			return nil, s.fail("", errors.New("binary content, not a grid in text"))
		}
		if s.n == maxWord {
			return nil, s.fail("", fmt.Errorf("%q… is no number", clip(s.word[:])))
		}
		s.word[s.n] = c
		s.n++
	}
}

// number reads a word as a number; nan is one.
func (s *scanner) number(w []byte) (float64, error) {
	if v, ok := row.Number(w); ok {
		return v, nil
	}
	if isNaN(w) {
		return math.NaN(), nil
	}
	if bytes.IndexByte(w, ',') >= 0 {
		return 0, s.fail("", fmt.Errorf("%q: a comma in a number; decimals need a point, and blanks between values", clip(w)))
	}
	return 0, s.fail("", fmt.Errorf("%q is not a number", clip(w)))
}

// isNaN tells whether a word is how programs print the missing number.
func isNaN(w []byte) bool {
	for _, form := range []string{"nan", "-nan", "nan(ind)", "-nan(ind)", "-1.#ind", "1.#qnan"} {
		if bytes.EqualFold(w, []byte(form)) {
			return true
		}
	}
	return false
}

// fail names the line of the word read last.
func (s *scanner) fail(field string, err error) error {
	return &weather.FileError{File: s.name, Line: s.at.line, Field: field, Err: err}
}

// clip makes a word fit for a message.
func clip(w []byte) string {
	const most = 32
	text := row.Text(w)
	if r := []rune(text); len(r) > most {
		return string(r[:most])
	}
	return text
}
