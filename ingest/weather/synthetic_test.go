package weather_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"stillrow/ingest/weather"
)

// synthetic invents site i and a year for it: the shape of a climate, rounded
// as weather files are (1 W/m², 0.1 °C, 0.1 m/s). It is not physical.
func synthetic(i int) (weather.Site, *weather.Year) {
	rng := rand.New(rand.NewPCG(uint64(i), 1))
	s := weather.Site{
		ID: fmt.Sprintf("HV-%04d", i), Name: fmt.Sprintf("Halvane field %d", i),
		Lat: float64(i%120) - 60, Lon: float64(i*7%360) - 180, Elevation: float64(i), UTCOffset: float64(i % 12),
		Country: "HV", Source: "invented", Kind: weather.KindStation,
		MissingHours: i % 50, FilledHours: i % 40,
	}
	if i%3 == 1 {
		s.Kind, s.CellDeg, s.SplitModel, s.Flags = weather.KindGrid, 0.25, "engerer2", []string{"clock_unproven", "snow_rejected"}
		s.YearP10, s.YearP90 = 0.94, 1.05
	}
	for m := range 12 {
		s.Year[m], s.ClockMin[m] = 2001+(i+m)%20, 10*(m-6)
		s.HDD[m], s.CDD[m] = 30*rng.Float64(), rng.Float64()*100
	}
	y := weather.NewYear()
	cloud, wind := 0.5, 3.0
	for h := range weather.Hours {
		day, hour := float64(h/24), float64(h%24)
		up := math.Max(0, math.Sin(math.Pi*(hour-6)/12)*(0.7-0.3*math.Cos(2*math.Pi*day/365)))
		cloud = min(1, max(0, cloud+0.2*(rng.Float64()-0.5)))
		wind = max(0, wind+rng.NormFloat64()-0.1*(wind-3))
		air := 12 - 10*math.Cos(2*math.Pi*(day-20)/365) - 5*math.Cos(2*math.Pi*(hour-3)/24) + 2*rng.NormFloat64()
		dni := 900 * math.Sqrt(up) * (1 - cloud)
		dhi := 60*math.Sqrt(up) + 300*up*cloud
		y.DNI[h], y.DHI[h], y.GHI[h] = round(dni, 1), round(dhi, 1), round(dhi+dni*up, 1)
		y.AirTemperature[h], y.Wind[h] = round(air, 0.1), round(wind, 0.1)
		y.SkyInfrared[h] = round(5.67e-8*math.Pow(air+273.15, 4)*(0.75+0.2*cloud), 1)
		y.Snow[h] = round(max(0, -air), 1)
	}
	return s, y
}

// unrounded gives every value a mantissa of its own, as computed columns have.
// A table rounds them.
func unrounded(y *weather.Year) *weather.Year {
	rng := rand.New(rand.NewPCG(3, 3))
	for _, c := range columnsOf(y) {
		for h := range *c {
			if (*c)[h] != 0 {
				(*c)[h] += float32(rng.Float64())
			}
		}
	}
	return y
}

func round(x, step float64) float32 { return float32(math.Round(x/step) * step) }

// columnsOf lists the columns of a year in the order of the file.
func columnsOf(y *weather.Year) []*[]float32 {
	return []*[]float32{&y.GHI, &y.DNI, &y.DHI, &y.AirTemperature, &y.Wind, &y.SkyInfrared, &y.Snow}
}

// write makes a table of n synthetic sites in a new folder.
func write(t testing.TB, n int) (dir string) {
	t.Helper()
	dir = t.TempDir()
	writeTo(t, dir, n, nil)
	return dir
}

func writeTo(t testing.TB, dir string, n int, change func(*weather.Year) *weather.Year) {
	t.Helper()
	w, err := weather.Create(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	for i := range n {
		s, y := synthetic(i)
		if change != nil {
			y = change(y)
		}
		if err := w.Append(s, y); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

// rounded gives the values a table holds: the nearest tenths.
func rounded(y *weather.Year) *weather.Year {
	for _, c := range columnsOf(y) {
		for h, x := range *c {
			if (*c)[h] = float32(math.RoundToEven(float64(x)*10) / 10); (*c)[h] == 0 && x != 0 {
				(*c)[h] = 0 // without a sign
			}
		}
	}
	return y
}

// partsOf names the part files in a folder, sorted.
func partsOf(t testing.TB, dir string) (names []string) {
	t.Helper()
	paths, err := filepath.Glob(filepath.Join(dir, "hours-*.parquet"))
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range paths {
		names = append(names, filepath.Base(p))
	}
	return names
}
