package cf

import (
	"math"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"stillrow/ingest/grid"
	"stillrow/ingest/netcdf"
)

func near(a, b float32) bool { return math.Abs(float64(a-b)) <= 1e-5*math.Abs(float64(b)) }

// One field in every order of dimensions, with a member of one, gives the same.
func TestOrders(t *testing.T) {
	want := []float32{0, 100, 200, 300, 10, 110, 210, 310, 20, 120, 220, 320}
	for order, data := range map[string]string{
		"time, lat, lon":         twelve,
		"time, number, lat, lon": twelve,
		"number, time, lat, lon": twelve,
		"time, lon, lat":         "0, 200, 100, 300, 10, 210, 110, 310, 20, 220, 120, 320",
		"lat, lon, time":         "0, 10, 20, 100, 110, 120, 200, 210, 220, 300, 310, 320",
		"lon, time, lat":         "0, 200, 10, 210, 20, 220, 100, 300, 110, 310, 120, 320",
		"lat, number, time, lon": "0, 100, 10, 110, 20, 120, 200, 300, 210, 310, 220, 320",
	} {
		f := read(t, cdl{dims: "number = 1 ;", vars: "float rsds(" + order + `) ; rsds:units = "W m-2" ;`, data: "rsds = " + data + " ;"})
		field := only(t, f)
		if got := all(t, f, field); !slices.Equal(got, want) {
			t.Errorf("%s: %v, want %v", order, got, want)
		}
		part := make([]float32, 4)
		if err := field.Read(part, 1, 2, 1, 1); err != nil || !slices.Equal(part, []float32{210, 310, 220, 320}) {
			t.Errorf("%s: records 1 and 2 of row 1: %v, %v", order, part, err)
		}
	}
}

func TestConversions(t *testing.T) {
	for _, tt := range []struct {
		name, units, attrs string
		step               float64
		in, want           float64
		of                 grid.Quantity
	}{
		{"rsds", "W m-2", "", 1, 800, 800, grid.GHI},
		{"rsds", "J m-2", "", 1, 3.6e5, 100, grid.GHI},     // an hour has 3600 s
		{"rsds", "kJ m-2", "", 3, 1080, 100, grid.GHI},     // 3 h have 10 800 s
		{"rsds", "Wh/m2", "", 0.5, 50, 100, grid.GHI},      // 50 Wh in half an hour
		{"rsds", "MJ/m^2/day", "", 1, 8.64, 100, grid.GHI}, // 8.64e6 J in 86 400 s
		{"x", "W m-2", `x:standard_name = "surface_direct_along_beam_shortwave_flux_in_air" ;`, 1, 700, 700, grid.DNI},
		{"x", "W m-2", `x:standard_name = "surface_diffuse_downwelling_shortwave_flux_in_air" ;`, 1, 100, 100, grid.DHI},
		{"SID", "W m-2", "", 1, 100, 100, grid.DirectHorizontal},
		{"fdir", "J m**-2", "", 1, 3.6e5, 100, grid.DirectHorizontal},
		{"tas", "K", "", 1, 300, 26.85, grid.AirTemperature},
		{"tas", "degF", "", 1, 50, 10, grid.AirTemperature},
		{"T2M", "C", "", 1, 20, 20, grid.AirTemperature},
		{"d2m", "K", "", 1, 283.15, 10, grid.DewPoint},
		{"hurs", "1", "", 1, 0.4, 40, grid.RelHumidity},
		{"RH2M", "%", "", 1, 40, 40, grid.RelHumidity},
		{"huss", "1", "", 1, 0.01, 0.01, grid.SpecificHumidity},
		{"QV2M", "g/kg", "", 1, 10, 0.01, grid.SpecificHumidity},
		{"ps", "Pa", "", 1, 101325, 1013.25, grid.Pressure},
		{"PS", "kPa", "", 1, 101.325, 1013.25, grid.Pressure},
		{"vapor_pressure", "kPa", "", 1, 1.5, 15, grid.VapourPressure},
		{"rlds", "W m-2", "", 1, 300, 300, grid.SkyInfrared},
		{"tcc", "(0 - 1)", "", 1, 0.5, 5, grid.TotalCloud},
		{"clt", "%", "", 1, 50, 5, grid.TotalCloud},
		{"x", "octas", `x:standard_name = "cloud_area_fraction" ;`, 1, 4, 5, grid.TotalCloud},
		{"sfcWind", "km/h", "", 1, 36, 10, grid.Wind},
		{"snd", "m", "", 1, 0.2, 20, grid.Snow},
		{"orog", "m", "", 1, 100, 100, grid.Elevation},
		{"z", "m**2 s**-2", `z:standard_name = "geopotential" ;`, 1, 980.665, 100, grid.Elevation},
	} {
		f := read(t, cdl{time: list(0, tt.step, tt.step), vars: "double " + tt.name + "(time, lat, lon) ; " + tt.name + `:units = "` + tt.units + `" ; ` + tt.attrs,
			data: tt.name + " = " + strings.TrimSuffix(strings.Repeat(list(tt.in, tt.in, 1)+",", 8), ",") + " ;"})
		field := only(t, f)
		if got := all(t, f, field); field.Quantity != tt.of || !near(got[len(got)-1], float32(tt.want)) {
			t.Errorf("%s %v %s: %v %v, want %v %v", tt.name, tt.in, tt.units, field.Quantity, got, tt.of, tt.want)
		}
	}
}

