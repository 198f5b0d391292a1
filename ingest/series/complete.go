package series

import (
	"errors"
	"math"

	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
)

// global gives the global irradiance that months are judged and chosen by: the
// column, or the sum of the direct on the horizontal and the diffuse. Of DNI it
// takes the hour's mean sine of the altitude.
func (y *year) global() *hourly {
	if y.ghi != nil {
		return y.ghi
	}
	g := &hourly{first: y.dhi.first, v: make([]float64, len(y.dhi.v)), off: y.dhi.off}
	if y.direct != nil {
		g.name = y.direct.name + " and " + y.dhi.name
		for i, x := range y.dhi.v {
			g.v[i] = x + y.direct.at(g.first+i)
		}
		return g
	}
	g.name = y.dni.name + " and " + y.dhi.name
	clear := y.sky()
	h := g.first % weather.Hours
	for i, x := range y.dhi.v {
		dni := y.dni.at(g.first + i)
		if c := &clear[h]; c.lit() {
			dni *= c.beam / c.normal
		} else if dni == dni {
			dni = 0
		}
		g.v[i] = x + dni
		if h++; h == weather.Hours {
			h = 0
		}
	}
	return g
}

// speed gives the wind of its components.
func speed(east, north Column) (Column, error) {
	if !east.beside(north) {
		return Column{}, &weather.FileError{Field: "wind_speed_m_s", Err: errors.New("its two components have different times")}
	}
	v := make([]float32, len(east.Values))
	for i, x := range east.Values {
		u, w := float64(x), float64(north.Values[i])
		v[i] = float32(math.Sqrt(u*u + w*w))
	}
	return Column{Axis: east.Axis, Values: v}, nil
}

// complete makes of the direct irradiance on the horizontal what the data set
// has not: global, else diffuse.
func (y *year) complete(r *weather.Raw) {
	if y.direct == nil {
		return
	}
	direct := y.full(y.direct)
	switch {
	case r.GHI == nil:
		r.GHI = make([]float64, weather.Hours)
		for h, x := range direct {
			r.GHI[h] = r.DHI[h] + x
		}
	case r.DHI == nil && r.DNI == nil:
		r.DHI = make([]float64, weather.Hours)
		for h, x := range direct {
			r.DHI[h] = max(0, r.GHI[h]-x) // rounding can put direct above global
		}
	}
}

// moisten gives the humidity by the first that the data set has of dew point,
// relative humidity, vapour pressure and specific humidity.
func (y *year) moisten(r *weather.Raw) {
	switch {
	case y.dew != nil:
		r.DewPoint = y.joined(y.dew)
	case y.humidity != nil:
		r.RelHumidity = y.joined(y.humidity)
	case y.vapour != nil:
		r.DewPoint = y.joined(y.vapour)
		for h, e := range r.DewPoint {
			r.DewPoint[h] = sky.DewPointOf(e)
		}
	case y.specific != nil:
		r.DewPoint = y.joined(y.specific)
		standard := sky.Pressure(y.site.Elevation)
		for h, q := range r.DewPoint {
			p := standard
			if r.Pressure != nil && r.Pressure[h] == r.Pressure[h] {
				p = r.Pressure[h]
			}
			r.DewPoint[h] = sky.DewPointOf(sky.VapourOfSpecific(q, p))
		}
	}
}
