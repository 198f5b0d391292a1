package cf

import (
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"stillrow/ingest/grid"
	"stillrow/ingest/netcdf"
	"stillrow/ingest/weather/realfiles"
)

// openRaw opens a NetCDF file on disk.
func openRaw(t testing.TB, path string) *netcdf.File {
	t.Helper()
	h, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { h.Close() })
	info, err := h.Stat()
	if err != nil {
		t.Fatal(err)
	}
	f, err := netcdf.Open(h, info.Size(), path)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// real reads a real grid and gives its fields by quantity.
func real(t *testing.T, name string) (*grid.File, map[grid.Quantity]grid.Field) {
	t.Helper()
	f, err := Read(openRaw(t, realfiles.Path(t, "grid/"+name)))
	if err != nil {
		t.Fatal(err)
	}
	by := map[grid.Quantity]grid.Field{}
	for _, x := range f.Fields {
		by[x.Quantity] = x
	}
	return f, by
}

// variables checks which variable gives which quantity.
func variables(t *testing.T, by map[grid.Quantity]grid.Field, want map[grid.Quantity]string) {
	t.Helper()
	for q, name := range want {
		if by[q].Variable != name {
			t.Errorf("%v is %q, want %q", q, by[q].Variable, name)
		}
	}
	if len(by) != len(want) {
		t.Errorf("%d fields, want %d", len(by), len(want))
	}
}

func mean(x []float32) (m, least, most float64) {
	n := 0
	least, most = math.Inf(1), math.Inf(-1)
	for _, v := range x {
		if v == v {
			m, least, most, n = m+float64(v), min(least, float64(v)), max(most, float64(v)), n+1
		}
	}
	return m / float64(n), least, most
}

func within(t *testing.T, what string, got, low, high float64) {
	t.Helper()
	if !(got >= low && got <= high) {
		t.Errorf("%s is %v, want %v to %v", what, got, low, high)
	}
}

// One month of the ERA5 reanalysis around London.
func TestReanalysis(t *testing.T) {
	f, by := real(t, "era5_51.5N0.125W-201310-sfc.nc")
	variables(t, by, map[grid.Quantity]string{grid.GHI: "ssrd", grid.AirTemperature: "t2m", grid.DewPoint: "d2m", grid.Pressure: "sp",
		grid.SkyInfrared: "strd", grid.WindEast: "u10", grid.WindNorth: "v10", grid.Elevation: "z"})
	if len(f.Warnings) > 0 || f.Lat[0] != 51.875 || f.Lat[6] != 51.125 || f.Lon[0] != -0.5 || f.Lon[6] != 0.25 {
		t.Errorf("rows %v, columns %v, warnings %q", f.Lat, f.Lon, f.Warnings)
	}
	ghi := by[grid.GHI]
	if ghi.Axis.From != -3600 || ghi.Axis.Step != 3600 || len(ghi.Axis.Stamp) != 744 || ghi.Axis.Stamp[0] != 1380585600 || ghi.Undocumented {
		t.Errorf("axis from %d, %d records from %d", ghi.Axis.From, len(ghi.Axis.Stamp), ghi.Axis.Stamp[0])
	}
	if !by[grid.AirTemperature].Axis.Instant || by[grid.WindEast].Height != 10 {
		t.Errorf("temperature %+v, wind at %v m", by[grid.AirTemperature].Axis, by[grid.WindEast].Height)
	}
	x := all(t, f, ghi)
	m, _, most := mean(x)
	// ncdump and hand arithmetic: the packed values of ssrd have the mean 247 636 J/m² an hour.
	within(t, "mean GHI, W/m²", m, 68.7, 68.9)
	within(t, "highest GHI, W/m²", most, 500, 560)
	// The hour before midnight is dark; packing leaves traces only.
	cells := len(f.Lat) * len(f.Lon)
	for d := range 31 {
		if _, least, most := mean(x[24*d*cells : (24*d+1)*cells]); least < -1e-3 || most > 1e-3 {
			t.Errorf("midnight of day %d has %v to %v W/m²", d+1, least, most)
		}
	}
	// The centre of gravity of the days is solar noon: 12:00 UTC less the equation
	// of time, 14 min in mid-October (astronomical almanacs), at 0.1° west.
	var weighted, total float64
	for i, stamp := range ghi.Axis.Stamp {
		for _, v := range x[i*cells : (i+1)*cells] {
			_, second := floorDiv(stamp+ghi.Axis.From+ghi.Axis.Step/2, day)
			weighted, total = weighted+float64(v)*float64(second), total+float64(v)
		}
	}
	within(t, "minutes of the sun's noon after midnight", weighted/total/60, 706-12, 706+12)
	m, _, _ = mean(all(t, f, by[grid.AirTemperature]))
	within(t, "mean temperature, °C", m, 12, 13.5) // Central England had 12.5 °C that month, from memory
	m, _, _ = mean(all(t, f, by[grid.Elevation]))
	within(t, "mean elevation, m", m, 50, 100)
}

