// Package tile writes a survey as vector tiles in one PMTiles archive, for maps
// of more cells than a GeoJSON layer bears. There is a tile layer for each use and
// outlet, named as the map files are. Zooms go from the whole globe to the one at
// which a grid cell has some eight pixels of a tile of 256; where cells would be
// smaller than four, those of a square are merged by mean.
package tile

import (
	"cmp"
	"errors"
	"io"
	"math"
	"runtime"
	"slices"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/mvt"
	"github.com/paulmach/orb/geojson"
	"github.com/paulmach/orb/maptile"
	"golang.org/x/sync/errgroup"

	"stillrow/rank/pmtiles"
	"stillrow/rank/survey"
)

// Options say what stands around the tiles.
type Options struct {
	Title  string   // of the study
	Source string   // one line: where the weather comes from
	Names  []string // of the tile layers, one for each layer of the survey
	Dir    string   // folder for scratch files
}

const (
	pixels      = 256   // of a tile's edge, as zooms are counted
	finest      = 8     // pixels of a cell at the last zoom, at least
	coarsest    = 4     // pixels below which cells are merged
	lastZoom    = 12    // however small cells are
	stationZoom = 8     // the last of stations
	mercator    = 85.05 // degrees of latitude that tiles reach
	batch       = 64    // tiles made at a time
	buffer      = 64    // what of a neighbour's ground a tile has, in steps of which it is 4096 wide
)

// Properties are those of every feature: name, unit and meaning, ¤ standing for
// the currency.
func Properties() [][3]string {
	return [][3]string{
		{"site_id", "", "site, as in the site table; of single places alone"},
		{"cells", "", "places merged into this one"},
		{"cells_with_heat", "", "those of them where a design delivers heat"},
		{"lcoh_per_kwh", "¤/kWh", "levelised cost of heat, mean of those with heat; absent without"},
		{"gas_ratio", "", "lcoh_per_kwh over the cost of heat from gas, mean of those with heat; absent without"},
		{"beats_gas_share", "", "share of the merged places where heat is cheaper than gas: 0 or 1 of a single place"},
		{"beats_gas_probability", "", "probability that heat is cheaper than gas, mean of those where it is known"},
		{"heat_kwh_m2", "kWh/m²", "heat of the best design that counts for the use, mean of all, none counting as 0"},
		{"best_tilt_deg", "°", "slope of the best design's mirror; of single places with a mirror alone"},
	}
}

// A figure is what tiles say of one place and layer.
type figure struct {
	lcoh, ratio, sure, heat, tilt float32 // NaN where not known
	beats                         bool
}

// A sheet is all that tiles are made of.
type sheet struct {
	s       *survey.Survey
	o       Options
	figures [][]figure // by layer and place
	edge    float64    // of the smallest cell, degrees; 0 where there are stations alone
}

// Write writes the archive. In memory are 24 bytes for each place and layer. A
// survey without places has no archive.
func Write(w io.Writer, s *survey.Survey, o Options) error {
	if s.Len() == 0 || len(o.Names) != len(s.Layers) {
		return errors.New("tile: want places, and a name for each layer")
	}
	t, err := newSheet(s, o)
	if err != nil {
		return err
	}
	archive, err := pmtiles.NewWriter(o.Dir)
	if err != nil {
		return err
	}
	defer archive.Close()
	last := t.lastZoom()
	for z := range last + 1 {
		if err := t.zoom(archive, z); err != nil {
			return err
		}
	}
	bound := t.bound()
	return archive.Finish(w, pmtiles.Info{MaxZoom: uint8(last), Bound: bound, Centre: bound.Center(), Metadata: t.metadata(last)})
}

