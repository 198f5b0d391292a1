// Package area holds a region of the earth drawn as GeoJSON polygons and tells
// which places lie in it.
package area

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
)

// An Area is one or more polygons, with their holes, in degrees of longitude
// and latitude. A polygon may cross the antimeridian, cut in two as RFC 7946
// asks, running on past 180°, or stepping from 180° to −180°; so a side of more
// than 270° is taken for the short way round, unless it is a whole turn.
type Area struct {
	polygons []polygon
}

// A polygon has rings without steps of more than half a turn.
type polygon struct {
	rings orb.Polygon
	bound orb.Bound
	rows  [][]side // sides by strip of latitude
}

// mostText bounds a file, bytes: outlines of all countries, to a kilometre or
// so, come to some ten million.
const mostText = 64 << 20

func tooLong(size int64) error {
	return fmt.Errorf("%d bytes, want at most %d; simplify its outlines", size, mostText)
}

// Read reads a file as Parse does, one that is too long not even into memory.
func Read(path string) (*Area, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close() // only read from
	if info, err := f.Stat(); err == nil && info.Size() > mostText {
		return nil, fmt.Errorf("%s: %w", path, tooLong(info.Size()))
	}
	text, err := io.ReadAll(io.LimitReader(f, mostText+1)) // a pipe has no size
	if err != nil {
		return nil, err
	}
	return Parse(path, text)
}

// Parse reads a GeoJSON geometry, feature or collection of features (RFC 7946).
// Polygons alone make an area: without any, the error says what there is
// instead. Name is the file's, for errors.
func Parse(name string, text []byte) (out *Area, err error) {
	a := &Area{}
	defer func() {
		if recover() != nil { // orb v0.14.0 panics over null in a list of geometries
			out, err = nil, fmt.Errorf("%s: a geometry that cannot be read, such as null in a list of them", name)
		}
	}()
	fail := func(err error) (*Area, error) { return nil, fmt.Errorf("%s: %w", name, err) }
	if len(text) > mostText {
		return fail(tooLong(int64(len(text))))
	}
	var head struct {
		Type string `json:"type"`
	}
	if err := json.Unmarshal(text, &head); err != nil {
		var syntax *json.SyntaxError
		if errors.As(err, &syntax) {
			line := 1
			for _, c := range text[:min(int(syntax.Offset), len(text))] {
				if c == '\n' {
					line++
				}
			}
			return nil, fmt.Errorf("%s:%d: no GeoJSON: %w", name, line, err)
		}
		return fail(fmt.Errorf("no GeoJSON: %w", err))
	}
	switch head.Type {
	case "FeatureCollection":
		var c *geojson.FeatureCollection
		if c, err = geojson.UnmarshalFeatureCollection(text); err == nil {
			for i, f := range c.Features {
				if f == nil {
					err = fmt.Errorf("feature %d: null, want a feature", i)
					break
				}
				if err = a.add(f.Geometry); err != nil {
					err = fmt.Errorf("feature %d: %w", i, err)
					break
				}
			}
		}
	case "Feature":
		var f *geojson.Feature
		if f, err = geojson.UnmarshalFeature(text); err == nil {
			err = a.add(f.Geometry)
		}
	case "":
		err = errors.New(`no GeoJSON: an object without "type"`)
	default:
		var g *geojson.Geometry
		if g, err = geojson.UnmarshalGeometry(text); err == nil {
			err = a.add(g.Geometry())
		}
	}
	switch {
	case err != nil:
		return fail(err)
	case len(a.polygons) == 0:
		return fail(errors.New("no polygon in it"))
	}
	return a, nil
}

func (a *Area) add(g orb.Geometry) error {
	switch g := g.(type) {
	case nil: // a feature may have no place
	case orb.Polygon:
		return a.polygon(g)
	case orb.MultiPolygon:
		for _, p := range g {
			if err := a.polygon(p); err != nil {
				return err
			}
		}
	case orb.Collection:
		for _, part := range g {
			if err := a.add(part); err != nil {
				return err
			}
		}
	default:
		return fmt.Errorf("a %s has no inside; polygons are wanted", g.GeoJSONType())
	}
	return nil
}