// Where a stamp lies in its interval.
func TestStamps(t *testing.T) {
	ghi, values := `float rsds(time, lat, lon) ; rsds:units = "W m-2" ; `, "rsds = "+twelve+" ; "
	tas, warm := `float tas(time, lat, lon) ; tas:units = "degC" ; `, "tas = 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12 ; "
	bounds := `time:bounds = "tb" ; double tb(time, two) ;`
	for name, tt := range map[string]struct {
		c            cdl
		from         int64
		instant      bool
		undocumented bool
		local        bool
	}{
		"ends":                   {c: cdl{time: "1, 2, 3", attrs: bounds, vars: ghi, data: values + "tb = 0, 1, 1, 2, 2, 3 ;"}, from: -3600},
		"begins":                 {c: cdl{attrs: bounds, vars: ghi, data: values + "tb = 0, 1, 1, 2, 2, 3 ;"}, from: 0},
		"centred":                {c: cdl{time: "0.5, 1.5, 2.5", attrs: bounds, vars: ghi + `rsds:cell_methods = "area: time: mean" ;`, data: values + "tb = 0, 1, 1, 2, 2, 3 ;"}, from: -1800},
		"one record":             {c: cdl{time: "1", attrs: bounds, vars: ghi, data: "rsds = 1, 2, 3, 4 ; tb = 0, 1 ;"}, from: -3600},
		"point":                  {c: cdl{vars: ghi + `rsds:cell_methods = "time: point" ;`, data: values}, instant: true},
		"point, with bounds":     {c: cdl{attrs: bounds, vars: ghi + `rsds:cell_methods = "time: point (at the satellite's pass: mean)" ;`, data: values + "tb = 0, 1, 1, 2, 2, 3 ;"}, instant: true},
		"mean":                   {c: cdl{vars: ghi + `rsds:cell_methods = "time: mean" ;`, data: values}, undocumented: true},
		"nothing":                {c: cdl{vars: ghi, data: values}, undocumented: true},
		"temperature":            {c: cdl{vars: tas, data: warm}, instant: true},
		"temperature, a mean":    {c: cdl{time: "1, 2, 3", attrs: bounds, vars: tas + `tas:cell_methods = "time: mean" ;`, data: warm + "tb = 0, 1, 1, 2, 2, 3 ;"}, from: -3600},
		"local":                  {c: cdl{attrs: `time:standard_name = "local_time" ;`, vars: tas, data: warm}, instant: true, local: true},
		"sums of nobody":         {c: cdl{vars: strings.Replace(ghi, "W m-2", "Wh m-2", 1), data: values}, undocumented: true},
		"sums of ECMWF":          {c: cdl{vars: strings.Replace(ghi, "W m-2", "Wh m-2", 1) + `:institution = "ECMWF" ;`, data: values}, from: -3600},
		"instants named by GRIB": {c: cdl{vars: ghi + `rsds:GRIB_stepType = "instant" ;`, data: values}, instant: true},
	} {
		f := only(t, read(t, tt.c))
		if f.Axis.From != tt.from || f.Axis.Instant != tt.instant || f.Undocumented != tt.undocumented || f.Local != tt.local || f.Axis.Step != 3600 {
			t.Errorf("%s: %+v, undocumented %v, local %v", name, *f.Axis, f.Undocumented, f.Local)
		}
	}
}

