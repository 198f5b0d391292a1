// Package geojson streams points and polygons as a GeoJSON FeatureCollection
// (RFC 7946), feature by feature and in bounded memory.
//
// Coordinates are longitude and latitude in degrees on WGS 84, written with six
// decimals (0.1 m). Rings follow the right-hand rule whichever way they come.
// Geometry that crosses the antimeridian must come cut in two.
package geojson

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"

	"github.com/paulmach/orb"
)

// A Feature is one place with what is known of it.
type Feature struct {
	ID         string       // left out when empty
	Geometry   orb.Geometry // orb.Point, orb.Polygon or orb.MultiPolygon
	Properties any          // a struct or map; null where it is nil
}

// A Writer writes one FeatureCollection. Buffer what it writes to: each
// feature is one Write.
type Writer struct {
	out    io.Writer
	extent extent
	some   bool
	buf    bytes.Buffer
	props  *json.Encoder // into buf
}

// NewWriter begins a collection. Members, which may be nil, are further members
// of the collection (RFC 7946 section 6.1), such as the currency of its prices.
func NewWriter(out io.Writer, members map[string]any) (*Writer, error) {
	w := &Writer{out: out}
	w.props = json.NewEncoder(&w.buf)
	w.props.SetEscapeHTML(false)
	w.buf.WriteString(`{"type":"FeatureCollection",`)
	if len(members) > 0 {
		text, err := json.Marshal(members)
		if err != nil {
			return nil, fmt.Errorf("geojson: members: %w", err)
		}
		w.buf.Write(text[1 : len(text)-1]) // without its braces
		w.buf.WriteByte(',')
	}
	w.buf.WriteString(`"features":[`)
	_, err := out.Write(w.buf.Bytes())
	return w, err
}

// Write adds a feature. A feature it refuses leaves the collection as it was.
func (w *Writer) Write(f Feature) error {
	shape, err := rounded(f.Geometry)
	if err != nil {
		return fmt.Errorf("geojson: feature %q: %w", f.ID, err)
	}
	w.buf.Reset()
	if w.some {
		w.buf.WriteByte(',')
	}
	w.buf.WriteString("\n{\"type\":\"Feature\"")
	if f.ID != "" {
		w.buf.WriteString(`,"id":`)
		if err := w.encode(f.ID); err != nil {
			return fmt.Errorf("geojson: feature %q: id: %w", f.ID, err)
		}
	}
	w.buf.WriteString(`,"geometry":`)
	w.geometry(shape)
	w.buf.WriteString(`,"properties":`)
	if err := w.encode(f.Properties); err != nil {
		return fmt.Errorf("geojson: feature %q: properties: %w", f.ID, err)
	}
	w.buf.WriteByte('}')
	if _, err := w.out.Write(w.buf.Bytes()); err != nil {
		return err
	}
	w.some = true
	w.extent.add(shape)
	return nil
}

// Close ends the collection with the bounding box of what is in it.
func (w *Writer) Close() error {
	w.buf.Reset()
	w.buf.WriteString("\n]")
	if west, south, east, north, ok := w.extent.box(); ok {
		w.buf.WriteString(`,"bbox":[`)
		for i, v := range [4]float64{west, south, east, north} {
			if i > 0 {
				w.buf.WriteByte(',')
			}
			w.number(v)
		}
		w.buf.WriteByte(']')
	}
	w.buf.WriteString("}\n")
	_, err := w.out.Write(w.buf.Bytes())
	return err
}

// encode appends v without the line end that an Encoder adds.
func (w *Writer) encode(v any) error {
	if err := w.props.Encode(v); err != nil {
		return err
	}
	w.buf.Truncate(w.buf.Len() - 1)
	return nil
}

func (w *Writer) geometry(g orb.Geometry) {
	fmt.Fprintf(&w.buf, `{"type":%q,"coordinates":`, g.GeoJSONType())
	switch g := g.(type) {
	case orb.Point:
		w.position(g)
	case orb.Polygon:
		w.polygon(g)
	case orb.MultiPolygon:
		list(&w.buf, g, w.polygon)
	}
	w.buf.WriteByte('}')
}

func (w *Writer) polygon(p orb.Polygon) {
	list(&w.buf, p, func(r orb.Ring) { list(&w.buf, r, w.position) })
}

func (w *Writer) position(p orb.Point) {
	w.buf.WriteByte('[')
	w.number(p[0])
	w.buf.WriteByte(',')
	w.number(p[1])
	w.buf.WriteByte(']')
}

func (w *Writer) number(v float64) {
	w.buf.Write(strconv.AppendFloat(w.buf.AvailableBuffer(), v, 'f', -1, 64))
}

func list[T any](buf *bytes.Buffer, items []T, write func(T)) {
	buf.WriteByte('[')
	for i, item := range items {
		if i > 0 {
			buf.WriteByte(',')
		}
		write(item)
	}
	buf.WriteByte(']')
}

// rounded returns a copy of g on six decimals whose rings follow the
// right-hand rule, or what is wrong with it.
func rounded(g orb.Geometry) (orb.Geometry, error) {
	switch g := g.(type) {
	case orb.Point:
		return position(g)
	case orb.Polygon:
		return polygon(g)
	case orb.MultiPolygon:
		if len(g) == 0 {
			return nil, fmt.Errorf("a MultiPolygon without polygons")
		}
		to := make(orb.MultiPolygon, len(g))
		for i, p := range g {
			var err error
			if to[i], err = polygon(p); err != nil {
				return nil, err
			}
		}
		return to, nil
	}
	return nil, fmt.Errorf("geometry is %T, want a point, polygon or multipolygon", g)
}

func position(p orb.Point) (orb.Point, error) {
	// The comparisons fail for NaN, too.
	if !(math.Abs(p[0]) <= 180 && math.Abs(p[1]) <= 90) {
		return p, fmt.Errorf("longitude %g, latitude %g; want -180 to 180 and -90 to 90", p[0], p[1])
	}
	for i, v := range p {
		p[i] = math.Round(v*1e6)/1e6 + 0 // + 0 turns -0 into 0
	}
	return p, nil
}

func polygon(p orb.Polygon) (orb.Polygon, error) {
	if len(p) == 0 {
		return nil, fmt.Errorf("a Polygon without rings")
	}
	to := make(orb.Polygon, len(p))
	for i, r := range p {
		if len(r) < 4 || r[0] != r[len(r)-1] {
			return nil, fmt.Errorf("a ring of %d positions, first %v, last %v; want 4 or more, the first again at the end", len(r), r[:min(1, len(r))], r[max(0, len(r)-1):])
		}
		ring := make(orb.Ring, 0, len(r))
		for _, at := range r {
			at, err := position(at)
			if err != nil {
				return nil, err
			}
			if len(ring) == 0 || at != ring[len(ring)-1] { // two may become one by rounding
				ring = append(ring, at)
			}
		}
		if len(ring) < 4 {
			return nil, fmt.Errorf("a ring without area at %v", ring[0])
		}
		want := orb.CCW
		if i > 0 {
			want = orb.CW // a hole
		}
		switch ring.Orientation() {
		case 0:
			return nil, fmt.Errorf("a ring without area at %v", ring[0])
		case -want:
			ring.Reverse()
		}
		to[i] = ring
	}
	return to, nil
}