func (a *Area) polygon(p orb.Polygon) error {
	if len(p) == 0 {
		return errors.New("a polygon without a ring")
	}
	var rings orb.Polygon
	for i, ring := range p {
		if len(ring) < 4 || ring[0] != ring[len(ring)-1] {
			return fmt.Errorf("ring %d of a polygon: %d points, the last %v, the first %v: want at least 4, the last like the first",
				i, len(ring), last(ring), first(ring))
		}
		open, err := unwrap(ring)
		if err != nil {
			return fmt.Errorf("ring %d of a polygon: %w", i, err)
		}
		if i > 0 { // a hole lies where its outline does
			over := math.Round((rings[0].Bound().Center().Lon() - open.Bound().Center().Lon()) / 360)
			for k := range open {
				open[k][0] += 360 * over
			}
		}
		rings = append(rings, open)
	}
	whole := polygon{rings: rings, bound: rings.Bound()}
	whole.file()
	a.polygons = append(a.polygons, whole)
	return nil
}

// Steps of longitude between two points of a ring, degrees.
const (
	halfTurn  = 180
	plainTurn = 270 // a longer step is a short one across the antimeridian
)

// unwrap gives a ring whose longitudes run on across the antimeridian. A
// rectangle around the whole earth, which would be left without width, stays.
func unwrap(ring orb.Ring) (orb.Ring, error) {
	open := make(orb.Ring, len(ring))
	shift := 0.0
	for k, at := range ring {
		if !(math.Abs(at.Lat()) <= 90 && math.Abs(at.Lon()) <= 540) {
			return nil, fmt.Errorf("point %d is %g, %g: want longitude and latitude in degrees", k, at.Lon(), at.Lat())
		}
		if k > 0 {
			step := at.Lon() - ring[k-1].Lon()
			if size := math.Abs(step); size > plainTurn {
				shift -= 360 * math.Round(step/360)
			} else if size > halfTurn {
				return nil, fmt.Errorf("points %d and %d lie %g degrees of longitude apart, which does not tell the way round; put points between them", k-1, k, size)
			}
		}
		open[k] = orb.Point{at.Lon() + shift, at.Lat()}
	}
	if turns := (open[len(open)-1].Lon() - open[0].Lon()) / 360; math.Abs(turns) > 0.5 {
		return nil, errors.New("runs around a pole, which cannot be told inside from outside; cut it at the antimeridian")
	}
	if width(open) == 0 && width(ring) == 360 {
		return ring, nil
	}
	return open, nil
}

func width(r orb.Ring) float64 { return r.Bound().Right() - r.Bound().Left() }

func first(r orb.Ring) any {
	if len(r) == 0 {
		return nil
	}
	return r[0]
}

func last(r orb.Ring) any {
	if len(r) == 0 {
		return nil
	}
	return r[len(r)-1]
}

// Contains tells whether a place, degrees, lies in the area or on the outline
// of one of its polygons.
func (a *Area) Contains(lat, lon float64) bool {
	for i := range a.polygons {
		for turn := -1.0; turn <= 1; turn++ {
			at := orb.Point{lon + 360*turn, lat}
			if p := &a.polygons[i]; p.bound.Contains(at) && p.contains(at) {
				return true
			}
		}
	}
	return false
}

func (p *polygon) contains(at orb.Point) bool {
	odd, onOutline, onHole := false, false, false
	p.sides(at[1], at[1], func(ring int, from, to orb.Point) {
		low, high := from, to
		if low[1] > high[1] {
			low, high = high, low
		}
		if at[1] < low[1] || at[1] > high[1] {
			return
		}
		// Above 0 where the place is west of the side.
		west := (high[0]-low[0])*(at[1]-low[1]) - (high[1]-low[1])*(at[0]-low[0])
		switch {
		case west == 0 && min(low[0], high[0]) <= at[0] && at[0] <= max(low[0], high[0]):
			onOutline, onHole = onOutline || ring == 0, onHole || ring > 0
		case west > 0 && at[1] < high[1]:
			odd = !odd
		}
	})
	return !onHole && (onOutline || odd)
}
