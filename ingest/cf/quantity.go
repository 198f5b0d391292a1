package cf

import (
	"slices"
	"strings"

	"stillrow/ingest/grid"
	"stillrow/ingest/netcdf"
)

// A quantity says by what names a data set calls what ingest wants, and what
// its numbers can be.
type quantity struct {
	of       grid.Quantity
	standard []string // standard names, the CF table's first, then those seen in its place; as plain makes them
	short    []string // names of variables, lower case
	dims     [4]int   // of its unit in SI
	unit     string   // of grid
	scale    float64  // from SI to that
	offset   float64
	flux     bool    // a mean or sum over time, never an instant by default
	min, max float64 // in grid's unit; beyond is impossible on Earth
	height   float64 // above ground that is wanted, m; 0 where it does not matter
}

// quantities lists everything that is taken from files. Standard names are from
// the CF standard name table; short names from CMIP, ECMWF, CM SAF, NASA POWER,
// MERRA-2, NSRDB and the sample data of hydrology and ocean models.
var quantities = []quantity{
	{of: grid.GHI, dims: irradiance, unit: "W/m²", scale: 1, flux: true, min: -50, max: 1800,
		standard: []string{"surface_downwelling_shortwave_flux_in_air", "surface_downwelling_shortwave_flux",
			"all_sky_surface_shortwave_downward_irradiance", "surface_incoming_shortwave_flux", "surface_solar_radiation_downwards",
			"global_horizontal_irradiance", "available_solar_radiation", "downwelling_shortwave_flux_in_air"},
		short: []string{"ssrd", "rsds", "sis", "ghi", "swdown", "swgdn", "dswrf", "msdwswrf", "avg_sdswrf", "allsky_sfc_sw_dwn", "shortwave",
			"dswsfc", "ssi"}},
	{of: grid.DNI, dims: irradiance, unit: "W/m²", scale: 1, flux: true, min: -50, max: 1500,
		standard: []string{"surface_direct_along_beam_shortwave_flux_in_air", "surface_direct_normal_irradiance", "direct_normal_irradiance",
			"all_sky_surface_shortwave_downward_direct_normal_irradiance"},
		short: []string{"dni", "allsky_sfc_sw_dni"}},
	{of: grid.DHI, dims: irradiance, unit: "W/m²", scale: 1, flux: true, min: -50, max: 1200,
		standard: []string{"surface_diffuse_downwelling_shortwave_flux_in_air", "diffuse_horizontal_irradiance",
			"all_sky_surface_shortwave_diffuse_irradiance"},
		short: []string{"rsdsdiff", "dhi", "allsky_sfc_sw_diff", "swddif", "msdfswrf"}},
	{of: grid.DirectHorizontal, dims: irradiance, unit: "W/m²", scale: 1, flux: true, min: -50, max: 1500,
		standard: []string{"surface_direct_downwelling_shortwave_flux_in_air", "direct_horizontal_irradiance",
			"all_sky_surface_shortwave_direct_horizontal_irradiance"},
		short: []string{"fdir", "sid", "rsdsdir", "msdrswrf", "avg_sdirswrf", "allsky_sfc_sw_dirh", "swddir"}},
	{of: grid.AirTemperature, dims: kelvin, unit: "°C", scale: 1, offset: -273.15, min: -95, max: 65, height: 2,
		standard: []string{"air_temperature", "temperature_at_2_meters", "2_meter_air_temperature"},
		short:    []string{"t2m", "tas", "2t", "t2", "temp", "tair", "at", "air", "temperature", "air_temperature", "tmp2m", "t_2m"}},
	{of: grid.DewPoint, dims: kelvin, unit: "°C", scale: 1, offset: -273.15, min: -105, max: 40, height: 2,
		standard: []string{"dew_point_temperature", "dew_frost_point_at_2_meters"},
		short:    []string{"d2m", "tdps", "2d", "t2mdew", "td2m", "dewpoint"}},
	{of: grid.RelHumidity, dims: one, unit: "%", scale: 100, min: -2, max: 140, height: 2,
		standard: []string{"relative_humidity", "relative_humidity_at_2_meters"},
		short:    []string{"hurs", "rh2m", "rel_humid", "r2", "relhum", "rh", "relative_humidity"}},
	{of: grid.SpecificHumidity, dims: one, unit: "kg/kg", scale: 1, min: -0.001, max: 0.06, height: 2,
		standard: []string{"specific_humidity", "surface_specific_humidity", "specific_humidity_at_2_meters"},
		short:    []string{"huss", "qv2m", "q2m", "ah", "shum", "q2", "specific_humidity"}},
	{of: grid.VapourPressure, dims: pascal, unit: "hPa", scale: 0.01, min: -1, max: 90, height: 2,
		standard: []string{"water_vapor_partial_pressure_in_air", "vapor_pressure", "vapour_pressure"},
		short:    []string{"vapor_pressure", "vapour_pressure", "vp", "ea"}},
	{of: grid.Pressure, dims: pascal, unit: "hPa", scale: 0.01, min: 300, max: 1100,
		standard: []string{"surface_air_pressure", "air_pressure", "surface_pressure"},
		short:    []string{"sp", "ps", "psurf", "air_pressure", "pres", "surface_pressure", "pressure"}},
	{of: grid.SkyInfrared, dims: irradiance, unit: "W/m²", scale: 1, flux: true, min: 10, max: 800,
		standard: []string{"surface_downwelling_longwave_flux_in_air", "surface_downwelling_longwave_flux",
			"all_sky_surface_longwave_downward_irradiance"},
		short: []string{"strd", "rlds", "longwave", "lwdown", "dlwrf", "msdwlwrf", "avg_sdlwrf", "allsky_sfc_lw_dwn", "lwgdn"}},
	{of: grid.TotalCloud, dims: one, unit: "tenths", scale: 10, min: -0.1, max: 11,
		standard: []string{"cloud_area_fraction", "total_cloud_cover", "cloudiness", "cloud_amount"},
		short:    []string{"tcc", "clt", "cld", "cldtot", "cloud_amt", "tcdc", "cloud_cover"}},
	{of: grid.Wind, dims: speed, unit: "m/s", scale: 1, min: 0, max: 120, height: 10,
		standard: []string{"wind_speed", "surface_wind_speed", "wind_speed_at_2_meters", "wind_speed_at_10_meters"},
		short:    []string{"ws10m", "ws2m", "sfcwind", "si10", "10si", "ws10", "spd", "wind", "ws50m", "si100", "ws", "windspeed", "wspd", "wind_speed"}},
	{of: grid.WindEast, dims: speed, unit: "m/s", scale: 1, min: -120, max: 120, height: 10,
		standard: []string{"eastward_wind", "10_meter_eastward_wind"}, short: []string{"u10", "uas", "10u", "u10m", "u100", "u2m", "uwnd", "u_10m"}},
	{of: grid.WindNorth, dims: speed, unit: "m/s", scale: 1, min: -120, max: 120, height: 10,
		standard: []string{"northward_wind", "10_meter_northward_wind"}, short: []string{"v10", "vas", "10v", "v10m", "v100", "v2m", "vwnd", "v_10m"}},
	{of: grid.Snow, dims: metre, unit: "cm", scale: 100, min: -1, max: 5000,
		standard: []string{"surface_snow_thickness", "snow_depth", "surface_snow_depth"},
		short:    []string{"snd", "sde", "sd", "snodp", "snwd", "snow_depth", "snowdepth", "snodep"}},
	{of: grid.Elevation, dims: metre, unit: "m", scale: 1, min: -500, max: 9000,
		standard: []string{"surface_altitude", "geopotential", "surface_geopotential"},
		short:    []string{"orog", "z", "elevation", "elev", "altitude", "topo", "hgt", "phis", "dem"}},
}

