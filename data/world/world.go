// Package world says which country a place lies in, and holds the countries'
// outlines for maps.
//
// The outlines are those of Natural Earth at 1:50 million, as the npm package
// world-atlas 2.0.2 has them, rounded to 0.0036° of longitude and 0.0017° of
// latitude: a place within a kilometre or two of a border or coast may be put on
// its other side. Coordinates are degrees, WGS 84, longitude first in
// orb's types. No ring crosses the 180th meridian, where outlines are cut as
// RFC 7946 asks; polygons of one country overlap nowhere.
//
// A code is ISO 3166-1 alpha-2, and XK, which ISO leaves to its users, for
// Kosovo. Territories with a code of their own stand for themselves. The de
// facto borders are Natural Earth's and no statement of ours; what it draws
// apart without an ISO number goes with Somalia, Cyprus and Australia, and the
// Siachen glacier belongs to whichever country is nearest.
package world

import (
	"fmt"
	"io/fs"

	"github.com/paulmach/orb"
)

// File is where Load finds the countries.
const File = "world/countries.bin"

// A Country is a code, a short English name and an outline: per polygon the
// shore first, then holes, each ring closed.
type Country struct {
	Code, Name string
	Outline    orb.MultiPolygon
}

// A World is all countries. It is safe for concurrent use.
type World struct {
	Countries []Country // by code
	bands     [][]edge
}

// Load reads the countries; an error names the file and the byte.
func Load(files fs.FS) (*World, error) {
	text, err := fs.ReadFile(files, File)
	if err != nil {
		return nil, err
	}
	d := &decoder{rest: text}
	list := d.countries()
	if d.err != nil {
		return nil, fmt.Errorf("%s: byte %d: %w", File, len(text)-len(d.rest), d.err)
	}
	return New(list), nil
}

// New makes a world of countries, which must be in the order of their codes.
func New(countries []Country) *World {
	return &World{Countries: countries, bands: bandsOf(countries)}
}