func newSheet(s *survey.Survey, o Options) (*sheet, error) {
	t := &sheet{s: s, o: o, figures: make([][]figure, len(s.Layers))}
	for i := range s.Len() {
		if deg := s.Place(i).CellDeg; deg > 0 && (t.edge == 0 || deg < t.edge) {
			t.edge = deg
		}
	}
	for l := range s.Layers {
		t.figures[l] = make([]figure, s.Len())
		err := s.Each(l, func(i int, f *survey.Finding) error {
			g := figure{float32(f.LCOH), float32(f.Ratio), float32(f.Sure), float32(f.Heat), float32(math.NaN()), f.BeatsGas}
			if f.Design >= 0 && s.Designs[f.Design].MirrorLength > 0 {
				g.tilt = float32(s.Designs[f.Design].MirrorTilt)
			}
			t.figures[l][i] = g
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	return t, nil
}

// cellPixels is how wide the smallest cell is at a zoom.
func (t *sheet) cellPixels(z int) float64 { return t.edge / 360 * pixels * math.Exp2(float64(z)) }

func (t *sheet) lastZoom() int {
	if t.edge == 0 {
		return stationZoom
	}
	for z := range lastZoom {
		if t.cellPixels(z) >= finest {
			return z
		}
	}
	return lastZoom
}

func (t *sheet) bound() orb.Bound {
	var b orb.Bound
	for i := range t.s.Len() {
		if i == 0 {
			b = t.s.Shape(0).Bound()
		}
		b = b.Union(t.s.Shape(i).Bound())
	}
	b.Min[1], b.Max[1] = max(b.Min[1], -mercator), min(b.Max[1], mercator)
	return b
}

func (t *sheet) metadata(last int) any {
	fields := make(map[string]string)
	for _, p := range Properties() {
		fields[p[0]] = "Number"
	}
	fields["site_id"] = "String"
	layers := []any{}
	for l, name := range t.o.Names {
		layers = append(layers, map[string]any{
			"id": name, "description": t.s.Layers[l].Use, "minzoom": 0, "maxzoom": last, "fields": fields,
		})
	}
	return map[string]any{"name": t.o.Title, "attribution": t.o.Source, "currency": t.s.Currency, "vector_layers": layers}
}

// A field is one feature: places and where they are drawn.
type field struct {
	members []int32
	shape   orb.Geometry
}

// A hit is a field in a tile.
type hit struct {
	id    uint64
	tile  maptile.Tile
	field int32
}

// zoom adds the tiles of one zoom.
func (t *sheet) zoom(archive *pmtiles.Writer, z int) error {
	fields := t.fields(z)
	var hits []hit
	for i := range fields {
		for _, part := range parts(fields[i].shape) {
			b := part.Bound()
			low := maptile.At(orb.Point{b.Left(), max(-mercator, min(mercator, b.Top()))}, maptile.Zoom(z))
			high := maptile.At(orb.Point{min(b.Right(), 180-1e-9), max(-mercator, min(mercator, b.Bottom()))}, maptile.Zoom(z))
			for x := low.X; x <= high.X; x++ {
				for y := low.Y; y <= high.Y; y++ {
					hits = append(hits, hit{pmtiles.ID(uint8(z), x, y), maptile.New(x, y, maptile.Zoom(z)), int32(i)})
				}
			}
		}
	}
	slices.SortFunc(hits, func(a, b hit) int { return cmp.Or(cmp.Compare(a.id, b.id), cmp.Compare(a.field, b.field)) })
	hits = slices.Compact(hits)
	var tiles [][]hit
	for first := 0; first < len(hits); {
		end := first
		for end < len(hits) && hits[end].id == hits[first].id {
			end++
		}
		tiles = append(tiles, hits[first:end])
		first = end
	}
	for chunk := range slices.Chunk(tiles, batch) {
		texts := make([][]byte, len(chunk))
		var g errgroup.Group
		g.SetLimit(runtime.GOMAXPROCS(0))
		for i := range chunk {
			g.Go(func() (err error) {
				texts[i], err = t.tile(chunk[i], fields)
				return err
			})
		}
		if err := g.Wait(); err != nil {
			return err
		}
		for i, text := range texts {
			if text == nil {
				continue
			}
			if err := archive.Add(chunk[i][0].id, text); err != nil {
				return err
			}
		}
	}
	return nil
}

// parts are the polygons of a shape, or the point that it is.
func parts(g orb.Geometry) []orb.Geometry {
	if m, ok := g.(orb.MultiPolygon); ok {
		list := make([]orb.Geometry, len(m))
		for i := range m {
			list[i] = m[i]
		}
		return list
	}
	return []orb.Geometry{g}
}

// fields are the features of a zoom: cells as they are or merged in squares of
// whole multiples of the smallest, and stations.
func (t *sheet) fields(z int) []field {
	size := 1.0
	for t.edge > 0 && size*t.cellPixels(z) < coarsest {
		size *= 2
	}
	square := size * t.edge
	var list []field
	at := make(map[[2]int]int)
	for i := range t.s.Len() {
		p := t.s.Place(i)
		if math.Abs(p.Lat) > mercator {
			continue // tiles have no poles
		}
		if p.CellDeg == 0 || size == 1 {
			list = append(list, field{[]int32{int32(i)}, t.s.Shape(i)})
			continue
		}
		key := [2]int{int(math.Floor((p.Lat + 90) / square)), int(math.Floor((p.Lon + 180) / square))}
		k, ok := at[key]
		if !ok {
			k = len(list)
			at[key] = k
			south, west := float64(key[0])*square-90, float64(key[1])*square-180
			b := orb.Bound{Min: orb.Point{west, max(south, -mercator)}, Max: orb.Point{min(west+square, 180), min(south+square, mercator)}}
			list = append(list, field{nil, b.ToPolygon()})
		}
		list[k].members = append(list[k].members, int32(i))
	}
	return list
}

// tile is the tile of some fields, nil where nothing of them is left in it.
func (t *sheet) tile(hits []hit, fields []field) ([]byte, error) {
	layers := make(mvt.Layers, len(t.figures))
	for l := range layers {
		var features []*geojson.Feature
		for _, h := range hits {
			f := &fields[h.field]
			g := geojson.NewFeature(orb.Clone(f.shape))
			g.Properties = t.properties(l, f.members)
			features = append(features, g)
		}
		layers[l] = &mvt.Layer{Name: t.o.Names[l], Version: 2, Extent: mvt.DefaultExtent, Features: features}
	}
	layers.ProjectToTile(hits[0].tile)
	layers.Clip(orb.Bound{Min: orb.Point{-buffer, -buffer}, Max: orb.Point{mvt.DefaultExtent + buffer, mvt.DefaultExtent + buffer}})
	layers.RemoveEmpty(1, 1)
	some := false
	for _, l := range layers {
		some = some || len(l.Features) > 0
	}
	if !some {
		return nil, nil
	}
	return mvt.MarshalGzipped(layers)
}

// A mean is one over the numbers that are known.
type mean struct {
	sum float64
	n   int
}

func (m *mean) add(v float32) {
	if v == v {
		m.sum += float64(v)
		m.n++
	}
}

func (t *sheet) properties(layer int, members []int32) geojson.Properties {
	var lcoh, ratio, sure, heat mean
	beats := 0
	for _, i := range members {
		f := &t.figures[layer][i]
		lcoh.add(f.lcoh)
		ratio.add(f.ratio)
		sure.add(f.sure)
		heat.add(f.heat)
		if f.beats {
			beats++
		}
	}
	p := geojson.Properties{
		"cells": len(members), "cells_with_heat": lcoh.n,
		"beats_gas_share": float64(beats) / float64(len(members)),
	}
	for name, m := range map[string]mean{"lcoh_per_kwh": lcoh, "gas_ratio": ratio, "beats_gas_probability": sure, "heat_kwh_m2": heat} {
		if m.n > 0 {
			p[name] = float64(float32(m.sum / float64(m.n))) // more digits would not be true
		}
	}
	if len(members) == 1 {
		p["site_id"] = t.s.Place(int(members[0])).ID
		if f := &t.figures[layer][members[0]]; f.tilt == f.tilt {
			p["best_tilt_deg"] = float64(f.tilt)
		}
	}
	return p
}
