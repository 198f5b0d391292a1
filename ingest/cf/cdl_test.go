package cf

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"stillrow/ingest/grid"
	"stillrow/ingest/netcdf"
	"stillrow/ingest/weather"
)

// compile gives the path of the file that ncgen makes of CDL, and skips the test
// where ncgen is absent.
func compile(t testing.TB, cdl string) string {
	t.Helper()
	ncgen, err := exec.LookPath("ncgen")
	if err != nil {
		t.Skip("ncgen (Debian netcdf-bin) is absent")
	}
	dir := t.TempDir()
	src, dst := filepath.Join(dir, "made.cdl"), filepath.Join(dir, "made.nc")
	if err := os.WriteFile(src, []byte(cdl), 0o644); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command(ncgen, "-k", "classic", "-o", dst, src).CombinedOutput(); err != nil {
		t.Fatalf("ncgen: %v: %s\n%s", err, out, cdl)
	}
	return dst
}

// made gives the NetCDF file of CDL.
func made(t testing.TB, cdl string) *netcdf.File {
	t.Helper()
	f := openRaw(t, compile(t, cdl))
	f.Name = "made.nc"
	return f
}

// A cdl is a small file in the text form of NetCDF: one grid of two rows and
// two columns, one time coordinate, and what a test adds.
type cdl struct {
	dims  string // more dimensions
	lat   string // values; rows at 10 and 11° where empty
	lon   string
	time  string // values
	attrs string // attributes of time besides units
	units string // of time
	vars  string // declarations
	data  string
}

func (c cdl) String() string {
	or := func(s, otherwise string) string {
		if s == "" {
			return otherwise
		}
		return s
	}
	lat, lon, time := or(c.lat, "10, 11"), or(c.lon, "20, 21"), or(c.time, "0, 1, 2")
	n := func(list string) int { return strings.Count(list, ",") + 1 }
	return fmt.Sprintf(`netcdf made {
dimensions: lat = %d ; lon = %d ; time = %d ; two = 2 ; %s
variables:
	double lat(lat) ; lat:units = "degrees_north" ;
	double lon(lon) ; lon:units = "degrees_east" ;
	double time(time) ; time:units = "%s" ; %s
	%s
data:
	lat = %s ; lon = %s ; time = %s ;
	%s
}`, n(lat), n(lon), n(time), c.dims, or(c.units, "hours since 2001-01-01"), c.attrs, c.vars, lat, lon, time, c.data)
}

// twelve is twelve values for a variable of three times, two rows, two columns.
const twelve = "0, 100, 200, 300, 10, 110, 210, 310, 20, 120, 220, 320"

func list(from, to, step float64) string {
	var s []string
	for x := from; x <= to; x += step {
		s = append(s, fmt.Sprint(x))
	}
	return strings.Join(s, ", ")
}

// one gives the only field of a file.
func only(t *testing.T, f *grid.File) grid.Field {
	t.Helper()
	if len(f.Fields) != 1 {
		t.Fatalf("%d fields: %v, warnings %q, want one", len(f.Fields), f.Fields, f.Warnings)
	}
	return f.Fields[0]
}

// all reads a whole field.
func all(t *testing.T, f *grid.File, field grid.Field) []float32 {
	t.Helper()
	n := field.Records()
	dst := make([]float32, n*len(f.Lat)*len(f.Lon))
	if err := field.Read(dst, 0, n, 0, len(f.Lat)); err != nil {
		t.Fatal(err)
	}
	return dst
}

