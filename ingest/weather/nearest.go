package weather

import "math"

// Find returns the index of the site with the given identifier.
func (t *Table) Find(id string) (i int, ok bool) {
	i, ok = t.ids[id]
	return i, ok
}

// earthRadius is the mean radius R1 of the GRS 80 ellipsoid, km; source:
// H. Moritz, Geodetic Reference System 1980.
const earthRadius = 6371.0088

// Nearest returns the site nearest to a place in degrees and its great-circle
// distance in km on a sphere of the Earth's mean radius; of equals the first.
// It returns −1 and +Inf when the table is empty or the place no number.
func (t *Table) Nearest(lat, lon float64) (i int, km float64) {
	i, km = -1, math.Inf(1)
	for k := range t.Sites {
		if d := Distance(lat, lon, t.Sites[k].Lat, t.Sites[k].Lon); d < km {
			i, km = k, d
		}
	}
	return i, km
}

// Distance is the great-circle distance in km of two places in degrees, on a sphere
// of the Earth's mean radius, by the haversine formula, which unlike the arc
// cosine keeps its digits for near places.
func Distance(lat1, lon1, lat2, lon2 float64) float64 {
	const degree = math.Pi / 180
	sinLat := math.Sin((lat2 - lat1) * degree / 2)
	sinLon := math.Sin((lon2 - lon1) * degree / 2)
	h := sinLat*sinLat + math.Cos(lat1*degree)*math.Cos(lat2*degree)*sinLon*sinLon
	return 2 * earthRadius * math.Asin(math.Sqrt(min(1, h))) // at antipodes h can round to above 1
}
