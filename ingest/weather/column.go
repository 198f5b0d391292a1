package weather

import "fmt"

// Files of a weather table.
const (
	hoursFile = "hours.parquet"
	sitesFile = "sites.parquet"
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
	siteIDColumn = Column{hoursFile, "site_id", "", "site, as in " + sitesFile}
	hourColumn   = Column{hoursFile, "hour", "h",
		"hour of the year, 0 to 8759: the interval from hour to hour + 1 of local standard time, no leap day"}

	valueColumns = [...]struct {
		Column
		least float32 // no value of a Year is below
		of    func(*Year) *[]float32
	}{
		{Column{hoursFile, "ghi_w_m2", "W/m²", "global horizontal irradiance, mean over the hour"}, 0,
			func(y *Year) *[]float32 { return &y.GHI }},
		{Column{hoursFile, "dni_w_m2", "W/m²", "direct normal irradiance, mean over the hour"}, 0,
			func(y *Year) *[]float32 { return &y.DNI }},
		{Column{hoursFile, "dhi_w_m2", "W/m²", "diffuse horizontal irradiance, mean over the hour"}, 0,
			func(y *Year) *[]float32 { return &y.DHI }},
		{Column{hoursFile, "air_temperature_c", "°C", "dry-bulb air temperature"}, -273.15,
			func(y *Year) *[]float32 { return &y.AirTemperature }},
		{Column{hoursFile, "wind_speed_m_s", "m/s", "wind speed 10 m above ground"}, 0,
			func(y *Year) *[]float32 { return &y.Wind }},
		{Column{hoursFile, "sky_infrared_w_m2", "W/m²", "long-wave irradiance from the sky on a horizontal surface"}, 0,
			func(y *Year) *[]float32 { return &y.SkyInfrared }},
		{Column{hoursFile, "snow_depth_cm", "cm", "snow depth; 0 where the source has none"}, 0,
			func(y *Year) *[]float32 { return &y.Snow }},
	}
)

// A siteColumn ties a column of the site table to a field of Site.
type siteColumn struct {
	Column
	of func(*Site) any // a *string, *int, *float64, or the *[]string of the flags
}

// siteColumns lists the site table in file order.
func siteColumns() []siteColumn {
	var all []siteColumn
	add := func(name, unit, meaning string, of func(*Site) any) {
		all = append(all, siteColumn{Column{sitesFile, name, unit, meaning}, of})
	}
	monthly := func(prefix, unit, meaning string, of func(*Site, int) any) {
		for m := range 12 {
			add(fmt.Sprintf("%s_%02d", prefix, m+1), unit, fmt.Sprintf("%s, month %d", meaning, m+1),
				func(s *Site) any { return of(s, m) })
		}
	}
	add("site_id", "", "site, unique in the table", func(s *Site) any { return &s.ID })
	add("name", "", "name of the place, as the source spells it", func(s *Site) any { return &s.Name })
	add("lat", "°", "latitude, north positive", func(s *Site) any { return &s.Lat })
	add("lon", "°", "longitude, east positive", func(s *Site) any { return &s.Lon })
	add("elevation_m", "m", "elevation above sea level", func(s *Site) any { return &s.Elevation })
	add("utc_offset_h", "h", "local standard time minus UTC", func(s *Site) any { return &s.UTCOffset })
	add("country", "", "country, as the source spells it; may be empty", func(s *Site) any { return &s.Country })
	add("source", "", "data set and file the weather came from", func(s *Site) any { return &s.Source })
	add("kind", "", KindStation+" or "+KindGrid, func(s *Site) any { return &s.Kind })
	add("cell_deg", "°", "edge of the grid cell centred on lat, lon; 0 for a station", func(s *Site) any { return &s.CellDeg })
	add("missing_hours", "h", "hours lacking at least one column in the source", func(s *Site) any { return &s.MissingHours })
	add("filled_hours", "h", "hours with at least one value filled by ingest", func(s *Site) any { return &s.FilledHours })
	add("flags", "", "what ingest found, joined by "+flagSeparator+"; empty when it found nothing", func(s *Site) any { return &s.Flags })
	add("split_model", "", "model that split global into beam and diffuse; empty when the source had them", func(s *Site) any { return &s.SplitModel })
	monthly("year", "", "calendar year whose sun the month has", func(s *Site, m int) any { return &s.Year[m] })
	monthly("clock_min", "min", "shift of the interval whose sun is sampled, later positive", func(s *Site, m int) any { return &s.ClockMin[m] })
	monthly("hdd", "K·d", "heating degree days, base 18.3 °C", func(s *Site, m int) any { return &s.HDD[m] })
	monthly("cdd", "K·d", "cooling degree days, base 18.3 °C", func(s *Site, m int) any { return &s.CDD[m] })
	return all
}
