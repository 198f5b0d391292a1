package world

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"
	"golang.org/x/text/language"
)

var (
	atlas  = flag.String("atlas", "", "countries-50m.json of the npm package world-atlas 2.0.2")
	update = flag.Bool("update", false, "write countries.bin anew from -atlas")
)

// countries.bin is what this file makes of world-atlas and nothing else:
//
//	npm pack world-atlas@2.0.2 && tar xf world-atlas-2.0.2.tgz
//	go test ./data/world -run FileIsTheAtlas -atlas $PWD/package/countries-50m.json -update
func TestFileIsTheAtlas(t *testing.T) {
	if *atlas == "" {
		t.Skip("no -atlas")
	}
	text, err := os.ReadFile(*atlas)
	if err != nil {
		t.Fatal(err)
	}
	const want = "04342cdc1e3016bcd7db1630de95684d67b79fe3c8c460321e87aef469502394"
	if got := fmt.Sprintf("%x", sha256.Sum256(text)); got != want {
		t.Fatalf("SHA-256 %s, want that of world-atlas 2.0.2, %s", got, want)
	}
	var topo topology
	if err := json.Unmarshal(text, &topo); err != nil {
		t.Fatal(err)
	}
	made, err := topo.encode()
	if err != nil {
		t.Fatal(err)
	}
	name := filepath.Base(File)
	if *update {
		if err := os.WriteFile(name, made, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if kept, err := os.ReadFile(name); err != nil || !bytes.Equal(kept, made) {
		t.Errorf("%s is not what the atlas gives (%v)", name, err)
	}
}

// A topology is TopoJSON: outlines are lists of arcs, which neighbours share;
// arc ^i is arc i backwards; arcs are in whole steps, each from the last point.
type topology struct {
	Arcs      [][][2]int64
	Transform struct{ Scale, Translate [2]float64 }
	Objects   struct {
		Countries struct{ Geometries []feature }
	}
}

type feature struct {
	ID         string
	Type       string
	Arcs       json.RawMessage
	Properties struct{ Name string }
}

// period is the whole circle in the atlas's steps of longitude.
const period = 99999

// without has the codes of features that have no number of ISO 3166; "" leaves
// one out.
var without = map[string]string{
	"Kosovo": "XK", "Somaliland": "SO", "N. Cyprus": "CY", "Indian Ocean Ter.": "AU", "Siachen Glacier": "",
}

func (f *feature) code() (string, error) {
	if f.ID == "" {
		code, ok := without[f.Properties.Name]
		if !ok {
			return "", fmt.Errorf("%s has no ISO number", f.Properties.Name)
		}
		return code, nil
	}
	n, err := strconv.Atoi(f.ID)
	if err != nil {
		return "", err
	}
	r, err := language.EncodeM49(n)
	return r.String(), err
}

func (t *topology) encode() ([]byte, error) {
	type country struct {
		code, name string
		points     int // of the feature that gives the name
		polygons   [][][][2]int64
	}
	byCode := map[string]*country{}
	var list []*country
	for _, f := range t.Objects.Countries.Geometries {
		code, err := f.code()
		if err != nil {
			return nil, err
		}
		if code == "" {
			continue
		}
		polygons, points, err := t.polygons(&f)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", f.Properties.Name, err)
		}
		c := byCode[code]
		if c == nil {
			c = &country{code: code}
			byCode[code] = c
			list = append(list, c)
		}
		if points > c.points {
			c.name, c.points = f.Properties.Name, points
		}
		c.polygons = append(c.polygons, polygons...)
	}
	slices.SortFunc(list, func(a, b *country) int { return strings.Compare(a.code, b.code) })

	out := []byte(firstLine)
	for _, v := range append(t.Transform.Scale[:], t.Transform.Translate[:]...) {
		out = binary.LittleEndian.AppendUint64(out, math.Float64bits(v))
	}
	count := func(n int) { out = binary.AppendUvarint(out, uint64(n)) }
	var last [2]int64
	count(len(list))
	for _, c := range list {
		out = append(out, c.code...)
		count(len(c.name))
		out = append(out, c.name...)
		count(len(c.polygons))
		for _, polygon := range c.polygons {
			count(len(polygon))
			for _, ring := range polygon {
				count(len(ring) - 1)
				for _, p := range ring[:len(ring)-1] {
					out = binary.AppendVarint(out, p[0]-last[0])
					out = binary.AppendVarint(out, p[1]-last[1])
					last = p
				}
			}
		}
	}
	return out, nil
}

// polygons gives a feature's polygons cut at the 180th meridian, and how many
// points it had before.
func (t *topology) polygons(f *feature) (list [][][][2]int64, points int, err error) {
	var many [][][]int
	if f.Type == "Polygon" {
		many = make([][][]int, 1)
		err = json.Unmarshal(f.Arcs, &many[0])
	} else {
		err = json.Unmarshal(f.Arcs, &many)
	}
	if err != nil {
		return nil, 0, err
	}
	for _, rings := range many {
		var polygon orb.Polygon
		for _, arcs := range rings {
			ring, turns := t.ring(arcs)
			points += len(ring)
			if turns == 0 {
				polygon = append(polygon, ring)
				continue
			}
			// A ring around the globe bounds what lies between it and the South
			// Pole, whatever the atlas calls it on the sphere.
			if ring.Bound().Max.Lat() > period/2 {
				return nil, 0, fmt.Errorf("a ring around the North Pole")
			}
			first, last := ring[0], ring[len(ring)-1]
			ring = append(ring, orb.Point{last[0], 0}, orb.Point{first[0], 0}, first)
			list = append(list, cut(orb.Polygon{ring})...)
		}
		if len(polygon) > 0 {
			list = append(list, cut(polygon)...)
		}
	}
	return list, points, nil
}

// ring joins arcs into a ring that may run past the 180th meridian, and counts
// how often it goes around the globe.
func (t *topology) ring(arcs []int) (ring orb.Ring, turns int) {
	var past float64 // turns of the point before
	for _, a := range arcs {
		arc := slices.Clone(t.Arcs[max(a, ^a)])
		for i := 1; i < len(arc); i++ {
			arc[i][0] += arc[i-1][0]
			arc[i][1] += arc[i-1][1]
		}
		if a < 0 {
			slices.Reverse(arc)
		}
		if len(ring) > 0 {
			arc = arc[1:]
		}
		for _, p := range arc {
			x := float64(p[0]) + past*period
			if len(ring) > 0 {
				turn := math.Round((ring[len(ring)-1][0] - x) / period)
				past += turn
				x += turn * period
			}
			ring = append(ring, orb.Point{x, float64(p[1])})
		}
	}
	return ring, int(math.Round((ring[len(ring)-1][0] - ring[0][0]) / period))
}

// cut takes a polygon apart at the 180th meridian and rounds to whole steps;
// rings without area are dropped.
func cut(polygon orb.Polygon) (list [][][][2]int64) {
	globe := orb.Bound{Max: orb.Point{period, period}}
	for _, shift := range []float64{-period, 0, period} {
		moved := polygon.Clone()
		for _, ring := range moved {
			for i := range ring {
				ring[i][0] += shift
			}
		}
		if b := moved.Bound(); b.Min.X() < 0 || b.Max.X() > period {
			moved = clip.Polygon(globe, moved)
		}
		var rings [][][2]int64
		for _, ring := range moved {
			if whole, area := steps(ring); area != 0 {
				rings = append(rings, whole)
			} else if rings == nil {
				break // holes in nothing
			}
		}
		if rings != nil {
			list = append(list, rings)
		}
	}
	return list
}

// steps rounds a ring, leaves out repeated points and gives twice its area.
func steps(ring orb.Ring) (whole [][2]int64, area int64) {
	for _, p := range ring {
		q := [2]int64{int64(math.Round(p[0])), int64(math.Round(p[1]))}
		if n := len(whole); n == 0 || whole[n-1] != q {
			whole = append(whole, q)
		}
	}
	for i := 1; i < len(whole); i++ {
		area += whole[i-1][0]*whole[i][1] - whole[i][0]*whole[i-1][1]
	}
	return whole, area
}
