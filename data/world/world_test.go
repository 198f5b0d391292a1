package world_test

import (
	"io/fs"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"testing/fstest"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geo"
	"github.com/paulmach/orb/planar"

	"stillrow/data"
	"stillrow/data/world"
)

func load(t testing.TB) *world.World {
	t.Helper()
	w, err := world.Load(data.FS)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// Places whose country nobody doubts; coordinates are common knowledge, from
// memory, good to about 0.02°.
func TestPlacesOnLand(t *testing.T) {
	w := load(t)
	for _, tt := range []struct {
		place    string
		lat, lon float64
		want     string
	}{
		{"Paris", 48.86, 2.35, "FR"}, {"Cayenne has a code of its own no longer", 4.85, -52.4, "FR"},
		{"Berlin", 52.52, 13.40, "DE"}, {"Madrid", 40.42, -3.70, "ES"}, {"Évora", 38.57, -7.91, "PT"},
		{"Delhi", 28.61, 77.21, "IN"}, {"Phoenix", 33.45, -112.07, "US"}, {"Fairbanks", 64.84, -147.72, "US"},
		{"Mexico City", 19.43, -99.13, "MX"}, {"São Paulo", -23.55, -46.63, "BR"}, {"Santiago", -33.45, -70.66, "CL"},
		{"Alice Springs", -23.70, 133.88, "AU"}, {"Beijing", 39.90, 116.40, "CN"}, {"Nairobi", -1.29, 36.82, "KE"},
		{"Ürümqi", 43.83, 87.62, "CN"}, {"Christchurch", -43.53, 172.60, "NZ"}, {"Reykjavík", 64.13, -21.85, "IS"},
		// small ones, and ones inside others
		{"Luxembourg", 49.61, 6.13, "LU"}, {"Vaduz", 47.14, 9.52, "LI"}, {"Andorra la Vella", 42.51, 1.52, "AD"},
		{"Rabat on Malta", 35.88, 14.40, "MT"}, {"San Marino", 43.94, 12.45, "SM"}, {"Rimini", 44.05, 12.55, "IT"},
		{"Thaba-Tseka", -29.52, 28.61, "LS"}, {"Bloemfontein", -29.12, 26.22, "ZA"}, {"Monaco", 43.745, 7.41, "MC"},
		{"St Peter's: drawn at this scale, 0.5 km wide", 41.902, 12.435, "VA"}, {"the Colosseum", 41.89, 12.492, "IT"},
		{"Kaliningrad", 54.71, 20.51, "RU"}, {"Cabinda", -5.2, 12.5, "AO"}, {"Nakhchivan", 39.21, 45.41, "AZ"},
		{"Pristina", 42.66, 21.17, "XK"}, {"Hargeisa", 9.56, 44.06, "SO"}, {"Tifariti", 26.16, -10.57, "EH"}, {"Laayoune, de facto", 27.15, -13.1, "MA"},
		// islands
		{"inland of Las Palmas", 28.0, -15.6, "ES"}, {"Tenerife", 28.3, -16.55, "ES"}, {"Madeira", 32.75, -17.0, "PT"},
		{"Honolulu's hills", 21.45, -158.0, "US"}, {"Tasmania", -42.0, 146.6, "AU"}, {"Réunion", -21.13, 55.53, "FR"},
		{"San Juan", 18.3, -66.3, "PR"}, {"Nuuk's ice", 65.0, -45.0, "GL"},
		// both sides of the 180th meridian
		{"Suva", -18.05, 178.4, "FJ"}, {"Taveuni west of 180°", -16.85, 179.97, "FJ"}, {"Taveuni east of 180°", -16.80, -179.99, "FJ"},
		{"Anadyr's hinterland", 65.5, 176.0, "RU"}, {"Chukotka east of 180°", 66.5, -175.0, "RU"}, {"and on it", 68.0, 180.0, "RU"},
		{"and beyond it", 66.5, 185.0, "RU"}, {"and once around", 66.5, -535.0, "RU"}, {"on it again", 68.0, -180.0, "RU"},
		// Antarctica
		{"Vostok", -78.46, 106.84, "AQ"}, {"near the pole", -89.9, 33, "AQ"}, {"its 180th meridian", -86.0, 180, "AQ"},
	} {
		if got, km := w.Country(tt.lat, tt.lon); got != tt.want || km != 0 {
			t.Errorf("%s: %q at %.1f km, want %q", tt.place, got, km, tt.want)
		}
	}
}

// Places at sea. Distances of a degree: 111.195 km on a sphere of 6371.0088 km.
func TestPlacesAtSea(t *testing.T) {
	w := load(t)
	for _, tt := range []struct {
		place    string
		lat, lon float64
		want     string
		km, by   float64
	}{
		// The cape lies at 9.50° W (common knowledge), where a degree has
		// 111.195·cos 38.78° = 86.7 km; the coast is drawn to some 2 km.
		{"30 km west of Cabo da Roca", 38.78, -9.50 - 30/86.7, "PT", 30, 2},
		{"60 km west of it", 38.78, -9.50 - 60/86.7, "", 0, 0},
		{"in the Tyrrhenian Sea", 40.0, 11.7, "", 0, 0},
		{"in the middle of the Atlantic", 30, -40, "", 0, 0},
		{"Halvane, which is not there", 36.5, -42, "", 0, 0},
		// The strait is 33 km wide (common knowledge).
		{"in the Strait of Dover, nearer to France", 50.96, 1.65, "FR", 11, 4},
		{"the North Pole", 90, 0, "", 0, 0},
		{"the South Pole, 0.001° beyond the drawn ones", -90, 77, "AQ", 0.11, 0.01},
		{"200 km off Fiji across 180°", -16.5, -177.5, "", 0, 0},
	} {
		got, km := w.Country(tt.lat, tt.lon)
		if got != tt.want || math.Abs(km-tt.km) > tt.by {
			t.Errorf("%s: %q at %.2f km, want %q at %g ± %g", tt.place, got, km, tt.want, tt.km, tt.by)
		}
	}
	for _, p := range [][2]float64{{math.NaN(), 0}, {0, math.NaN()}, {91, 0}, {0, math.Inf(1)}} {
		if code, km := w.Country(p[0], p[1]); code != "" || km != 0 {
			t.Errorf("%v: %q, %g km", p, code, km)
		}
	}
}

// A shore is reached across the 180th meridian, and around a pole.
func TestReachAcrossTheMeridian(t *testing.T) {
	ring := func(west, east, south, north float64) orb.Ring {
		return orb.Ring{{west, south}, {east, south}, {east, north}, {west, north}, {west, south}}
	}
	w := world.New([]world.Country{
		{Code: "AA", Outline: orb.MultiPolygon{{ring(179, 179.9, -1, 1)}}},
		{Code: "BB", Outline: orb.MultiPolygon{{ring(-10, 10, 89, 89.8)}}},
	})
	deg := math.Pi / 180 * 6371.0088
	// The northern edge of BB is a great circle, which 10° aside from its ends
	// comes nearer to the pole than they are.
	fromPole := 0.2 * math.Cos(10*math.Pi/180)
	for _, tt := range []struct {
		lat, lon float64
		want     string
		km       float64
	}{
		{0, -179.9, "AA", 0.2 * deg}, {0, 180, "AA", 0.1 * deg}, {0, -179.5, "", 0}, {1.3, 179.5, "AA", 0.3 * deg},
		{89.9, 180, "BB", (0.1 + fromPole) * deg}, {90, 0, "BB", fromPole * deg}, {89.7, 180, "", 0},
	} {
		got, km := w.Country(tt.lat, tt.lon)
		if got != tt.want || math.Abs(km-tt.km) > 0.01 {
			t.Errorf("%g, %g: %q at %.3f km, want %q at %.3f", tt.lat, tt.lon, got, km, tt.want, tt.km)
		}
	}
}

// A second opinion, orb's: the same country by polygons as by rows of edges.
func TestAgainstPolygons(t *testing.T) {
	w := load(t)
	var bounds [][]orb.Bound
	for _, c := range w.Countries {
		var list []orb.Bound
		for _, p := range c.Outline {
			list = append(list, p.Bound())
		}
		bounds = append(bounds, list)
	}
	const points = 3000
	r := rand.New(rand.NewPCG(1, 2))
	land := 0
	for range points {
		lat, lon := math.Asin(2*r.Float64()-1)*180/math.Pi, 360*r.Float64()-180
		want := ""
		for i, c := range w.Countries {
			for j, polygon := range c.Outline {
				if p := (orb.Point{lon, lat}); bounds[i][j].Contains(p) && planar.PolygonContains(polygon, p) {
					if want != "" {
						t.Errorf("%g, %g lies in %s and %s", lat, lon, want, c.Code)
					}
					want = c.Code
				}
			}
		}
		got, km := w.Country(lat, lon)
		if km > 0 {
			got = ""
		}
		if got != want {
			t.Errorf("%g, %g: %q, by polygons %q", lat, lon, got, want)
		}
		if want != "" {
			land++
		}
	}
	// 29 % of the globe is land (common knowledge); 3 standard errors are 2.5 %.
	if share := float64(land) / points; math.Abs(share-0.29) > 0.025 {
		t.Errorf("%.3f of the globe is land", share)
	}
}

// Total areas in 10³ km² as year books give them, from memory; the outlines
// are coarse, and France's hold its overseas departments.
func TestAreas(t *testing.T) {
	w := load(t)
	want := map[string]float64{"AU": 7692, "BR": 8516, "IN": 3287, "ZA": 1219, "LS": 30.36, "PL": 312.7, "PT": 92.2,
		"LU": 2.586, "AD": 0.468, "MX": 1964, "KE": 580.4, "AQ": 14000}
	for _, c := range w.Countries {
		if km2, ok := want[c.Code]; ok {
			by := 0.03
			switch c.Code {
			case "IN": // the figure takes in what others hold of Kashmir
				by = 0.05
			case "AQ", "AD":
				by = 0.15
			}
			if got := geo.Area(c.Outline) / 1e9; math.Abs(got/km2-1) > by {
				t.Errorf("%s, %s: %.4g, want %.4g × 10³ km²", c.Code, c.Name, got, km2)
			}
			delete(want, c.Code)
		}
	}
	if len(want) > 0 {
		t.Errorf("not there: %v", want)
	}
}

func TestNames(t *testing.T) {
	w := load(t)
	if n := len(w.Countries); n < 230 || n > 250 {
		t.Errorf("%d countries", n)
	}
	for code, want := range map[string]string{"PT": "Portugal", "AU": "Australia", "XK": "Kosovo", "CY": "Cyprus"} {
		if !slices.ContainsFunc(w.Countries, func(c world.Country) bool { return c.Code == code && c.Name == want }) {
			t.Errorf("no %q of the name %q", code, want)
		}
	}
}

func TestDamagedFile(t *testing.T) {
	whole, err := fs.ReadFile(data.FS, world.File)
	if err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string][]byte{
		"empty": nil, "other": []byte("RIFF"), "cut": whole[:len(whole)/2], "long": append(whole[:len(whole):len(whole)], 0),
	} {
		if _, err := world.Load(fstest.MapFS{world.File: {Data: text}}); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	if _, err := world.Load(fstest.MapFS{}); err == nil {
		t.Error("no file: no error")
	}
}

func FuzzLoad(f *testing.F) {
	whole, err := fs.ReadFile(data.FS, world.File)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(whole[:400])
	f.Add([]byte("countries 1\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		w, err := world.Load(fstest.MapFS{world.File: {Data: text}})
		if err == nil {
			w.Country(10, 20)
		}
	})
}

func BenchmarkLoad(b *testing.B) {
	for b.Loop() {
		load(b)
	}
}

// Cells of a map between 60° S and 60° N, land and sea.
func BenchmarkCountry(b *testing.B) {
	w := load(b)
	r := rand.New(rand.NewPCG(1, 2))
	for b.Loop() {
		w.Country(120*r.Float64()-60, 360*r.Float64()-180)
	}
}