// Fields of one meaning share an axis.
func TestSharedAxis(t *testing.T) {
	f := read(t, cdl{vars: `float tas(time, lat, lon) ; tas:units = "degC" ; float ps(time, lat, lon) ; ps:units = "Pa" ;`})
	if len(f.Fields) != 2 || f.Fields[0].Axis != f.Fields[1].Axis {
		t.Errorf("%+v", f.Fields)
	}
}

func TestNoLeapGap(t *testing.T) {
	f := only(t, read(t, cdl{time: list(58*24, 60*24, 1), units: "hours since 2008-01-01", attrs: `time:calendar = "noleap" ;`,
		vars: `float rsds(time, lat, lon) ; rsds:units = "W m-2" ;`}))
	if len(f.Axis.Stamp) != 49 || f.Axis.Step != 3600 {
		t.Fatalf("%d stamps, step %d", len(f.Axis.Stamp), f.Axis.Step)
	}
	// 28 February begins 58 days after New Year; 1 March follows it here.
	for i, want := range map[int]string{0: "2008-02-28T00:00:00Z", 23: "2008-02-28T23:00:00Z", 24: "2008-03-01T00:00:00Z", 48: "2008-03-02T00:00:00Z"} {
		if got := time.Unix(f.Axis.Stamp[i], 0).UTC().Format(time.RFC3339); got != want {
			t.Errorf("stamp %d is %s, want %s", i, got, want)
		}
	}
}

func TestMonths(t *testing.T) {
	year := []int{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}
	flat := func(name string, v string, n int) string {
		return name + " = " + strings.TrimSuffix(strings.Repeat(v+",", 4*n), ",") + " ;"
	}
	ghi := `float rsds(time, lat, lon) ; rsds:units = "W m-2" ;`
	mid := "15.5, 45, 74.5, 105, 135.5, 166, 196.5, 227.5, 258, 288.5, 319, 349.5"
	// CF conventions, example 7.8 in kind: the mean of Januaries and so on of 1960 to 1990.
	var climate []string
	for m := time.January; m <= time.December; m++ {
		epoch := time.Date(1960, 1, 1, 0, 0, 0, 0, time.UTC)
		from, to := time.Date(1960, m, 1, 0, 0, 0, 0, time.UTC), time.Date(1990, m+1, 1, 0, 0, 0, 0, time.UTC)
		climate = append(climate, list(from.Sub(epoch).Hours()/24, from.Sub(epoch).Hours()/24, 1), list(to.Sub(epoch).Hours()/24, to.Sub(epoch).Hours()/24, 1))
	}
	for name, tt := range map[string]struct {
		c    cdl
		want []int
	}{
		"middles":       {cdl{time: mid, units: "days since 2001-01-01", vars: ghi, data: flat("rsds", "200", 12)}, year},
		"first days":    {cdl{time: "0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334", units: "days since 1-1-1 00:00:0.0", vars: ghi, data: flat("rsds", "200", 12)}, year},
		"two years":     {cdl{time: list(0, 23, 1), units: "months since 2001-01-15", vars: ghi, data: flat("rsds", "200", 24)}, append(slices.Clone(year), year...)},
		"from December": {cdl{time: "0, 31, 62", units: "days since 2000-12-01", vars: ghi, data: flat("rsds", "200", 3)}, []int{12, 1, 2}},
		"ends, bounded": {cdl{time: "31, 59, 90", units: "days since 2001-01-01", attrs: `time:bounds = "tb" ; double tb(time, two) ;`, vars: ghi,
			data: flat("rsds", "200", 3) + "tb = 0, 31, 31, 59, 59, 90 ;"}, []int{1, 2, 3}},
		"climatology": {cdl{time: mid, units: "days since 1960-01-01", attrs: `time:climatology = "cb" ; double cb(time, two) ;`,
			vars: ghi + `rsds:cell_methods = "time: mean within years time: mean over years" ;`,
			data: flat("rsds", "200", 12) + "cb = " + strings.Join(climate, ", ") + " ;"}, year},
		"numbers": {cdl{time: list(1, 12, 1), units: "month", vars: ghi, data: flat("rsds", "200", 12)}, year},
		"YYYYMM":  {cdl{time: "202211, 202212, 202301", units: "YYYYMM", vars: ghi, data: flat("rsds", "200", 3)}, []int{11, 12, 1}},
	} {
		f := only(t, read(t, tt.c))
		if !slices.Equal(f.Months, tt.want) || f.Axis != nil {
			t.Errorf("%s: months %v, axis %v, want %v", name, f.Months, f.Axis, tt.want)
		}
	}

	// The mean of the year stands between the years and is left out.
	f := read(t, cdl{time: list(202201, 202213, 1) + ", " + list(202301, 202313, 1), units: "Long Term Monthly Averages", vars: ghi,
		data: "rsds = " + list(100, 203, 1) + " ;"})
	got := all(t, f, only(t, f))
	if len(got) != 24*4 || got[47] != 147 || got[48] != 152 || got[95] != 199 || len(f.Warnings) != 1 {
		t.Errorf("%v, warnings %q", got, f.Warnings)
	}
}

