package raster

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"stillrow/ingest/grid"
)

// A quantity with the words it goes by, the plainest first, and its units.
type quantity struct {
	is     grid.Quantity
	words  []string
	units  []unit
	static bool
	height float64 // of wind above ground, m; 0 where the words do not say
}

func (q *quantity) unitNames() string {
	var names []string
	for i := range q.units {
		names = append(names, q.units[i].name())
	}
	return strings.Join(names, ", ")
}

func (q *quantity) example() string {
	if q.static {
		return q.words[0] + "_" + q.units[0].name()
	}
	return strings.ReplaceAll(q.words[0], " ", "_") + "_" + q.units[0].name() + "_07"
}

var quantities = []*quantity{
	{is: grid.GHI, units: irradiance, words: []string{"ghi", "sis", "ssrd", "rsds", "srad", "gsr",
		"global horizontal irradiance", "global horizontal irradiation", "global irradiance", "global irradiation",
		"global radiation", "surface incoming shortwave", "surface downwelling shortwave", "surface solar radiation downwards",
		"allsky sfc sw dwn"}},
	{is: grid.DNI, units: irradiance, words: []string{"dni", "direct normal irradiance", "direct normal irradiation", "allsky sfc sw dni"}},
	{is: grid.DHI, units: irradiance, words: []string{"dhi", "dif", "diffuse horizontal irradiance", "diffuse horizontal irradiation",
		"diffuse irradiance", "diffuse irradiation", "rsdsdiff", "allsky sfc sw diff"}},
	{is: grid.DirectHorizontal, units: irradiance, words: []string{"bhi", "sid", "fdir", "direct horizontal irradiance",
		"direct horizontal irradiation", "beam horizontal irradiance"}},
	{is: grid.AirTemperature, units: temperature, words: []string{"air temperature", "temperature", "tas", "t2m", "ta", "tavg", "tmean", "temp", "2m temperature"}},
	{is: grid.DewPoint, units: temperature, words: []string{"dew point", "dew point temperature", "dewpoint", "d2m", "t2mdew", "td", "tdew", "tdps"}},
	{is: grid.RelHumidity, units: share, words: []string{"rh", "relative humidity", "hurs", "rh2m"}},
	{is: grid.SpecificHumidity, units: mixing, words: []string{"specific humidity", "huss", "qv2m", "qair"}},
	{is: grid.VapourPressure, units: pressure, words: []string{"vapour pressure", "vapor pressure", "vapr", "vap"}},
	{is: grid.Pressure, units: pressure, words: []string{"pressure", "air pressure", "surface pressure"}},
	{is: grid.SkyInfrared, units: irradiance, words: []string{"rlds", "strd", "sky infrared", "sdl", "surface downwelling longwave", "allsky sfc lw dwn"}},
	{is: grid.TotalCloud, units: cloud, words: []string{"cloud", "cloud cover", "total cloud cover", "clt", "tcc", "cldtot"}},
	{is: grid.Wind, units: speed, words: []string{"wind", "wind speed", "ws", "sfcwind"}},
	{is: grid.Wind, units: speed, height: 10, words: []string{"ws10m", "ws10", "wind10m", "wind10", "si10", "wind speed 10m"}},
	{is: grid.Wind, units: speed, height: 2, words: []string{"ws2m", "ws2", "wind2m", "wind speed 2m"}},
	{is: grid.WindEast, units: speed, height: 10, words: []string{"u10", "u10m", "uas"}},
	{is: grid.WindNorth, units: speed, height: 10, words: []string{"v10", "v10m", "vas"}},
	{is: grid.Snow, units: depth, words: []string{"snow depth", "snd", "sde", "snow"}},
	{is: grid.Elevation, units: length, static: true, words: []string{"elevation", "dem", "elev", "altitude", "orog", "hgt", "topo"}},
}

// quantityForms are all the words, as one word each.
var quantityForms = func() (all []string) {
	for _, q := range quantities {
		for _, w := range q.words {
			all = append(all, strings.ReplaceAll(w, " ", ""))
		}
	}
	return all
}()

// averaged is what names add to a quantity's word to say that it is a mean.
var averaged = regexp.MustCompile(`^([a-z]+?)(av|avg|mean|mm)$`)

// digits are those of a month or year stuck to a word.
var digits = regexp.MustCompile(`[0-9]+$`)

// findQuantity finds the one quantity among words and gives the words that are
// left; nil where there is none.
func findQuantity(in []string) (*quantity, []string, error) {
	var best *quantity
	var at, n, length int
	var second *quantity
	for _, q := range quantities {
		i, k, form := run(in, q.words)
		if form == "" {
			continue
		}
		size := len(strings.ReplaceAll(form, " ", ""))
		inside := best != nil && i < at+n && at < i+k
		switch {
		case best == nil, inside && size > length:
			best, at, n, length = q, i, k, size
		case !inside && q.is != best.is:
			second = q
		}
	}
	if best == nil {
		// Months and marks of a mean may be stuck to the word.
		for i, w := range in {
			short := digits.ReplaceAllString(w, "")
			if m := averaged.FindStringSubmatch(short); m != nil {
				short = m[1]
			}
			if short == w || short == "" {
				continue
			}
			for _, q := range quantities {
				if _, _, form := run([]string{short}, q.words); form != "" {
					best, at, n = q, i, 1
				}
			}
		}
	}
	if best == nil {
		return nil, nil, nil
	}
	if second != nil {
		return nil, nil, fmt.Errorf("two quantities, %s and %s, in %q", best.words[0], second.words[0], strings.Join(in, " "))
	}
	return best, slices.Concat(in[:at], in[at+n:]), nil
}

func quantityWords() string {
	var list []string
	for _, q := range quantities {
		if w := strings.ReplaceAll(q.words[0], " ", "_"); !slices.Contains(list, w) {
			list = append(list, w)
		}
	}
	return strings.Join(list, ", ")
}
