package repair

import (
	"slices"

	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
)

// infrared completes the long-wave irradiance of the sky: short gaps by
// interpolation, the rest by the models of package sky.
func (w *work) infrared() {
	r := w.raw
	const name = "sky_infrared_w_m2"
	lacking := r.SkyInfrared == nil
	if lacking {
		r.SkyInfrared = nans()
	}
	long := longGaps(r.SkyInfrared)
	if !lacking {
		w.fillColumn(name, r.SkyInfrared)
	}
	if len(long) == 0 {
		return
	}
	w.flag(FlagInfraredModel)
	emissivity := w.clearSky()
	cloud := w.cloud()
	for _, h := range long {
		e := sky.CloudyEmissivity(emissivity[h], cloud[h])
		r.SkyInfrared[h] = sky.Infrared(e, r.AirTemperature[h])
	}
}

// longGaps gives the hours of gaps too long to interpolate.
func longGaps(v []float64) []int {
	var long []int
	start := 0 // of the run of missing hours
	for h, x := range v {
		if !missing(x) {
			start = h + 1
			continue
		}
		if h-start == shortGap {
			for i := start; i < h; i++ {
				long = append(long, i)
			}
		}
		if h-start >= shortGap {
			long = append(long, h)
		}
	}
	return long
}

// clearSky gives the emissivity of a cloudless sky in every hour.
func (w *work) clearSky() []float64 {
	r := w.raw
	e := make([]float64, weather.Hours)
	dew := w.dewPoint()
	if dew == nil {
		w.flag(FlagSwinbank)
		for h := range e {
			e[h] = sky.SwinbankEmissivity(r.AirTemperature[h])
		}
		return e
	}
	pressure := complete(r.Pressure)
	if pressure == nil {
		w.flag(FlagPressure)
		pressure = slices.Repeat([]float64{sky.Pressure(w.site.Elevation)}, weather.Hours)
	}
	for h := range e {
		// Supersaturated readings are errors of the sensor.
		td := min(dew[h], r.AirTemperature[h])
		e[h] = sky.ClearEmissivity(td, float64(h%24)+0.5, pressure[h])
	}
	return e
}

// dewPoint gives the dew point in every hour, from relative humidity where it is
// missing; nil where nothing says how humid the air is.
func (w *work) dewPoint() []float64 {
	r := w.raw
	if r.DewPoint == nil && r.RelHumidity == nil {
		return nil
	}
	dew := r.DewPoint
	if dew == nil {
		dew = nans()
	}
	if r.RelHumidity != nil {
		for h, x := range dew {
			if missing(x) && !missing(r.RelHumidity[h]) {
				dew[h] = sky.DewPoint(r.AirTemperature[h], r.RelHumidity[h])
				w.flag(FlagDewPointRH)
			}
		}
	}
	return complete(dew)
}

// cloud gives the cloud cover in every hour, tenths: opaque, in hours without it
// total, and for a year that has too little of both from GHI against a clear sky,
// with the last daytime value kept through the night; the year's first night
// keeps that of its last day.
func (w *work) cloud() []float64 {
	r := w.raw
	cloud, total := r.OpaqueCloud, false
	if cloud == nil {
		cloud = nans()
	}
	if r.TotalCloud != nil {
		for h, x := range cloud {
			if missing(x) && !missing(r.TotalCloud[h]) {
				cloud[h], total = r.TotalCloud[h], true
			}
		}
	}
	if c := complete(cloud); c != nil {
		if total {
			w.flag(FlagCloudTotal)
		}
		return c
	}
	w.flag(FlagCloudGHI)
	cloud = nans()
	last := 0.0
	for h, clear := range w.clearGlobal() {
		if clear > 0 {
			last = sky.CloudFromGlobal(r.GHI[h], clear)
			cloud[h] = last
		}
	}
	for h, x := range cloud {
		if missing(x) {
			cloud[h] = last
		}
		last = cloud[h]
	}
	return cloud
}

// clearGlobal gives the GHI of a cloudless sky in every hour of day, 0 in the
// others: those of a mean sine of the altitude under 0.1, 5.7°.
func (w *work) clearGlobal() []float64 {
	if w.clear != nil {
		return w.clear
	}
	const day = 0.1
	w.clear = make([]float64, weather.Hours)
	eachDay(func(m, d int) {
		climate := sky.ClimateAt(w.site.Lat, m+1)
		for h := d; h < d+24; h++ {
			if s := &w.suns[h]; s.lit*s.sz >= day {
				beam, diffuse := sky.Hottel(s.sz, w.site.Elevation, climate)
				w.clear[h] = s.horizontal() * (beam + diffuse)
			}
		}
	})
	return w.clear
}

// complete fills the gaps of a column that stays out of the weather table. One
// with values on less than half the days, too few to stand for the others, counts
// as absent: nil.
func complete(v []float64) []float64 {
	if v == nil {
		return nil
	}
	gap := make([]bool, len(v))
	days := 0
	eachDay(func(_, day int) {
		some := false
		for h := day; h < day+24; h++ {
			gap[h] = missing(v[h])
			some = some || !gap[h]
		}
		if some {
			days++
		}
	})
	if days < weather.Hours/24/2 {
		return nil
	}
	fillGaps(v, gap)
	return v
}
