// Package row holds what the text formats of weather data share: lines, fields,
// numbers, columns with their missing codes and possible ranges, and the grid
// of hours that rows are put on.
//
// A parser reads Lines, splits them into Fields, asks Cells for the values of its
// Picks and puts them on a Grid. What spoils a cell is a weather.CellError, kept by Cells while
// reading goes on; what spoils a file is a *weather.FileError, returned at once.
package row

import (
	"bytes"
	"fmt"
	"strings"
	"unicode/utf8"

	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
)

// Decode makes a valid string of a header line: control characters go, and
// bytes that are not UTF-8 are read as Latin-1, the usual encoding of older
// files.
func Decode(b []byte) string {
	s := string(b)
	if !utf8.Valid(b) {
		r := make([]rune, len(b))
		for i, c := range b {
			r[i] = rune(c)
		}
		s = string(r)
	}
	return strings.Map(func(r rune) rune {
		if r < ' ' || (r >= 0x7f && r < 0xa0) {
			return -1
		}
		return r
	}, s)
}

// Text makes a valid string of a header field, without spaces and quotes around
// it.
func Text(b []byte) string {
	s := strings.TrimSpace(Decode(b))
	if len(s) >= 2 && s[0] == '"' && s[len(s)-1] == '"' {
		s = strings.TrimSpace(s[1 : len(s)-1])
	}
	return s
}

// A Header reads the numbers of a file's header, where a bad one spoils the
// file.
type Header struct {
	File string
	Line int
}

// Number gives the number in a header field, which must lie in the range.
func (h Header) Number(field string, b []byte, r sky.Range) (float64, error) {
	v, ok := Number(b)
	switch {
	case !ok && len(bytes.TrimSpace(b)) == 0:
		return 0, h.Errorf(field, "%w", weather.ErrNoData)
	case !ok:
		return 0, h.Errorf(field, "%q is not a number", clip(b))
	case !r.Holds(v):
		return 0, h.Errorf(field, "%q is outside %g to %g", clip(b), r.Min, r.Max)
	}
	return v, nil
}

// Errorf makes the file's error out of a reason.
func (h Header) Errorf(field, format string, args ...any) error {
	return &weather.FileError{File: h.File, Line: h.Line, Field: field, Err: fmt.Errorf(format, args...)}
}

// Ranges of the place in a header. Longitudes counted 0 to 360 are accepted and
// brought to −180 to 180 by Longitude; time zones go from Baker Island to the
// Line Islands; elevations from below the Dead Sea to the highest peak.
var (
	LatitudeRange  = sky.Range{Min: -90, Max: 90}
	LongitudeRange = sky.Range{Min: -180, Max: 360}
	ZoneRange      = sky.Range{Min: -12, Max: 14}
	ElevationRange = sky.Range{Min: -500, Max: 9000}
)

// Longitude brings a longitude in degrees to −180 to 180.
func Longitude(deg float64) float64 {
	if deg > 180 {
		return deg - 360
	}
	return deg
}

// clip shortens a cell for a one-line message.
func clip(b []byte) string {
	const most = 40
	s := Text(b)
	if utf8.RuneCountInString(s) > most {
		return string([]rune(s)[:most]) + "…"
	}
	return s
}

// Slug makes an id of a text: letters, digits, points and underscores stay,
// any run of others becomes one hyphen, none at the ends.
func Slug(s string) string {
	var b strings.Builder
	gap := false
	for _, r := range s {
		if r == '.' || r == '_' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' {
			if gap && b.Len() > 0 {
				b.WriteByte('-')
			}
			b.WriteRune(r)
			gap = false
			continue
		}
		gap = true
	}
	return b.String()
}