// strangers are words in names of what resembles a wanted quantity and is
// another: whole words of the name, the standard_name or the long_name.
var strangers = []string{"net", "toa", "clear", "clearsky", "clrsky", "clr", "upward", "upwards", "upwelling", "outgoing",
	"upwell", "absorbed", "reflected", "albedo", "anomaly", "anomalies", "difference", "uncertainty", "error", "deviation", "stdev", "std", "density", "count",
	"flag", "quality", "maximum", "minimum", "max", "min", "gust", "photosynthetic", "photosynthetically", "par", "skin", "soil", "water_equivalent",
	"potential", "bulb", "extraterrestrial", "variance", "trend", "correction", "ultraviolet", "uv", "percentile", "sst", "ocean", "sea", "range"}

// phrasesOfStrangers are the same in more than one word, as plain makes them.
var phrasesOfStrangers = []string{"top_of_atmosphere", "top_of_the_atmosphere", "clear_sky", "water_equivalent", "roughness"}

// innocent are whole names in which the word of a stranger means no harm.
var innocent = strings.NewReplacer("density_flux", "", "flux_density", "", "above_sea_level", "", "above_mean_sea_level", "",
	"post_processing", "", "quality_controlled", "", "no_data", "", "sea_surface_elevation", "", "ten_min", "", "10_min", "")

// strange names what tells a variable from the quantity it resembles, empty
// where nothing does.
func strange(v *netcdf.Var) string {
	for _, text := range []string{v.Name, v.Text("standard_name"), v.Text("long_name")} {
		p := innocent.Replace(plain(text))
		for _, phrase := range phrasesOfStrangers {
			if strings.Contains(p, phrase) {
				return phrase
			}
		}
		for _, word := range strings.Split(p, "_") {
			if slices.Contains(strangers, word) {
				return word
			}
		}
	}
	name := strings.ToLower(v.Name)
	for _, end := range []string{"max", "min", "clr"} {
		if strings.HasSuffix(name, end) {
			return end
		}
	}
	for _, word := range []string{"maximum", "minimum", "standard_deviation", "variance", "range", "median"} {
		if strings.Contains(strings.ToLower(timeMethod(v)), word) {
			return "time: " + word
		}
	}
	return ""
}

// match says how surely a variable is the quantity: 0 not at all, more by its
// standard name than by its name. Names other than standard ones are judged
// against what tells strangers.
func (q *quantity) match(v *netcdf.Var) int {
	standard := plain(v.Text("standard_name"))
	if i := slices.Index(q.standard, standard); standard != "" && i >= 0 {
		if strange(v) != "" {
			return 0
		}
		return 3000 - i // a name of the CF table before one that took its place
	}
	if other := known(standard); other != nil && other != q {
		return 0
	}
	if long := plain(v.Text("long_name")); long != "" && slices.Contains(q.standard, long) && strange(v) == "" {
		return 2000
	}
	if i := slices.Index(q.short, strings.ToLower(v.Name)); i >= 0 && strange(v) == "" {
		return 1000 - i
	}
	return 0
}

// known gives the quantity of a standard name, nil where no one has it.
func known(standard string) *quantity {
	for i := range quantities {
		if standard != "" && slices.Contains(quantities[i].standard, standard) {
			return &quantities[i]
		}
	}
	return nil
}