// Sums in records that are months: 30 days of 24 MJ are 720 MJ, a mean of
// 24e6/86400 = 277.8 W/m².
func TestMonthlySums(t *testing.T) {
	field := func(units, methods, value string, months int) cdl {
		return cdl{time: list(0, float64(months-1), 1), units: "months since 2001-01-01",
			vars: `double rsds(time, lat, lon) ; rsds:units = "` + units + `" ; rsds:cell_methods = "` + methods + `" ;`,
			data: "rsds = " + strings.TrimSuffix(strings.Repeat(value+",", 4*months), ",") + " ;"}
	}
	for name, c := range map[string]cdl{
		"told":           field("MJ m-2", "time: sum", "720", 12),
		"month by value": field("MJ m-2", "", "720", 12),
		"day by value":   field("MJ m-2", "", "24", 12),
		"a day told":     field("MJ m-2 day-1", "", "24", 12),
	} {
		f := read(t, c)
		got := all(t, f, only(t, f))
		if april := got[4*3]; !near(april, 277.7778) {
			t.Errorf("%s: April has %v W/m²", name, april)
		}
		if wantWarning := strings.Contains(name, "by value"); (len(f.Warnings) == 1) != wantWarning {
			t.Errorf("%s: warnings %q", name, f.Warnings)
		}
	}
	refuse(t, "too few months", field("MJ m-2", "", "24", 3), "neither cell_methods nor the values tell")
	refuse(t, "day sums called means", field("W m-2", "", "24", 12), "no month above 24 W/m² is impossible")
	refuse(t, "month sums called means", field("W m-2", "", "7200", 12), "7200 W/m² is impossible")
}

// Which variable is taken, and what is said of the others.
func TestChoice(t *testing.T) {
	declare := func(names ...string) cdl {
		var c cdl
		for _, n := range names {
			name, attrs, _ := strings.Cut(n, ":")
			c.vars += "float " + name + "(time, lat, lon) ; "
			for _, a := range strings.Split(attrs, ";") {
				if a != "" {
					c.vars += name + ":" + a + " ; "
				}
			}
		}
		return c
	}
	wind := `:units="m/s"`
	for name, tt := range map[string]struct {
		c        cdl
		variable []string
		height   float64
		warning  string
	}{
		"10 m before 2 m":    {declare("WS2M"+wind, "WS10M"+wind), []string{"WS10M"}, 10, "WS10M: taken; WS2M left"},
		"2 m alone":          {declare("WS2M" + wind), []string{"WS2M"}, 2, ""},
		"by description":     {declare(`a:units="m/s";standard_name="wind_speed";long_name="wind at 50 m"`, `b:units="m/s";standard_name="wind_speed";long_name="10 metre wind"`), []string{"b"}, 10, "b: taken; a left"},
		"by attribute":       {declare(`a:units="m/s";standard_name="wind_speed";height="2 m"`), []string{"a"}, 2, ""},
		"components":         {declare("u10"+wind, "v10"+wind), []string{"u10", "v10"}, 10, ""},
		"speed first":        {declare("u10"+wind, "v10"+wind, "si10"+wind), []string{"si10"}, 10, "u10: left for the wind speed"},
		"nearer components":  {declare("u10"+wind, "v10"+wind, "WS2M"+wind), []string{"u10", "v10"}, 10, "WS2M: left for the components"},
		"half a pair":        {declare("u10"+wind, "si10"+wind), []string{"si10"}, 10, "u10: one component"},
		"standard name":      {declare(`shortwave:units="W m-2"`, `x:units="W m-2";standard_name="surface_downwelling_shortwave_flux_in_air"`), []string{"x"}, 0, "x: taken; shortwave left"},
		"2 m temperature":    {declare(`temp:units="K"`, `t2m:units="K"`), []string{"t2m"}, 0, "t2m: taken; temp left"},
		"another that works": {declare(`rsds:units="furlong"`, `SIS:units="W m-2"`), []string{"SIS"}, 0, `rsds: units: unknown unit "furlong"; SIS taken instead`},
		"water equivalent":   {declare(`sd:units="m of water equivalent";long_name="Snow depth"`, `tas:units="K"`), []string{"tas"}, 0, "water equivalent is no depth of snow"},
	} {
		f := read(t, tt.c)
		var got []string
		for _, x := range f.Fields {
			got = append(got, x.Variable)
			if x.Height != tt.height {
				t.Errorf("%s: %s at %v m, want %v", name, x.Variable, x.Height, tt.height)
			}
		}
		if !slices.Equal(got, tt.variable) || !strings.Contains(strings.Join(f.Warnings, "|"), tt.warning) {
			t.Errorf("%s: %v, warnings %q, want %v, %q", name, got, f.Warnings, tt.variable, tt.warning)
		}
	}
}

