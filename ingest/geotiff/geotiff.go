// Package geotiff reads GeoTIFF rasters on geographic coordinates: TIFF 6.0 and
// BigTIFF of either byte order, strips and tiles, bands by pixel or by plane,
// integers of 8 to 64 bits and floats of 32 and 64, packed by DEFLATE, LZW, ZSTD,
// PackBits or not at all, with predictors 2 and 3. Overviews and masks are left
// aside. It knows what GDAL adds (no-data value, scale, offset, unit and
// description of a band).
//
// Sources: TIFF Revision 6.0 (1992); TIFF Technical Note 3 (2005) for predictor
// 3; OGC 19-008r4, GeoTIFF Standard 1.1; the tags of GDAL by its documentation.
//
// What a file uses and is not read is an error that names it and, where there
// is one, the call of GDAL that mends it. Everything a header claims is held
// against the size of the file or a limit before memory is taken for it.
package geotiff

import (
	"fmt"
	"io"

	"stillrow/ingest/grid"
	"stillrow/ingest/raster"
	"stillrow/ingest/weather"
)

// Limits of what is taken for a raster.
const (
	mostSide  = 1 << 20   // rows and columns
	mostBands = 1 << 12   //
	mostBlock = 128 << 20 // bytes of an unpacked strip or tile
)

// A Raster is an open file. It may be read from several goroutines.
type Raster struct {
	Name          string
	Width, Height int
	Lat, Lon      []float64 // centres of the cells in the order stored, degrees
	Bands         []Band
	Warnings      []string
	ChunkRows     int // rows of a strip or tile

	file   *file
	layout layout
	codec  codec
	sample sample
}

// A Band is what the file says about one band.
type Band struct {
	Description, Unit string
	Scale, Offset     float64 // value = Scale·stored + Offset
}

// Open reads the structure of a file. The name is for errors, which are
// *weather.FileError.
func Open(r io.ReaderAt, size int64, name string) (*Raster, error) {
	f, err := openFile(r, size)
	if err != nil {
		return nil, &weather.FileError{File: name, Err: err}
	}
	g := &Raster{Name: name, file: f}
	if err := g.open(); err != nil {
		return nil, &weather.FileError{File: name, Err: err}
	}
	return g, nil
}

func (g *Raster) open() error {
	dir, err := g.file.image(g.Name)
	if err != nil {
		return err
	}
	if g.Width, err = dir.whole(tagWidth, 0, 1, mostSide); err != nil {
		return err
	}
	if g.Height, err = dir.whole(tagHeight, 0, 1, mostSide); err != nil {
		return err
	}
	n, err := dir.whole(tagSamples, 1, 1, mostBands)
	if err != nil {
		return err
	}
	if g.sample, err = newSample(dir, n, g.file.order); err != nil {
		return err
	}
	if g.codec, err = newCodec(dir, g.Name, &g.sample); err != nil {
		return err
	}
	if g.layout, err = newLayout(dir, g.Width, g.Height, n, g.sample.size); err != nil {
		return err
	}
	g.ChunkRows = g.layout.height
	if g.Bands, err = bands(dir, n); err != nil {
		return err
	}
	return g.locate(dir)
}

// ReadRows fills dst with rows y to y+ny of a band, counted from 0, NaN where
// missing.
func (g *Raster) ReadRows(dst []float32, band, y, ny int) error {
	return g.read(dst, []int{band}, y, ny)
}

// read fills dst with rows of several bands, the bands slowest. A block that
// holds more than one of them is unpacked once.
func (g *Raster) read(dst []float32, list []int, y, ny int) error {
	if y < 0 || ny < 0 || y+ny > g.Height || len(dst) != len(list)*ny*g.Width {
		return fmt.Errorf("%s: no rows %d to %d of %d for %d values", g.Name, y, y+ny, g.Height, len(dst))
	}
	for _, b := range list {
		if b < 0 || b >= len(g.Bands) {
			return fmt.Errorf("%s: no band %d of %d", g.Name, b, len(g.Bands))
		}
	}
	if ny == 0 || len(list) == 0 {
		return nil
	}
	l := &g.layout
	work := newUnpacker()
	for by := y / l.height; by <= (y+ny-1)/l.height; by++ {
		for bx := range l.across {
			var data []byte
			for i, b := range list {
				plane := 0
				if l.planar {
					plane = b
				}
				if i == 0 || l.planar {
					var err error
					if data, err = g.block(work, plane, bx, by); err != nil {
						return &weather.FileError{File: g.Name, Err: err}
					}
				}
				g.spread(dst[i*ny*g.Width:(i+1)*ny*g.Width], data, b, bx, by, y, ny)
			}
		}
	}
	return nil
}

// block reads and unpacks a strip or tile; nil where the file never wrote it.
func (g *Raster) block(work *unpacker, plane, bx, by int) ([]byte, error) {
	l := &g.layout
	i := (plane*l.down+by)*l.across + bx
	at, n := l.offset[i], l.count[i]
	if at == 0 || n == 0 {
		return nil, nil
	}
	rows := l.height
	if !l.tiled {
		rows = min(rows, g.Height-by*l.height)
	}
	fail := func(err error) error {
		what := "strip"
		if l.tiled {
			what = "tile"
		}
		return fmt.Errorf("%s %d of %d: %w", what, i+1, len(l.offset), err)
	}
	if at > uint64(g.file.size) || n > uint64(g.file.size)-at {
		return nil, fail(fmt.Errorf("bytes %d to %d lie beyond the end at %d: cut off?", at, at+n, g.file.size))
	}
	want := l.width * rows * l.samples * g.sample.size
	if n > uint64(2*want+1<<16) {
		return nil, fail(fmt.Errorf("%d bytes packed for %d unpacked", n, want))
	}
	packed := io.NewSectionReader(g.file.r, int64(at), int64(n))
	data, err := work.unpack(g.codec.pack, packed, want)
	if err != nil {
		return nil, fail(err)
	}
	g.codec.unpredict(data, l.width, l.samples, &g.sample)
	return data, nil
}

// spread puts a band's part of a block into rows y to y+ny.
func (g *Raster) spread(dst []float32, data []byte, band, bx, by, y, ny int) {
	l := &g.layout
	within := 0
	if !l.planar {
		within = band
	}
	x0, x1 := bx*l.width, min((bx+1)*l.width, g.Width)
	for row := max(y, by*l.height); row < min(y+ny, (by+1)*l.height); row++ {
		out := dst[(row-y)*g.Width+x0 : (row-y)*g.Width+x1]
		if data == nil {
			for i := range out {
				out[i] = nan32
			}
			continue
		}
		first := ((row-by*l.height)*l.width*l.samples + within) * g.sample.size
		g.sample.decode(out, data[first:], l.samples*g.sample.size, &g.Bands[band])
	}
}

// Read opens a raster and tells by its bands and its name what it holds; see
// package raster.
func Read(r io.ReaderAt, size int64, name string) (*grid.File, error) {
	g, err := Open(r, size, name)
	if err != nil {
		return nil, err
	}
	out := raster.Raster{Name: name, Lat: g.Lat, Lon: g.Lon, Size: size, Warnings: g.Warnings, ChunkRows: g.ChunkRows, Read: g.read}
	for _, b := range g.Bands {
		out.Bands = append(out.Bands, raster.Band{Description: b.Description, Unit: b.Unit})
	}
	return out.File()
}
