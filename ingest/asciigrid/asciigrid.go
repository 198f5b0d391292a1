// Package asciigrid reads ESRI ASCII grids: six lines of header (ncols, nrows,
// the lower left corner or the centre of its cell, the cell size, the code for
// no data), then the values from the north-western cell row by row, broken into
// lines anywhere. The format has no units and no coordinate system: coordinates
// must be degrees, and package raster tells the rest by the file's name.
package asciigrid

import (
	"fmt"
	"io"
	"math"

	"stillrow/ingest/grid"
	"stillrow/ingest/raster"
	"stillrow/ingest/weather"
)

// Most is the greatest number of columns and of rows.
const Most = 1 << 18

// A Raster is an open grid. It holds a place in the file for each row, not the
// values.
type Raster struct {
	Name          string
	Width, Height int
	Lat, Lon      []float64 // centres of the cells, degrees; Lat falls
	noData        float64   // NaN where there is no code
	r             io.ReaderAt
	size          int64
	rows          []place // first value of each row
}

// A place in the file.
type place struct {
	at   int64
	line int
}

// Open reads the header and passes once over all values, so that a bad one is
// named now. The name is for errors, which are *weather.FileError.
func Open(r io.ReaderAt, size int64, name string) (*Raster, error) {
	g := &Raster{Name: name, noData: math.NaN(), r: r, size: size}
	s := newScanner(r, place{0, 1}, size, name)
	if err := g.header(s); err != nil {
		return nil, err
	}
	n := 0
	for {
		w, err := s.next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, err
		}
		if n%g.Width == 0 {
			if n/g.Width == g.Height {
				return nil, s.fail("", fmt.Errorf("more values than %d × %d", g.Width, g.Height))
			}
			g.rows = append(g.rows, s.at)
		}
		if _, err := g.value(s, w); err != nil {
			return nil, err
		}
		n++
	}
	if want := g.Width * g.Height; n < want {
		return nil, s.fail("", fmt.Errorf("ends after %d of %d × %d values, in row %d: cut off?", n, g.Width, g.Height, n/g.Width+1))
	}
	return g, nil
}

// value reads a value, NaN where it is the code for no data.
func (g *Raster) value(s *scanner, w []byte) (float64, error) {
	v, err := s.number(w)
	if err != nil {
		return 0, err
	}
	if v == g.noData {
		return math.NaN(), nil
	}
	return v, nil
}

// ReadRows fills dst with the values of rows y to y+ny, NaN where missing; there
// is one band, 0. It may be called from several goroutines.
func (g *Raster) ReadRows(dst []float32, band, y, ny int) error {
	if band != 0 || y < 0 || ny < 0 || y+ny > g.Height || len(dst) != ny*g.Width {
		return fmt.Errorf("%s: no rows %d to %d of band %d in %d values of %d rows", g.Name, y, y+ny, band, len(dst), g.Height)
	}
	if ny == 0 {
		return nil
	}
	s := newScanner(g.r, g.rows[y], g.size, g.Name)
	for i := range dst {
		w, err := s.next()
		if err == io.EOF {
			err = s.fail("", io.ErrUnexpectedEOF)
		}
		if err != nil {
			return err
		}
		v, err := g.value(s, w)
		if err != nil {
			return err
		}
		dst[i] = float32(v)
	}
	return nil
}

// Read opens a grid and tells by its name what it holds; see package raster.
func Read(r io.ReaderAt, size int64, name string) (*grid.File, error) {
	g, err := Open(r, size, name)
	if err != nil {
		return nil, err
	}
	out := raster.Raster{Name: name, Lat: g.Lat, Lon: g.Lon, Bands: make([]raster.Band, 1), Size: size,
		Warnings: []string{name + ": an ASCII grid names no coordinate system; its coordinates are taken as degrees"},
		Read: func(dst []float32, bands []int, y, ny int) error {
			n := ny * g.Width
			for i, b := range bands {
				if err := g.ReadRows(dst[i*n:(i+1)*n], b, y, ny); err != nil {
					return err
				}
			}
			return nil
		}}
	return out.File()
}

// place the centres of the cells: x and y those of the lower left one.
func (g *Raster) centres(x, y, dx, dy float64) error {
	fail := func(format string, a ...any) error {
		return &weather.FileError{File: g.Name, Err: fmt.Errorf(format, a...)}
	}
	const slack = 1e-6
	east, north := x+float64(g.Width-1)*dx, y+float64(g.Height-1)*dy
	if !(y >= -90-slack && north <= 90+slack && x >= -360-slack && east <= 720+slack) {
		return fail("centres x %g to %g, y %g to %g are not degrees; a projected grid is brought to degrees by: gdalwarp -s_srs EPSG:CODE -t_srs EPSG:4326 %s out.tif",
			x, east, y, north, g.Name)
	}
	if (east - x) > 360+slack {
		return fail("columns go round the earth more than once, from %g to %g", x, east)
	}
	g.Lon, g.Lat = make([]float64, g.Width), make([]float64, g.Height)
	for i := range g.Lon {
		g.Lon[i] = x + float64(i)*dx
	}
	for i := range g.Lat {
		g.Lat[i] = y + float64(g.Height-1-i)*dy
	}
	return nil
}