func read(t *testing.T, c cdl) *grid.File {
	t.Helper()
	f, err := Read(made(t, c.String()))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// refuse reads a file that has to be refused with one line that holds a text.
func refuse(t *testing.T, name string, c cdl, want string) {
	t.Helper()
	f, err := Read(made(t, c.String()))
	var fe *weather.FileError
	if !errors.As(err, &fe) {
		t.Errorf("%s: %v, %+v, want a FileError", name, err, f)
		return
	}
	if s := err.Error(); !strings.HasPrefix(s, "made.nc: ") || !strings.Contains(s, want) || strings.Contains(s, "\n") {
		t.Errorf("%s: %q, want %q", name, s, want)
	}
}

func TestRefused(t *testing.T) {
	ghi := `float rsds(time, lat, lon) ; rsds:units = "W m-2" ;`
	values := "rsds = " + twelve + " ;"
	for name, tt := range map[string]struct {
		c    cdl
		want string
	}{
		"unit":    {cdl{vars: `float rsds(time, lat, lon) ; rsds:units = "furlong" ;`, data: values}, `rsds: units: unknown unit "furlong"`},
		"no unit": {cdl{vars: `float rsds(time, lat, lon) ;`, data: values}, "rsds: has no units"},
		"standard name of another unit": {cdl{vars: `float x(time, lat, lon) ; x:standard_name = "air_temperature" ; x:units = "m s-1" ;`,
			data: "x = " + twelve + " ;"}, `x: units "m s-1" do not fit "air_temperature"`},
		"latitude beyond the pole": {cdl{lat: "89, 91", vars: ghi, data: values}, "lat: entry 2 is 91"},
		"latitude twice":           {cdl{lat: "10, 10", vars: ghi, data: values}, "lat: entries 1 and 2 are both 10"},
		"latitude missing":         {cdl{lat: "10, NaN", vars: ghi, data: values}, "lat: entry 2 is missing"},
		"latitude turns":           {cdl{lat: "10, 12, 11", vars: `float u(lat) ;`}, "lat: entry 3, 11, turns back from 12"},
		"longitude falls":          {cdl{lon: "21, 20", vars: ghi, data: values}, "lon: falls from 21 to 20"},
		"times twice":              {cdl{time: "0, 1, 1", vars: ghi, data: values}, "time: record 3, 1, repeats 1"},
		"times fall":               {cdl{time: "2, 1, 0", vars: ghi, data: values}, "time: record 2, 1, comes after 2"},
		"a time missing":           {cdl{time: "0, NaN, 2", vars: ghi, data: values}, "time: record 2 has no time"},
		"steps uneven":             {cdl{time: "0, 1, 3", vars: ghi, data: values}, "time: records 2 and 3 lie 2 h apart, others 1 h"},
		"daily":                    {cdl{time: "0, 24, 48", vars: ghi, data: values}, "time: daily records: hours are needed"},
		"step of 12 h":             {cdl{time: "0, 12, 24", vars: ghi, data: values}, "time: records 12 h apart"},
		"step of 90 min":           {cdl{time: "0, 1.5, 3", vars: ghi, data: values}, "time: records 90 min apart"},
		"yearly":                   {cdl{time: "0, 8760, 17520", vars: ghi, data: values}, "time: records 365 d apart"},
		"360-day calendar":         {cdl{attrs: `time:calendar = "360_day" ;`, vars: ghi, data: values}, `time: calendar "360_day"`},
		"unit of time":             {cdl{units: "fortnights since 2001-01-01", vars: ghi, data: values}, `time: units "fortnights since 2001-01-01"`},
		"no unit of time":          {cdl{units: "steps", time: "0, 1, 2", vars: ghi, data: values}, `time: units "steps": 0 is neither a month`},
		"one record":               {cdl{time: "0", vars: ghi, data: "rsds = 1, 2, 3, 4 ;"}, "time: one record without bounds"},
		"no time":                  {cdl{vars: `float rsds(lat, lon) ; rsds:units = "W m-2" ;`, data: "rsds = 1, 2, 3, 4 ;"}, "rsds: no time axis"},
		"records without times":    {cdl{dims: "step = 10 ;", vars: `float rsds(step, lat, lon) ; rsds:units = "W m-2" ;`}, "rsds: no time axis: no variable says when the 10 entries of step are"},
		"members":                  {cdl{dims: "number = 10 ;", vars: `float rsds(time, number, lat, lon) ; rsds:units = "W m-2" ;`}, "rsds: number has 10 entries, want one"},
		"no weather":               {cdl{vars: `float pr(time, lat, lon) ; pr:units = "mm" ;`}, `no variable that is used here: "pr"`},
		"clear sky, top, net and extremes": {cdl{vars: `float rsdscs(time, lat, lon) ; rsdscs:units = "W m-2" ;
			float a(time, lat, lon) ; a:units = "W m-2" ; a:standard_name = "surface_downwelling_shortwave_flux_in_air_assuming_clear_sky" ;
			float SIS(time, lat, lon) ; SIS:units = "W m-2" ; SIS:long_name = "Surface radiation, clear sky" ;
			float rsdt(time, lat, lon) ; rsdt:units = "W m-2" ; rsdt:standard_name = "toa_incoming_shortwave_flux" ;
			float ssr(time, lat, lon) ; ssr:units = "J m-2" ; ssr:standard_name = "surface_net_downward_shortwave_flux" ;
			float CLRSKY_SFC_SW_DWN(time, lat, lon) ; CLRSKY_SFC_SW_DWN:units = "W m-2" ;
			float tasmax(time, lat, lon) ; tasmax:units = "K" ; tasmax:standard_name = "air_temperature" ;
			float x(time, lat, lon) ; x:units = "K" ; x:standard_name = "air_temperature" ; x:cell_methods = "time: maximum within days" ;
			float fsr(time, lat, lon) ; fsr:units = "m" ; fsr:long_name = "Forecast surface roughness" ;`},
			"no variable that is used here"},
		"temperature in the wrong unit": {cdl{vars: `float tas(time, lat, lon) ; tas:units = "K" ;`,
			data: "tas = 20, 21, 22, 23, 20, 21, 22, 23, 20, 21, 22, 23 ;"}, `tas: units "K", but -253.1 °C is impossible`},
		"fractions called percent": {cdl{vars: `float hurs(time, lat, lon) ; hurs:units = "%" ;`,
			data: "hurs = .2, .3, .4, .9, .2, .3, .4, .9, .2, .3, .4, .9 ;"}, `hurs: units "%", but no relative humidity is above 0.9 %`},
		"no wind": {cdl{vars: `float sfcWind(time, lat, lon) ; sfcWind:units = "mm s-1" ;`,
			data: "sfcWind = 40, 41, 42, 43, 40, 41, 42, 43, 40, 41, 42, 43 ;"}, `sfcWind: units "mm s-1", but a mean wind of 0.042 m/s`},
		"bounds of another length": {cdl{attrs: `time:bounds = "tb" ;`, vars: ghi + "double tb(time, two) ;", data: values + "tb = 0, 0.5, 1, 1.5, 2, 2.5 ;"},
			"rsds: the bounds of record 1 of time hold 30 min, its step is 1 h"},
		"bounds that wander": {cdl{attrs: `time:bounds = "tb" ;`, vars: ghi + "double tb(time, two) ;", data: values + "tb = 0, 1, 0, 1, 2, 3 ;"},
			"rsds: the bounds of record 2 of time begin -1 h from its time"},
		"months out of order": {cdl{units: "months since 2001-01-01", time: "0, 1, 3", vars: ghi, data: values}, "time: record 3 is of month 4 after month 2"},
		"a list of places":    {cdl{dims: "site = 3 ;", vars: `float rsds(time, site) ; rsds:units = "W m-2" ;`}, "rsds: site has 3 entries"},
	} {
		refuse(t, name, tt.c, tt.want)
	}
}

// Grids without geographical rows and columns.
func TestNoGrid(t *testing.T) {
	for text, want := range map[string]string{
		`netcdf made { dimensions: y = 2 ; x = 2 ; variables: float lat(y, x) ; lat:units = "degrees_north" ;
			float lon(y, x) ; lon:units = "degrees_east" ; }`: "lat: latitude is two-dimensional",
		`netcdf made { dimensions: rlat = 2 ; rlon = 2 ; variables: float rlat(rlat) ; rlat:standard_name = "grid_latitude" ; rlat:units = "degrees" ;
			float rlon(rlon) ; rlon:standard_name = "grid_longitude" ; }`: "rlat: grid_latitude in place of latitude",
		`netcdf made { dimensions: y = 2 ; x = 2 ; variables: float y(y) ; y:units = "m" ; y:axis = "Y" ; float x(x) ; x:units = "m" ; }`: "no latitude coordinate",
		`netcdf made { dimensions: lat = 2 ; variables: float lat(lat) ; data: lat = 1, 2 ; }`:                                            "no longitude coordinate",
		`netcdf made { dimensions: site = 2 ; variables: float lat(site) ; float lon(site) ; data: lat = 1, 2 ; lon = 1, 2 ; }`:           "a list of places is no grid",
	} {
		_, err := Read(made(t, text))
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
}
