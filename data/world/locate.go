package world

import (
	"math"

	"github.com/paulmach/orb"
)

const (
	// Reach is how far from a country a place at sea still counts as its, km.
	Reach = 50

	earthRadius = 6371.0088 // km, mean radius of the GRS 80 ellipsoid (IUGG)
	bandDeg     = 0.25      // of latitude; most edges then lie in one band
	degree      = math.Pi / 180
)

// An edge is a stretch of an outline, its southern end first, so that
// neighbours reckon alike with the border they share.
type edge struct {
	south, north orb.Point
	country      int // index
}

func bandOf(lat float64) int {
	return min(max(int((lat+90)/bandDeg), 0), int(180/bandDeg)-1)
}

// bandsOf files every edge under the bands of latitude it touches, country by
// country.
func bandsOf(list []Country) [][]edge {
	bands := make([][]edge, int(180/bandDeg))
	for c := range list {
		for _, polygon := range list[c].Outline {
			for _, ring := range polygon {
				for i := 1; i < len(ring); i++ {
					e := edge{ring[i-1], ring[i], c}
					if e.south.Lat() > e.north.Lat() {
						e.south, e.north = e.north, e.south
					}
					for b := bandOf(e.south.Lat()); b <= bandOf(e.north.Lat()); b++ {
						bands[b] = append(bands[b], e)
					}
				}
			}
		}
	}
	return bands
}

// Country gives the code of the country a place lies in and 0, or the code of
// the nearest one within Reach and the great-circle distance to it in km, or ""
// and 0. Longitudes may run past 180°. Lakes are their countries'.
func (w *World) Country(lat, lon float64) (code string, km float64) {
	if !(math.Abs(lat) <= 90) || math.IsInf(lon, 0) || math.IsNaN(lon) {
		return "", 0
	}
	lon = math.Mod(lon, 360)
	switch {
	case lon >= 180:
		lon -= 360
	case lon < -180:
		lon += 360
	}
	p := orb.Point{lon, lat}
	if c := w.around(p); c >= 0 {
		return w.Countries[c].Code, 0
	}
	if c, km := w.nearest(p); c >= 0 {
		return w.Countries[c].Code, km
	}
	return "", 0
}

// around gives the country whose outline is crossed an odd number of times on
// the way east, -1 for none.
func (w *World) around(p orb.Point) int {
	country, inside := -1, false
	band := w.bands[bandOf(p.Lat())]
	for i := range band {
		e := &band[i]
		if e.country != country {
			if inside {
				return country
			}
			country = e.country
		}
		if e.south.Lat() <= p.Lat() && p.Lat() < e.north.Lat() {
			u := (p.Lat() - e.south.Lat()) / (e.north.Lat() - e.south.Lat())
			if e.south.Lon()+u*(e.north.Lon()-e.south.Lon()) > p.Lon() {
				inside = !inside
			}
		}
	}
	if inside {
		return country
	}
	return -1
}

// nearest gives the country with the nearest edge and its distance in km, the
// first by code of several, -1 for none within Reach.
func (w *World) nearest(p orb.Point) (country int, km float64) {
	const reach = Reach / earthRadius // radians
	country = -1
	least := reach
	aside := 360.0 // ° of longitude that may be within reach
	if s := math.Sin(reach) / math.Cos(p.Lat()*degree); math.Abs(p.Lat())*degree+reach < math.Pi/2 && s < 1 {
		aside = math.Asin(s) / degree
	}
	at := vector(p)
	for b := bandOf(p.Lat() - reach/degree); b <= bandOf(p.Lat()+reach/degree); b++ {
		for i := range w.bands[b] {
			e := &w.bands[b][i]
			if !e.beside(p.Lon(), aside) {
				continue
			}
			d := distance(at, vector(e.south), vector(e.north))
			if d < least || d == least && (country < 0 || e.country < country) {
				country, least = e.country, d
			}
		}
	}
	return country, least * earthRadius
}

// beside reports whether some of the edge lies within so many degrees of a
// longitude, the 180th meridian being no bound.
func (e *edge) beside(lon, aside float64) bool {
	west := min(e.south.Lon(), e.north.Lon()) - aside
	east := max(e.south.Lon(), e.north.Lon()) + aside
	return west <= lon && lon <= east || west <= lon-360 && lon-360 <= east || west <= lon+360 && lon+360 <= east
}

// Vectors of length 1 from the earth's centre; they know no 180th meridian and
// no poles.
type vec [3]float64

func vector(p orb.Point) vec {
	sinLat, cosLat := math.Sincos(p.Lat() * degree)
	sinLon, cosLon := math.Sincos(p.Lon() * degree)
	return vec{cosLat * cosLon, cosLat * sinLon, sinLat}
}

func (a vec) dot(b vec) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

func (a vec) cross(b vec) vec {
	return vec{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

// angle is that between two vectors of length 1, exact for small ones too.
func angle(a, b vec) float64 {
	d := vec{a[0] - b[0], a[1] - b[1], a[2] - b[2]}
	return 2 * math.Asin(min(1, math.Sqrt(d.dot(d))/2))
}

// distance is the angle between p and the nearest point of the shorter arc of
// the great circle from a to b.
func distance(p, a, b vec) float64 {
	n := a.cross(b)
	length := math.Sqrt(n.dot(n))
	if length > 0 && n.cross(a).dot(p) > 0 && b.cross(n).dot(p) > 0 {
		return math.Asin(min(1, math.Abs(n.dot(p))/length))
	}
	return min(angle(p, a), angle(p, b))
}
