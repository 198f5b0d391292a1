package weather

import "fmt"

// Files of a weather table: the hours of up to PartSites sites in each part,
// which is named by its content, and one site table that says where each is.
const (
	sitesFile   = "sites.parquet"
	partPattern = "hours-*.parquet" // as a glob
)

// A Column describes one column of a weather table.
type Column struct {
	File    string // file of the table it is in
	Name    string
	Unit    string // empty for text, numbers of a calendar and bare codes
	Meaning string
}

// Columns describes every column of both files of a weather table, in file
// order. columns.csv and the field metadata of Arrow records are made of it.
func Columns() []Column {
	all := []Column{siteIDColumn, hourColumn}
	for _, c := range valueColumns {
		all = append(all, c.Column)
	}
	for _, c := range siteColumns() {
		all = append(all, c.Column)
	}
	return all
}

// The hourly columns: two keys, which also prove on reading that a row is what
// its place says, and the values.
var (
	siteIDColumn = Column{partPattern, "site_id", "", "site, as in " + sitesFile}
	hourColumn   = Column{partPattern, "hour", "h",
		"hour of the year, 0 to 8759: the interval from hour to hour + 1 of local standard time, no leap day"}

	valueColumns = [...]struct {
		Column
		least float32 // no value of a Year is below
		steps float32 // in a unit, that the table rounds to
		of    func(*Year) *[]float32
	}{
		{Column{partPattern, "ghi_w_m2", "W/m²", "global horizontal irradiance, mean over the hour, to 0.1"}, 0, 10,
			func(y *Year) *[]float32 { return &y.GHI }},
		{Column{partPattern, "dni_w_m2", "W/m²", "direct normal irradiance, mean over the hour, to 0.1"}, 0, 10,
			func(y *Year) *[]float32 { return &y.DNI }},
		{Column{partPattern, "dhi_w_m2", "W/m²", "diffuse horizontal irradiance, mean over the hour, to 0.1"}, 0, 10,
			func(y *Year) *[]float32 { return &y.DHI }},
		{Column{partPattern, "air_temperature_c", "°C", "dry-bulb air temperature, to 0.1"}, -273.15, 10,
			func(y *Year) *[]float32 { return &y.AirTemperature }},
		{Column{partPattern, "wind_speed_m_s", "m/s", "wind speed 10 m above ground, to 0.1"}, 0, 10,
			func(y *Year) *[]float32 { return &y.Wind }},
		{Column{partPattern, "sky_infrared_w_m2", "W/m²", "long-wave irradiance from the sky on a horizontal surface, to 0.1"}, 0, 10,
			func(y *Year) *[]float32 { return &y.SkyInfrared }},
		{Column{partPattern, "snow_depth_cm", "cm", "snow depth; 0 where the source has none; to 0.1"}, 0, 10,
			func(y *Year) *[]float32 { return &y.Snow }},
	}
)

// An entry is one row of the site table: a site and where its hours are.
type entry struct {
	Site
	part  string // file name
	place int    // from 0, in units of Hours rows
}

// A siteColumn ties a column of the site table to a field of its row.
type siteColumn struct {
	Column
	of func(*entry) any // a *string, *int, *float64, or the *[]string of the flags
}

// siteColumns lists the site table in file order.
func siteColumns() []siteColumn {
	var all []siteColumn
	add := func(name, unit, meaning string, of func(*entry) any) {
		all = append(all, siteColumn{Column{sitesFile, name, unit, meaning}, of})
	}
	monthly := func(prefix, unit, meaning string, of func(*entry, int) any) {
		for m := range 12 {
			add(fmt.Sprintf("%s_%02d", prefix, m+1), unit, fmt.Sprintf("%s, month %d", meaning, m+1),
				func(s *entry) any { return of(s, m) })
		}
	}
	add("site_id", "", "site, unique in the table", func(s *entry) any { return &s.ID })
	add("name", "", "name of the place, as the source spells it", func(s *entry) any { return &s.Name })
	add("lat", "°", "latitude, north positive", func(s *entry) any { return &s.Lat })
	add("lon", "°", "longitude, east positive", func(s *entry) any { return &s.Lon })
	add("elevation_m", "m", "elevation above sea level", func(s *entry) any { return &s.Elevation })
	add("utc_offset_h", "h", "local standard time minus UTC", func(s *entry) any { return &s.UTCOffset })
	add("country", "", "country, as the source spells it; may be empty", func(s *entry) any { return &s.Country })
	add("source", "", "data set and file the weather came from", func(s *entry) any { return &s.Source })
	add("kind", "", KindStation+" or "+KindGrid, func(s *entry) any { return &s.Kind })
	add("cell_deg", "°", "edge in latitude of the grid cell centred on lat, lon; 0 for a station", func(s *entry) any { return &s.CellDeg })
	add("cell_lon_deg", "°", "edge of the cell in longitude; 0 for one like cell_deg", func(s *entry) any { return &s.CellLonDeg })
	add("missing_hours", "h", "hours lacking at least one column in the source", func(s *entry) any { return &s.MissingHours })
	add("filled_hours", "h", "hours with at least one value filled by ingest", func(s *entry) any { return &s.FilledHours })
	add("flags", "", "what ingest found, joined by "+flagSeparator+"; empty when it found nothing", func(s *entry) any { return &s.Flags })
	add("split_model", "", "model that split global into beam and diffuse; empty when the source had them", func(s *entry) any { return &s.SplitModel })
	add("year_p10", "", "10th percentile of the yearly GHI of single years, a poor year, over their mean; 0 for fewer than five whole years", func(s *entry) any { return &s.YearP10 })
	add("year_p90", "", "90th percentile of the yearly GHI of single years, a rich year, over their mean; 0 likewise", func(s *entry) any { return &s.YearP90 })
	monthly("year", "", "calendar year whose sun the month has", func(s *entry, m int) any { return &s.Year[m] })
	monthly("clock_min", "min", "shift of the interval whose sun is sampled, later positive", func(s *entry, m int) any { return &s.ClockMin[m] })
	monthly("hdd", "K·d", "heating degree days, base 18.3 °C", func(s *entry, m int) any { return &s.HDD[m] })
	monthly("cdd", "K·d", "cooling degree days, base 18.3 °C", func(s *entry, m int) any { return &s.CDD[m] })
	add("hours_file", "", "file beside this one that holds the hours of the site", func(s *entry) any { return &s.part })
	add("hours_site", "", "place of the site in hours_file, from 0: its rows begin at 8760 times this", func(s *entry) any { return &s.place })
	return all
}
