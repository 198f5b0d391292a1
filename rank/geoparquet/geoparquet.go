// Package geoparquet streams rows with a place as GeoParquet 1.1: geometry as
// WKB in longitude and latitude on WGS 84 (OGC:CRS84), a bounding box column
// that covers it, and the file's description of both under the key geo.
package geoparquet

import (
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"

	"github.com/parquet-go/parquet-go"
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkb"
)

// groupRows is the number of rows in a row group, which is in memory until it is
// full: few enough to skip by their boxes, enough to compress.
const groupRows = 10_000

// Version of the GeoParquet specification that is followed.
const Version = "1.1.0"

// A Shape is the place of a row as its columns hold it. Embed it in the row
// type; Write fills it in. The tags unit and meaning are for who lists columns.
type Shape struct {
	Geometry []byte `parquet:"geometry" meaning:"the place as WKB, longitude and latitude (OGC:CRS84)"`
	BBox     BBox   `parquet:"bbox" unit:"°" meaning:"xmin, ymin, xmax, ymax of the place, rounded outwards"`
}

// A BBox covers a geometry: its bounds, rounded outwards to single precision.
// A cell cut at the antimeridian has the box of both its parts, from -180 to
// 180: readers that skip rows by comparing numbers then find it.
type BBox struct {
	XMin float32 `parquet:"xmin"`
	YMin float32 `parquet:"ymin"`
	XMax float32 `parquet:"xmax"`
	YMax float32 `parquet:"ymax"`
}

// A Writer writes rows of type T, a struct with parquet tags that embeds a
// Shape. The same rows give the same bytes.
type Writer[T any] struct {
	out   *parquet.GenericWriter[T]
	shape func(*T) *Shape
	types map[string]bool
	bound orb.Bound
	one   [1]T
	rows  int
}

// NewWriter begins a file; shape returns the Shape inside a row. Metadata,
// which may be nil, are further keys of the file.
func NewWriter[T any](out io.Writer, shape func(*T) *Shape, metadata map[string]string) *Writer[T] {
	w := &Writer[T]{shape: shape, types: make(map[string]bool)}
	w.out = parquet.NewGenericWriter[T](out,
		parquet.Compression(&parquet.Zstd),
		parquet.DataPageVersion(1), // which the most readers know
		parquet.CreatedBy("stillrow", "1", "parquet-go"))
	for _, k := range slices.Sorted(maps.Keys(metadata)) { // the file keeps their order
		w.out.SetKeyValueMetadata(k, metadata[k])
	}
	return w
}

// Write adds a row at g, which must not be nil and must lie on the globe.
func (w *Writer[T]) Write(row T, g orb.Geometry) error {
	if g == nil {
		return fmt.Errorf("geoparquet: row %d: no geometry", w.rows+1)
	}
	b := g.Bound()
	if !(b.Left() >= -180 && b.Right() <= 180 && b.Bottom() >= -90 && b.Top() <= 90) { // NaN fails too
		return fmt.Errorf("geoparquet: row %d: longitude %g to %g, latitude %g to %g; want -180 to 180 and -90 to 90",
			w.rows+1, b.Left(), b.Right(), b.Bottom(), b.Top())
	}
	text, err := wkb.Marshal(g)
	if err != nil {
		return fmt.Errorf("geoparquet: row %d: %w", w.rows+1, err)
	}
	w.one[0] = row
	*w.shape(&w.one[0]) = Shape{text, BBox{below(b.Left()), below(b.Bottom()), above(b.Right()), above(b.Top())}}
	if _, err := w.out.Write(w.one[:]); err != nil {
		return fmt.Errorf("geoparquet: row %d: %w", w.rows+1, err)
	}
	w.types[g.GeoJSONType()] = true
	if w.rows == 0 {
		w.bound = b
	}
	w.bound = w.bound.Union(b)
	if w.rows++; w.rows%groupRows == 0 {
		return w.out.Flush()
	}
	return nil
}

// Close ends the file.
func (w *Writer[T]) Close() error {
	text, err := json.Marshal(w.describe())
	if err != nil {
		return fmt.Errorf("geoparquet: geo: %w", err)
	}
	w.out.SetKeyValueMetadata("geo", string(text))
	return w.out.Close()
}

// description is the geo metadata of the specification.
type description struct {
	Version string            `json:"version"`
	Primary string            `json:"primary_column"`
	Columns map[string]column `json:"columns"`
}

type column struct {
	Encoding    string                         `json:"encoding"`
	Types       []string                       `json:"geometry_types"`
	Orientation string                         `json:"orientation"`
	Edges       string                         `json:"edges"`
	BBox        []float64                      `json:"bbox,omitempty"`
	Covering    map[string]map[string][]string `json:"covering"`
}

func (w *Writer[T]) describe() description {
	c := column{Encoding: "WKB", Types: []string{}, Orientation: "counterclockwise", Edges: "planar",
		Covering: map[string]map[string][]string{"bbox": {}}}
	for t := range w.types {
		c.Types = append(c.Types, t)
	}
	slices.Sort(c.Types)
	if w.rows > 0 {
		c.BBox = []float64{w.bound.Left(), w.bound.Bottom(), w.bound.Right(), w.bound.Top()}
	}
	for _, name := range []string{"xmin", "ymin", "xmax", "ymax"} {
		c.Covering["bbox"][name] = []string{"bbox", name}
	}
	return description{Version, "geometry", map[string]column{"geometry": c}}
}

// below is the largest single-precision number that is not above v.
func below(v float64) float32 {
	f := float32(v)
	if float64(f) > v {
		f = math.Nextafter32(f, float32(math.Inf(-1)))
	}
	return f
}

// above is the smallest single-precision number that is not below v.
func above(v float64) float32 { return -below(-v) }
