package tile

import (
	"context"
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/mvt"
	"github.com/paulmach/orb/geojson"
	"golang.org/x/sync/errgroup"

	"stillrow/rank/survey"
)

// encode writes every layer of every tile to the scratch file.
func (p *pyramid) encode(s *survey.Survey, o *Options, out *parts) error {
	group, ctx := errgroup.WithContext(context.Background())
	group.SetLimit(o.Workers)
	for number := range s.Layers {
		group.Go(func() error {
			l, err := newLayer(s, number)
			if err != nil {
				return err
			}
			for z := range p.levels {
				level := &p.levels[z]
				figures := l.at(level, p.weights)
				for i := range level.tiles {
					if err := firstError(ctx.Err, o.Interrupted); err != nil {
						return err
					}
					b, err := l.tile(s, level, figures, i, o.Names[number])
					if err != nil {
						return err
					}
					if err := out.put(number, level.before+i, b); err != nil {
						return err
					}
				}
			}
			return nil
		})
	}
	return group.Wait()
}

func firstError(list ...func() error) error {
	for _, f := range list {
		if err := f(); err != nil {
			return err
		}
	}
	return nil
}

// A layer is the findings of one layer of the survey, in columns.
type layer struct {
	values  [][]float32 // by column and place; NaN where there is none
	designs []int32     // by place, -1 for none
	without []int32     // number of the reason, likewise
}

func newLayer(s *survey.Survey, number int) (*layer, error) {
	l := &layer{designs: make([]int32, s.Len()), without: make([]int32, s.Len())}
	for range columns {
		l.values = append(l.values, make([]float32, s.Len()))
	}
	err := s.Each(number, func(i int, f *survey.Finding) error {
		for c := range columns {
			l.values[c][i] = float32(columns[c].of(s, f))
		}
		l.designs[i], l.without[i] = f.Design, f.Without
		return nil
	})
	return l, err
}

// at is the columns by feature of a level.
func (l *layer) at(level *level, weights []float64) [][]float32 {
	if level.of == nil {
		return l.values
	}
	out := make([][]float32, len(columns))
	sums, known := make([]float64, len(level.counts)), make([]float64, len(level.counts))
	for c := range out {
		clear(sums)
		clear(known)
		for i, v := range l.values[c] {
			if finite(v) {
				n := level.of[i]
				sums[n] += weights[i] * float64(v)
				known[n] += weights[i]
			}
		}
		out[c] = make([]float32, len(sums))
		for n := range sums {
			out[c][n] = float32(sums[n] / known[n]) // 0/0 is NaN
		}
	}
	return out
}

func finite(v float32) bool { return !math.IsNaN(float64(v)) && !math.IsInf(float64(v), 0) }

// tile encodes the layer of one tile; nothing where the tile shows none of it.
func (l *layer) tile(s *survey.Survey, level *level, figures [][]float32, number int, name string) ([]byte, error) {
	t := level.tiles[number]
	list := level.shown[t.from:t.to]
	out := mvt.Layer{Name: name, Version: 2, Extent: extent}
	for from := 0; from < len(list); {
		to := from + 1
		for to < len(list) && list[to].feature == list[from].feature {
			to++
		}
		if g := level.geometry(list[from:to]); g != nil {
			n := list[from].feature
			out.Features = append(out.Features, &geojson.Feature{ID: uint64(n) + 1, Geometry: g, Properties: l.properties(s, level, figures, n)})
		}
		from = to
	}
	if len(out.Features) == 0 {
		return nil, nil
	}
	return mvt.Marshal(mvt.Layers{&out})
}

// geometry is what a tile shows of a feature, in units of the tile; it may show
// it more than once, around the earth.
func (l *level) geometry(list []shown) orb.Geometry {
	var all orb.MultiPolygon
	for _, e := range list {
		b := &l.boxes[e.feature]
		x, y := int64(e.column), int64(e.row)
		parts, irregular := l.shapes[e.feature]
		switch {
		case irregular:
			for _, part := range parts {
				if p := polygon(part, l.z, x, y); p != nil {
					all = append(all, p)
				}
			}
		case b.x0 == b.x1 && b.y0 == b.y1:
			return orb.Point{float64(at(b.x0, l.z) - x*extent), float64(at(b.y0, l.z) - y*extent)}
		default:
			if p := b.rectangle(l.z, x, y); p != nil {
				all = append(all, p)
			}
		}
	}
	switch len(all) {
	case 0:
		return nil
	case 1:
		return all[0]
	}
	return all
}

// properties are those of a feature that are known.
func (l *layer) properties(s *survey.Survey, level *level, figures [][]float32, n int32) geojson.Properties {
	out := make(geojson.Properties, len(columns)+len(others))
	place, count := n, int32(1)
	if level.of != nil {
		place, count = level.first[n], level.counts[n]
	}
	for c := range columns {
		if v := figures[c][n]; finite(v) && !(columns[c].alone && count > 1) {
			out[columns[c].name] = columns[c].round(float64(v))
		}
	}
	out[placesName] = int64(count)
	if count > 1 {
		out[beatsName] = figures[ratio][n] < 1 // false for NaN
		return out
	}
	p := s.Place(int(place))
	out[beatsName] = figures[beats][n] > 0
	out[siteName] = p.ID
	if p.Name != "" && p.Name != p.ID {
		out[placeName] = p.Name
	}
	if p.Country != "" {
		out[countryName] = p.Country
	}
	if d := l.designs[place]; d >= 0 {
		out[designName] = int64(d)
	} else if w := l.without[place]; w >= 0 {
		out[withoutName] = s.Reasons[w]
	}
	return out
}