// A scalar height coordinate (CF 5.7) tells the height of the wind; a pressure
// level is no surface.
func TestScalarCoordinates(t *testing.T) {
	f := read(t, cdl{vars: `double h ; h:units = "m" ; h:standard_name = "height" ;
		float sfcWind(time, lat, lon) ; sfcWind:units = "m s-1" ; sfcWind:coordinates = "h" ;`, data: "h = 2 ;"})
	if w := only(t, f); w.Height != 2 {
		t.Errorf("height %v, want 2", w.Height)
	}
	f = read(t, cdl{dims: "plev = 1 ;", vars: `double plev(plev) ; plev:units = "hPa" ;
		float ta(time, plev, lat, lon) ; ta:units = "K" ; ta:standard_name = "air_temperature" ;
		float rsds(time, lat, lon) ; rsds:units = "W m-2" ;`, data: "plev = 850 ;"})
	if x := only(t, f); x.Variable != "rsds" || !strings.Contains(strings.Join(f.Warnings, "|"), "ta: lies on a pressure level") {
		t.Errorf("%+v, %q", x, f.Warnings)
	}
}

func TestLongitudes(t *testing.T) {
	tas := `float tas(time, lat, lon) ; tas:units = "degC" ;`
	for name, tt := range map[string]struct {
		lon     string
		want    []float64
		warning bool
	}{
		"round":         {"0, 90, 180, 270, 360, 450", []float64{0, 90, 180, 270}, true},
		"past 360":      {"200, 300, 400", []float64{200, 300, 400}, false},
		"wraps":         {"170, 175, -180, -175", []float64{170, 175, 180, 185}, false},
		"past, no copy": {"20, 100, 200, 300, 375", []float64{20, 100, 200, 300, 375}, false},
	} {
		f := read(t, cdl{lon: tt.lon, vars: tas})
		if !slices.Equal(f.Lon, tt.want) || (len(f.Warnings) > 0) != tt.warning {
			t.Errorf("%s: %v, %q", name, f.Lon, f.Warnings)
		}
		if got := all(t, f, only(t, f)); len(got) != 3*2*len(tt.want) {
			t.Errorf("%s: %d values", name, len(got))
		}
	}
}

func TestSpellingsOfDirections(t *testing.T) {
	// CF conventions, sections 4.1 and 4.2, and two seen in the wild.
	for _, s := range []string{"degrees_north", "degree_north", "degree_N", "degrees_N", "degreeN", "degreesN", "degrees North", "deg_north"} {
		if !slices.Contains(latitude.units, squeeze(s)) {
			t.Errorf("%q is no latitude", s)
		}
	}
	for _, s := range []string{"degrees_east", "degree_east", "degree_E", "degrees_E", "degreeE", "degreesE", "degrees East"} {
		if !slices.Contains(longitude.units, squeeze(s)) {
			t.Errorf("%q is no longitude", s)
		}
	}
}

