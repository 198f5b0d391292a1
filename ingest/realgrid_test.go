package ingest_test

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"stillrow/ingest"
	"stillrow/ingest/grid"
	"stillrow/ingest/netcdf"
	"stillrow/ingest/repair"
	"stillrow/ingest/weather"
	"stillrow/ingest/weather/realfiles"
)

const (
	desertGrid = "grid/livneh_NAmerExt_15Oct2014.WalnutGulch.2008.nc"
	oceanGrid  = "grid/esku_heat_budget.cdf"
	powerGrid  = "grid/POWER_Regional_Monthly_20220101_20221231_037d00N_039d00N_023d00E_025d00E_UTC.nc"
	era5Grid   = "grid/era5_51.5N0.125W-201310-sfc.nc"
	annualGrid = "grid/SISav_2008_iberia_kWh_m2_day.asc"
	tucson     = "tmy3csv/AZ-Tucson_International_Ap.tmy3"
)

// ingestReal gives the table made of real files.
func ingestReal(t *testing.T, o ingest.Options, names ...string) (ingest.Summary, *weather.Table) {
	t.Helper()
	var files []string
	for _, name := range names {
		files = append(files, realfiles.Path(t, name))
	}
	o.Out = filepath.Join(t.TempDir(), "weather")
	sum, err := runGrid(t, o, files...)
	if err != nil {
		t.Fatal(err)
	}
	table, err := weather.Open(o.Out)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { table.Close() })
	return sum, table
}

// values reads a variable of a NetCDF file as it stands, and its shape.
func values(t *testing.T, name, variable string) ([]float64, []int) {
	t.Helper()
	path := realfiles.Path(t, name)
	in, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	info, err := in.Stat()
	if err != nil {
		t.Fatal(err)
	}
	f, err := netcdf.Open(in, info.Size(), path)
	if err != nil {
		t.Fatal(err)
	}
	v := f.Var(variable)
	if v == nil {
		t.Fatalf("%s has no %s", name, variable)
	}
	shape, n := v.Shape(), 1
	for _, d := range shape {
		n *= d
	}
	dst := make([]float32, n)
	if err := v.ReadFloat32(dst, make([]int, len(shape)), shape); err != nil {
		t.Fatal(err)
	}
	all := make([]float64, n)
	for i, x := range dst {
		all[i] = float64(x)
	}
	return all, shape
}

// sumOf is a sum of hourly means, kWh/m².
func sumOf(v []float32) float64 {
	sum := 0.0
	for _, x := range v {
		sum += float64(x)
	}
	return sum / 1000
}

// The desert grid of Livneh et al. 2015 (3-hourly, local time, no word on where
// in their intervals its stamps lie) against its own means, and against the
// typical year of Tucson, 100 km to the north-west (NREL TMY3).
func TestDesertGrid(t *testing.T) {
	sum, table := ingestReal(t, ingest.Options{}, desertGrid, tucson)
	if sum.Sites != 16 || sum.SetAside != 0 {
		t.Fatalf("%d sites, %d set aside: %q", sum.Sites, sum.SetAside, sum.Reasons())
	}
	if !slices.Contains(sum.Inputs[0].Flags, repair.FlagStampFound) {
		t.Errorf("flags %v", sum.Inputs[0].Flags)
	}
	station := yearAt(t, table, 0) // a place of its own comes first
	ghi, dni := sumOf(station.GHI), sumOf(station.DNI)
	own, _ := values(t, desertGrid, "shortwave")
	air, shape := values(t, desertGrid, "temp")
	n := shape[1] * shape[2]
	for i := 1; i < len(table.Sites); i++ {
		y, c := yearAt(t, table, i), i-1
		want, wantAir := 0.0, 0.0
		for k := c; k < len(own); k += n {
			want += own[k]
			wantAir += air[k]
		}
		want *= 3.0 / 1000 * 365 / 366
		wantAir /= float64(len(air) / n)
		g, d := sumOf(y.GHI), sumOf(y.DNI)
		if math.Abs(g/want-1) > 0.05 {
			t.Errorf("%s: GHI %.0f kWh/m², the file has %.0f", table.Sites[i].ID, g, want)
		}
		if a := sumOf(y.AirTemperature) * 1000 / weather.Hours; math.Abs(a-wantAir) > 0.2 {
			t.Errorf("%s: %.2f °C, the file has %.2f", table.Sites[i].ID, a, wantAir)
		}
		// A modelled grid of one year, irradiance from the range of temperature, lies
		// this near to the typical year of the station; there is no source for how
		// near it should.
		if math.Abs(g/ghi-1) > 0.06 || math.Abs(d/dni-1) > 0.16 {
			t.Errorf("%s: GHI %.0f, DNI %.0f, in Tucson %.0f, %.0f", table.Sites[i].ID, g, d, ghi, dni)
		}
	}
}

// The stamp that noon finds is the beginning of the interval, as the forcing of
// such models has it; given by hand it makes the same hours. By the end of the
// interval the sun would shine at night: nothing is left of that.
func TestDesertGridStamp(t *testing.T) {
	hours := func(stamp grid.Stamp, flag string, memory int64) []float32 {
		sum, table := ingestReal(t, ingest.Options{Stamp: stamp, Every: 3, Memory: memory}, desertGrid)
		if !slices.Contains(sum.Inputs[0].Flags, flag) {
			t.Errorf("flags %v, want %s", sum.Inputs[0].Flags, flag)
		}
		return yearAt(t, table, 0).GHI
	}
	found := hours(grid.Unknown, repair.FlagStampFound, 0)
	if !slices.Equal(found, hours(grid.Begins, repair.FlagStampGiven, 0)) {
		t.Error("found another stamp than the beginning")
	}
	if !slices.Equal(found, hours(grid.Unknown, repair.FlagStampFound, 1<<20)) { // a cell a band
		t.Error("found another stamp with less memory")
	}
	sum, err := runGrid(t, ingest.Options{Out: t.TempDir(), Stamp: grid.Ends}, realfiles.Path(t, desertGrid))
	if !errors.Is(err, ingest.ErrNoSites) || !strings.Contains(sum.Reasons()[0], ": 15 cells, such as ") || !strings.Contains(sum.Reasons()[0], "of the sunlit hours") {
		t.Errorf("by the end of the interval: %d sites, %v", sum.Sites, err)
	}
}

