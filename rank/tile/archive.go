package tile

import (
	"bytes"
	"fmt"
	"html"
	"math"

	"github.com/klauspost/compress/gzip"
	"github.com/paulmach/orb"
	"golang.org/x/sync/errgroup"

	"stillrow/rank/pmtiles"
	"stillrow/rank/survey"
)

// join puts the layers of every tile together and hands the tiles on in order,
// as many at a time as there are workers.
func (p *pyramid) join(o *Options, in *parts, out *pmtiles.Writer) error {
	const each = 16 // tiles of a worker between two waits
	packed := make([][]byte, each*o.Workers)
	some := false
	for z := range p.levels {
		level := &p.levels[z]
		for first := 0; first < len(level.tiles); first += len(packed) {
			if err := o.Interrupted(); err != nil {
				return err
			}
			batch := level.tiles[first:min(first+len(packed), len(level.tiles))]
			var group errgroup.Group
			for w := range o.Workers {
				group.Go(func() error {
					for i := w; i < len(batch); i += o.Workers {
						b, err := in.appendTile(nil, level.before+first+i)
						if err != nil {
							return err
						}
						if packed[i], err = pack(b); err != nil {
							return err
						}
					}
					return nil
				})
			}
			if err := group.Wait(); err != nil {
				return err
			}
			for i, t := range batch {
				if packed[i] == nil {
					continue // of all it might show, it shows nothing
				}
				if err := out.Add(t.tile, packed[i]); err != nil {
					return err
				}
				some = true
			}
		}
	}
	if some {
		return nil
	}
	// An archive has a tile, be it an empty one.
	b, err := pack([]byte{})
	if err != nil {
		return err
	}
	return out.Add(0, b)
}

// pack compresses a tile; nil stays nil.
func pack(b []byte) ([]byte, error) {
	if b == nil {
		return nil, nil
	}
	var out bytes.Buffer
	z := gzip.NewWriter(&out)
	if _, err := z.Write(b); err != nil {
		return nil, err
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// metadata is what viewers read of an archive. Its names are those of the
// PMTiles specification 3, section 5, and of TileJSON 3.0.
type metadata struct {
	Name        string        `json:"name"`
	Description string        `json:"description"`
	Attribution string        `json:"attribution"` // HTML
	Type        string        `json:"type"`
	Layers      []vectorLayer `json:"vector_layers"`
}

type vectorLayer struct {
	ID          string            `json:"id"`
	Description string            `json:"description"`
	MinZoom     int               `json:"minzoom"`
	MaxZoom     int               `json:"maxzoom"`
	Fields      map[string]string `json:"fields"` // Marshal sorts them
}

// description warns of the squares of lesser zooms.
const description = "Levelised cost of heat from fixed-tilt water heaters and what it is to heat from gas. " +
	"At the deepest zoom every feature is one place; before, one is the mean over as many as its property " + placesName + " says."

func (p *pyramid) info(s *survey.Survey, o *Options) pmtiles.Info {
	last := len(p.levels) - 1
	m := metadata{Name: o.Title, Description: description, Attribution: html.EscapeString(o.Source), Type: "overlay", Layers: []vectorLayer{}}
	fields := make(map[string]string)
	for _, f := range others {
		fields[f.name] = f.kind
	}
	for _, c := range columns {
		fields[c.name] = "Number"
	}
	for i, l := range s.Layers {
		m.Layers = append(m.Layers, vectorLayer{o.Names[i], label(l, s.Currency), 0, last, fields})
	}
	info := pmtiles.Info{MaxZoom: uint8(last), Metadata: m, Bound: bounds(s)}
	b := boxOf(info.Bound)
	info.Centre = info.Bound.Center()
	info.CentreZoom = uint8(max(0, min(float64(last), math.Floor(-math.Log2(max(b.x1-b.x0, b.y1-b.y0))))))
	return info
}

// north is the latitude at which web Mercator ends.
var north = math.Atan(math.Sinh(math.Pi)) * 180 / math.Pi

// bounds are those of all places, as far as the map reaches; the whole map where
// there are none.
func bounds(s *survey.Survey) orb.Bound {
	whole := orb.Bound{Min: orb.Point{-180, -north}, Max: orb.Point{180, north}}
	if s.Len() == 0 {
		return whole
	}
	b := s.Shape(0).Bound()
	for i := range s.Len() {
		b = b.Union(s.Shape(i).Bound())
	}
	for k := range 2 {
		b.Min[k] = min(max(b.Min[k], whole.Min[k]), whole.Max[k])
		b.Max[k] = min(max(b.Max[k], whole.Min[k]), whole.Max[k])
	}
	return b
}

// label says what a layer shows.
func label(l survey.Layer, currency string) string {
	return fmt.Sprintf("use %s, water of %g °C, prices in %s", l.Use, l.Outlet, currency)
}