func TestEdges(t *testing.T) {
	tas := `float tas(time, lat, lon) ; tas:units = "degC" ;`
	for name, tt := range map[string]struct {
		attrs, data string
		lat         string
		want        []float64
	}{
		"bounds":        {`lat:bounds = "lb" ; double lb(lat, two) ;`, "lb = 9, 10.5, 10.5, 12 ;", "", []float64{9, 10.5, 12}},
		"falling":       {`lat:bounds = "lb" ; double lb(lat, two) ;`, "lb = 10.5, 12, 9, 10.5 ;", "11, 10", []float64{12, 10.5, 9}},
		"edges":         {`lat:edges = "lb" ; double lb(three) ;`, "lb = 9, 10.5, 12 ;", "", []float64{9, 10.5, 12}},
		"gap":           {`lat:bounds = "lb" ; double lb(lat, two) ;`, "lb = 9, 10.2, 10.5, 12 ;", "", nil},
		"not around":    {`lat:edges = "lb" ; double lb(three) ;`, "lb = 9, 9.5, 12 ;", "", nil},
		"nothing there": {`lat:bounds = "lb" ;`, "", "", nil},
	} {
		f := read(t, cdl{dims: "three = 3 ;", lat: tt.lat, vars: tas + tt.attrs, data: tt.data})
		if !slices.Equal(f.LatEdges, tt.want) {
			t.Errorf("%s: %v, want %v", name, f.LatEdges, tt.want)
		}
	}
}

// A clear day's irradiance as hourly sums, and as sums since midnight and since
// noon and midnight, in J/m².
func TestAccumulated(t *testing.T) {
	hourly := func(h int) float64 { return max(0, 3e6*math.Sin(math.Pi*float64(h%24-6)/12)) }
	for name, tt := range map[string]struct {
		reset, phase int // hours
		refused      bool
	}{
		"hourly":                  {1, 0, false},
		"since midnight":          {24, 0, true},
		"since 18 h":              {24, 18, true},
		"since noon and midnight": {12, 0, true},
	} {
		var values []string
		sum := 0.0
		for h := range 96 {
			if (h+tt.phase)%tt.reset == 0 {
				sum = 0
			}
			sum += hourly(h)
			for range 4 {
				values = append(values, list(math.Round(sum), math.Round(sum), 1))
			}
		}
		c := cdl{time: list(1, 96, 1), vars: `double ssrd(time, lat, lon) ; ssrd:units = "J m-2" ;`, data: "ssrd = " + strings.Join(values, ", ") + " ;"}
		if tt.refused {
			refuse(t, name, c, "ssrd: accumulated since the start of a forecast")
		} else {
			only(t, read(t, c))
		}
	}
}

func TestTimeMethod(t *testing.T) {
	// Attributes of the CF conventions, section 7.3 and 7.4.
	for text, want := range map[string]string{
		"time: mean":                                     "mean",
		"area: mean time: point":                         "point",
		"lat: lon: standard_deviation":                   "",
		"time: lat: lon: mean":                           "mean",
		"time: mean (interval: 1 hr)":                    "mean",
		"time: maximum within days time: mean over days": "maximum within days mean over days",
		"area: time: mean (comment: sum of all":          "mean",
		"":                                               "",
		":":                                              "",
	} {
		v := &netcdf.Var{Attrs: []netcdf.Attr{{Name: "cell_methods", Text: text}}}
		if got := timeMethod(v); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}

// FuzzRead reads damaged files.
func FuzzRead(f *testing.F) {
	for _, c := range []cdl{
		{attrs: `time:bounds = "tb" ; double tb(time, two) ;`, vars: `float rsds(time, lat, lon) ; rsds:units = "J m-2" ; short u10(time, lon, lat) ; u10:units = "m/s" ;`, data: "rsds = " + twelve + " ;"},
		{units: "YYYYMM", time: "202212, 202213, 202301", attrs: `lat:bounds = "lb" ; double lb(lat, two) ;`, vars: `float FSR(time, lat, lon) ; FSR:units = "MJ m-2" ; FSR:long_name = "AVAILABLE SOLAR RADIATION" ;`},
	} {
		data, err := os.ReadFile(compile(f, c.String()))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		n, err := netcdf.Open(strings.NewReader(string(data)), int64(len(data)), "x.nc")
		if err != nil {
			return
		}
		g, err := Read(n)
		if err != nil {
			return
		}
		for _, x := range g.Fields {
			if n := x.Records() * len(g.Lat) * len(g.Lon); n < 1<<20 {
				x.Read(make([]float32, n), 0, x.Records(), 0, len(g.Lat))
			}
		}
	})
}