// The ocean climatology of Esbensen and Kushnir 1981: its sea cells become
// sites, with its monthly means; land is empty, and seas under ice, which have
// some months alone, are set aside in one line.
func TestOceanGrid(t *testing.T) {
	sum, table := ingestReal(t, ingest.Options{Every: 3}, oceanGrid) // for the sake of time
	c := sum.Inputs[0].Cells
	if c.All != 46*72 || c.All-c.Thinned != 15*24 || c.SetAside < 15 || c.Empty+c.Thinned+c.SetAside+sum.Sites != c.All {
		t.Errorf("%d sites, %+v", sum.Sites, c)
	}
	if n := len(sum.Reasons()); n != 1 || !strings.Contains(sum.Reasons()[0], fmt.Sprintf("esku_heat_budget.cdf: %d cells, such as ", c.SetAside)) ||
		!strings.Contains(sum.Reasons()[0], ": no global horizontal irradiance in ") {
		t.Errorf("%d reasons: %q", n, sum.Reasons())
	}
	own, shape := values(t, oceanGrid, "FSR")
	days := [12]int{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}
	band := map[int][]float64{} // yearly GHI of the cells of a latitude
	for i, s := range table.Sites {
		g := 0.0
		y := yearAt(t, table, i)
		row := int(math.Round((s.Lat + 90) / 4))
		col := int(math.Round(math.Mod(s.Lon+360-20+360, 360) / 5))
		from := 0
		for m := range 12 {
			want := own[(m*shape[1]+row)*shape[2]+col]
			mean := sumOf(y.GHI[from:from+24*days[m]]) * 1000 / float64(24*days[m])
			from += 24 * days[m]
			// Near the pole's winter the hours are rounded to whole W/m².
			if math.Abs(mean-want) > max(0.001*want, 0.03) && want > 5 {
				t.Errorf("%s, month %d: %.3f W/m², the grid has %.3f", s.ID, m+1, mean, want)
			}
			g += mean * float64(24*days[m]) / 1000
		}
		band[int(s.Lat)] = append(band[int(s.Lat)], g)
	}
	// Yearly global irradiance on sea by latitude: 1700 to 2200 kWh/m² in the
	// tropics, less than half of it at 58° (atlases, from memory), less some 8 %
	// that the sea reflects, which this data set leaves out.
	for lat, want := range map[int][2]float64{-2: {1550, 2100}, 10: {1550, 2100}, 22: {1500, 2050}, 34: {1200, 1700}, -38: {1150, 1650}, 58: {600, 950}} {
		mean := 0.0
		for _, g := range band[lat] {
			mean += g / float64(len(band[lat]))
		}
		if !(mean > want[0] && mean < want[1]) {
			t.Errorf("latitude %d°: %.0f kWh/m² a year over %d cells, want %v", lat, mean, len(band[lat]), want)
		}
	}
}

// The monthly region of NASA POWER keeps its means to 0.1 %, in MJ/m² a day.
func TestPowerGrid(t *testing.T) {
	sum, table := ingestReal(t, ingest.Options{}, powerGrid)
	if sum.Sites != 16 || sum.SetAside != 0 {
		t.Fatalf("%d sites, %q", sum.Sites, sum.Reasons())
	}
	own, shape := values(t, powerGrid, "ALLSKY_SFC_SW_DWN")
	n := shape[1] * shape[2]
	for i := range table.Sites {
		y := yearAt(t, table, i)
		from := 0
		for m, days := range weather.MonthDays {
			mean := sumOf(y.GHI[from:from+24*days]) * 3.6 / float64(days)
			from += 24 * days
			if want := own[m*n+i]; math.Abs(mean/want-1) > 0.001 {
				t.Errorf("%s, month %d: %.4f MJ/m² a day, the grid has %.4f", table.Sites[i].ID, m+1, mean, want)
			}
		}
	}
}

// What lacks hours or months is set aside naming it, and the others go on.
func TestGridsThatLack(t *testing.T) {
	dir := t.TempDir()
	alone := compile(t, filepath.Join(dir, "sun.nc"), hourly("s"))
	era5, annual := realfiles.Path(t, era5Grid), realfiles.Path(t, annualGrid)
	sum, err := runGrid(t, ingest.Options{Out: filepath.Join(dir, "w")}, era5, annual, alone, realfiles.Path(t, powerGrid))
	if err != nil || sum.Sites != 16 || sum.SetAside != 3 {
		t.Fatalf("%d sites, %d set aside, %v", sum.Sites, sum.SetAside, err)
	}
	want := []string{
		era5 + ": no global horizontal irradiance in any month but October; twelve months are needed, of one year or of several",
		annual + ": ghi in kwh_m2_day: no month: an annual mean cannot be brought to hours; twelve monthly grids are needed",
		alone + ": lacks air temperature; a grid of the same cells that has it may be given along with it",
	}
	if !slices.Equal(sum.Reasons(), want) {
		t.Errorf("reasons %q, want %q", sum.Reasons(), want)
	}
}
