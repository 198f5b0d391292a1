package world

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"

	"github.com/paulmach/orb"
)

// The file is, after its first line:
//
//	4 × float64      step of longitude, of latitude, least longitude, least latitude; little endian
//	uvarint          countries, by code; of each
//	  2 bytes        code
//	  uvarint, text  length of the name, name
//	  uvarint        polygons; of each
//	    uvarint      rings; of each
//	      uvarint    points, the closing one left out; of each
//	        2 varint steps east and north of the point before, in whatever ring
const firstLine = "countries 1\n"

var errShort = errors.New("file ends early")

// A decoder takes a file apart; after an error it gives zeros.
type decoder struct {
	rest []byte
	err  error
}

func (d *decoder) fail(err error) {
	if d.err == nil {
		d.err = err
	}
}

func (d *decoder) bytes(n int) []byte {
	if d.err != nil || n > len(d.rest) {
		d.fail(errShort)
		return make([]byte, n)
	}
	b := d.rest[:n]
	d.rest = d.rest[n:]
	return b
}

// count reads how many things follow, of at least size bytes each.
func (d *decoder) count(size int) int {
	v, n := binary.Uvarint(d.rest)
	if d.err != nil || n <= 0 || v > uint64(len(d.rest)/size) {
		d.fail(errShort)
		return 0
	}
	d.rest = d.rest[n:]
	return int(v)
}

func (d *decoder) varint() int64 {
	v, n := binary.Varint(d.rest)
	if d.err != nil || n <= 0 {
		d.fail(errShort)
		return 0
	}
	d.rest = d.rest[n:]
	return v
}

func (d *decoder) float() float64 {
	return math.Float64frombits(binary.LittleEndian.Uint64(d.bytes(8)))
}

// A raster turns whole steps into degrees.
type raster struct {
	step, least orb.Point
	x, y        int64 // of the point before
}

func (d *decoder) countries() []Country {
	if !bytes.HasPrefix(d.rest, []byte(firstLine)) {
		d.fail(fmt.Errorf("want the line %q", firstLine[:len(firstLine)-1]))
		return nil
	}
	d.bytes(len(firstLine))
	var r raster
	for _, v := range []*float64{&r.step[0], &r.step[1], &r.least[0], &r.least[1]} {
		*v = d.float()
	}
	list := make([]Country, d.count(4))
	last := ""
	for i := range list {
		c := &list[i]
		c.Code = string(d.bytes(2))
		if d.err == nil && c.Code <= last {
			d.fail(fmt.Errorf("country %q after %q, want them by code", c.Code, last))
		}
		last = c.Code
		c.Name = string(d.bytes(d.count(1)))
		c.Outline = make(orb.MultiPolygon, d.count(1))
		for j := range c.Outline {
			c.Outline[j] = make(orb.Polygon, d.count(1))
			for k := range c.Outline[j] {
				c.Outline[j][k] = d.ring(&r)
			}
		}
		if d.err != nil {
			return nil
		}
	}
	if d.err == nil && len(d.rest) > 0 {
		d.fail(fmt.Errorf("%d bytes too many", len(d.rest)))
	}
	return list
}

func (d *decoder) ring(r *raster) orb.Ring {
	n := d.count(2)
	if d.err == nil && n < 3 {
		d.fail(fmt.Errorf("ring of %d points", n))
	}
	if d.err != nil {
		return nil
	}
	ring := make(orb.Ring, n+1)
	for i := range n {
		r.x, r.y = r.x+d.varint(), r.y+d.varint()
		p := orb.Point{r.least[0] + float64(r.x)*r.step[0], r.least[1] + float64(r.y)*r.step[1]}
		if d.err == nil && !(math.Abs(p.Lon()) <= 180 && math.Abs(p.Lat()) <= 90) {
			d.fail(fmt.Errorf("point %v is not on the globe", p))
		}
		ring[i] = p
	}
	ring[n] = ring[0]
	return ring
}