// A desert year of 3-hourly forcing in local time.
func TestDesert(t *testing.T) {
	f, by := real(t, "livneh_NAmerExt_15Oct2014.WalnutGulch.2008.nc")
	variables(t, by, map[grid.Quantity]string{grid.GHI: "shortwave", grid.AirTemperature: "temp", grid.RelHumidity: "rel_humid",
		grid.VapourPressure: "vapor_pressure", grid.Pressure: "air_pressure", grid.SkyInfrared: "longwave", grid.Wind: "wind"})
	ghi := by[grid.GHI]
	if len(ghi.Axis.Stamp) != 2928 || ghi.Axis.Step != 10800 || !ghi.Local || !ghi.Undocumented || f.Lon[0] != -110.15625 {
		t.Errorf("%d stamps, step %d, local %v, undocumented %v", len(ghi.Axis.Stamp), ghi.Axis.Step, ghi.Local, ghi.Undocumented)
	}
	if len(f.Warnings) != 1 || !strings.HasPrefix(f.Warnings[0], `wind: units "mm s-1", but`) {
		t.Errorf("warnings %q", f.Warnings)
	}
	m, _, _ := mean(all(t, f, by[grid.Wind]))
	within(t, "mean wind, m/s", m, 2.84, 2.86)
	m, _, _ = mean(all(t, f, ghi))
	within(t, "GHI, kWh/m²", m*8.784, 2062*0.95, 2062*1.05) // Tucson, TMY3: 2062
	m, _, _ = mean(all(t, f, by[grid.Pressure]))
	within(t, "pressure, hPa", m, 840, 880) // 1 370 m high: 859 in the standard atmosphere
}

// The ocean's heat budget by month.
func TestOcean(t *testing.T) {
	f, by := real(t, "esku_heat_budget.cdf")
	variables(t, by, map[grid.Quantity]string{grid.GHI: "FSR", grid.AirTemperature: "AT", grid.SpecificHumidity: "AH", grid.TotalCloud: "CLD", grid.Wind: "SPD"})
	if len(f.Lat) != 46 || len(f.LatEdges) != 47 || f.LatEdges[1] != -88 || len(f.Lon) != 72 || f.Lon[71] != 375 {
		t.Errorf("%d rows, edges %v, columns %v", len(f.Lat), f.LatEdges, f.Lon)
	}
	if want := []int{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}; !slices.Equal(by[grid.GHI].Months, want) {
		t.Errorf("months %v", by[grid.GHI].Months)
	}
	if len(f.Warnings) != 1 || !strings.Contains(f.Warnings[0], "net of what the sea reflects") {
		t.Errorf("warnings %q", f.Warnings)
	}
	m, least, most := mean(all(t, f, by[grid.AirTemperature]))
	within(t, "mean temperature, °C", m, 10, 20)
	within(t, "lowest", least, -10, 0)
	within(t, "highest", most, 28, 33)
	_, least, most = mean(all(t, f, by[grid.TotalCloud]))
	within(t, "least cloud, tenths", least, 0, 3)
	within(t, "most cloud, tenths", most, 9, 10)

	// What the warning says: the available solar radiation is what is left when
	// the net long-wave flux is added back to the net radiation of the sea.
	raw := openRaw(t, realfiles.Path(t, "grid/esku_heat_budget.cdf"))
	flux := func(name string) []float32 {
		dst := make([]float32, 12*46*72)
		if err := raw.Var(name).ReadFloat32(dst, []int{0, 0, 0}, []int{12, 46, 72}); err != nil {
			t.Fatal(err)
		}
		return dst
	}
	solar, up, net := flux("FSR"), flux("FUL"), flux("FDR")
	n := 0
	for i := range solar {
		if d := float64(solar[i] - up[i] - net[i]); d == d {
			n++
			if math.Abs(d) > 0.011 {
				t.Fatalf("value %d: %v − %v is not %v", i, solar[i], up[i], net[i])
			}
		}
	}
	if n < 19000 {
		t.Errorf("only %d cells and months", n)
	}
}

// Twelve months of a satellite data set whose time is numbered YYYYMM, with the
// mean of the year as month 13.
func TestNumberedMonths(t *testing.T) {
	const name = "POWER_Regional_Monthly_20220101_20221231_037d00N_039d00N_023d00E_025d00E_UTC.nc"
	f, by := real(t, name)
	variables(t, by, map[grid.Quantity]string{grid.GHI: "ALLSKY_SFC_SW_DWN", grid.AirTemperature: "T2M", grid.DewPoint: "T2MDEW", grid.Wind: "WS2M"})
	ghi := by[grid.GHI]
	if want := []int{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}; !slices.Equal(ghi.Months, want) || by[grid.Wind].Height != 2 {
		t.Errorf("months %v, wind at %v m", ghi.Months, by[grid.Wind].Height)
	}
	x := all(t, f, ghi)
	cells := len(f.Lat) * len(f.Lon)
	v := openRaw(t, realfiles.Path(t, "grid/"+name)).Var(ghi.Variable)
	annual := make([]float32, cells)
	if err := v.ReadFloat32(annual, []int{12, 0, 0}, []int{1, len(f.Lat), len(f.Lon)}); err != nil {
		t.Fatal(err)
	}
	for c := range cells {
		sum := 0.0
		for m := range 12 {
			sum += float64(x[m*cells+c]) * float64(monthDays[m+1])
		}
		// 1 MJ/m² a day is 1e6/86400 W/m².
		if want := float64(annual[c]) * 1e6 / 86400; math.Abs(sum/365-want) > 0.003*want {
			t.Errorf("cell %d: the months give %v W/m², the file's mean of the year is %v", c, sum/365, want)
		}
	}
}
