package data_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"os"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"stillrow/data"
	"stillrow/ingest/climate"
)

var update = flag.Bool("update", false, "write the files of halvane/ anew")

// Halvane is an invented island; this formula is all there is of it. A cell of
// 0.5° is land where it lies in an ellipse about 37° N, 42° W that bends and
// swells along its length. How far inland a cell is (0 at the coast, 1 in the
// middle), how near to the western shore and how far north decide the rest.
const (
	middleLat, middleLon = 37.0, -42.0
	halfLength           = 8.6 // ° of latitude
	halfWidth            = 3.8 // ° of longitude
	cellDeg              = 0.5
)

type cell struct {
	lat, lon float64
	inland   float64 // 0 … 1
	west     float64 // 0 … 1, how much of the rain from the west it gets
	fog      float64 // 0 … 1, how much of the northern fog
	height   float64 // m
}

// spine gives how far the ellipse's axis bends east, and its half width, °, at
// the part u of its half length north of the middle.
func spine(u float64) (bend, width float64) {
	return 0.9 * math.Sin(2.2*u), halfWidth * (1 + 0.14*math.Sin(5*u+1))
}

func island() (list []cell) {
	for lat := 28.25; lat < 46; lat += cellDeg {
		for lon := -47.75; lon < -36; lon += cellDeg {
			u := (lat - middleLat) / halfLength
			bend, width := spine(u)
			v := (lon - middleLon - bend) / width
			r := math.Hypot(u, v)
			if r >= 1 {
				continue
			}
			c := cell{lat: lat, lon: lon, inland: 1 - r}
			c.west = math.Exp(-math.Pow((v+0.75)/0.35, 2))
			c.fog = 1 / (1 + math.Exp(-(lat-42.5)/0.9))
			c.height = math.Round(15 + 1300*math.Pow(c.inland, 1.3))
			list = append(list, c)
		}
	}
	return list
}

// meanDay is the day of the year whose declination is the month's mean.
// Source: Klein 1977, Solar Energy 19, 325–329.
var meanDay = [12]float64{17, 47, 75, 105, 135, 162, 198, 228, 258, 288, 318, 344}

// aboveAir is the month's mean irradiance on the horizontal above the air,
// W/m². Source: Duffie and Beckman 2013, eq. 1.10.3, with 1361 W/m².
func aboveAir(lat float64, m int) float64 {
	n := meanDay[m]
	phi, dec := lat*math.Pi/180, 23.45*math.Pi/180*math.Sin(2*math.Pi*(284+n)/365)
	w := math.Acos(-math.Tan(phi) * math.Tan(dec))
	return 1361 / math.Pi * (1 + 0.033*math.Cos(2*math.Pi*n/365)) *
		(math.Cos(phi)*math.Cos(dec)*math.Sin(w) + w*math.Sin(phi)*math.Sin(dec))
}

// month gives the monthly means of a cell: GHI W/m², air temperature °C, wind
// m/s, relative humidity %.
func (c cell) month(m int) (ghi, air, wind, humidity float64) {
	summer := math.Cos(2 * math.Pi * (float64(m) - 6) / 12)  // 1 in July
	lagging := math.Cos(2 * math.Pi * (float64(m) - 7) / 12) // 1 in August
	winter := (1 - summer) / 2

	k := 0.55 + 0.05*summer + 0.11*c.inland - 0.16*c.west*(0.5+0.5*winter) -
		0.15*c.fog*(1-0.4*winter) - 0.004*(c.lat-28)
	k = math.Min(0.69, math.Max(0.28, k))

	mean := 23.5 - 0.55*(c.lat-28) - 5.0*c.height/1000
	air = mean + (4.5+0.12*(c.lat-28))*lagging + 7*c.inland*summer - 1.5*c.fog*summer
	wind = 6.0 - 4.5*c.inland + 1.3*winter + 0.06*(c.lat-28) + 0.8*c.west
	humidity = 76 - 38*c.inland*(0.7+0.3*summer) + 8*c.west + 10*c.fog
	humidity = math.Min(94, math.Max(30, humidity))
	return k * aboveAir(c.lat, m), air, wind, humidity
}

func climateTable() []byte {
	var b bytes.Buffer
	b.WriteString("# Halvane, an invented island: monthly means by the formula in ../halvane_test.go.\n")
	b.WriteString("site_id,name,country,lat,lon,elevation_m,cell_deg")
	for _, name := range []string{"ghi_w_m2", "air_temperature_c", "wind_speed_m_s", "relative_humidity_percent"} {
		for m := range 12 {
			fmt.Fprintf(&b, ",%s_%02d", name, m+1)
		}
	}
	b.WriteByte('\n')
	for _, c := range island() {
		id := fmt.Sprintf("HV-%04.0f-%04.0f", c.lat*100, -c.lon*100)
		fmt.Fprintf(&b, "%s,Halvane %.2f N %.2f W,Halvane,%g,%g,%g,%g", id, c.lat, -c.lon, c.lat, c.lon, c.height, cellDeg)
		var col [4][12]float64
		for m := range 12 {
			col[0][m], col[1][m], col[2][m], col[3][m] = c.month(m)
		}
		for i, months := range col {
			for _, v := range months {
				fmt.Fprintf(&b, ",%.*f", []int{1, 1, 1, 0}[i], v)
			}
		}
		b.WriteByte('\n')
	}
	return b.Bytes()
}

// outline is the coast as a GeoJSON polygon (RFC 7946), counter-clockwise.
func outline() []byte {
	const points = 180
	var b bytes.Buffer
	b.WriteString(`{"type":"Feature","properties":{"name":"Halvane"},"geometry":{"type":"Polygon","coordinates":[[`)
	for i := range points + 1 {
		v, u := math.Sincos(-2 * math.Pi * float64(i%points) / points)
		bend, width := spine(u)
		if i > 0 {
			b.WriteByte(',')
		}
		fmt.Fprintf(&b, "\n[%.3f,%.3f]", middleLon+bend+width*v, middleLat+halfLength*u)
	}
	b.WriteString("\n]]}}\n")
	return b.Bytes()
}

func TestFilesAreTheirFormula(t *testing.T) {
	for path, want := range map[string][]byte{"halvane/climate.csv": climateTable(), "halvane/outline.geojson": outline()} {
		if *update {
			if err := os.WriteFile(path, want, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		got, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s is not what its formula gives; run go test ./data -update and look at the difference", path)
		}
	}
	if n := len(island()); n < 350 || n > 450 {
		t.Errorf("%d cells, want some 400", n)
	}
}

// Cells are land where their middle lies within the coast.
func TestOutlineHoldsTheCells(t *testing.T) {
	text, err := data.FS.ReadFile("halvane/outline.geojson")
	if err != nil {
		t.Fatal(err)
	}
	var feature struct {
		Type     string
		Geometry struct {
			Type        string
			Coordinates orb.Polygon
		}
	}
	if err := json.Unmarshal(text, &feature); err != nil {
		t.Fatal(err)
	}
	if feature.Type != "Feature" || feature.Geometry.Type != "Polygon" {
		t.Fatalf("%s of a %s", feature.Type, feature.Geometry.Type)
	}
	coast := feature.Geometry.Coordinates
	if coast[0].Orientation() != orb.CCW {
		t.Error("the ring runs clockwise")
	}
	land := map[orb.Point]bool{}
	for _, c := range island() {
		land[orb.Point{c.lon, c.lat}] = true
	}
	wrong := 0
	for lat := 28.25; lat < 46; lat += cellDeg {
		for lon := -47.75; lon < -36; lon += cellDeg {
			if p := (orb.Point{lon, lat}); planar.PolygonContains(coast, p) != land[p] {
				wrong++
			}
		}
	}
	if wrong > 2 { // chords cut a little off the curve
		t.Errorf("%d cells on the wrong side of the coast", wrong)
	}
}

// The table is one the generator of hours takes, in the range of clearness its
// daily sequences were made from, with the climates the demo speaks of.
func TestClimateIsPlausible(t *testing.T) {
	text, err := data.FS.ReadFile("halvane/climate.csv")
	if err != nil {
		t.Fatal(err)
	}
	if len(text) > 400_000 {
		t.Errorf("%d bytes, want at most 400000", len(text))
	}
	cells, err := climate.Read(bytes.NewReader(text), "climate.csv")
	if err != nil {
		t.Fatal(err)
	}
	const january, july = 0, 6
	var plateau, fog, frost int
	for _, c := range cells {
		var k [12]float64
		for m := range k {
			k[m] = c.GHI[m] / aboveAir(c.Lat, m)
			if k[m] < 0.25 || k[m] > 0.70 {
				t.Errorf("%s, month %d: clearness %.3f, want 0.25 to 0.70", c.ID, m+1, k[m])
			}
		}
		if k[july] > 0.62 && c.Elevation > 700 && c.RelHumidity[july] < 55 {
			plateau++
		}
		if c.Lat > 43 && k[january] < 0.42 && c.RelHumidity[july] > 80 {
			fog++
		}
		if c.AirTemperature[january] < 5 {
			frost++
		}
	}
	if plateau < 10 || fog < 10 || frost < 10 {
		t.Errorf("%d cells of dry plateau, %d of fog, %d with frost, want 10 of each", plateau, fog, frost)
	}
}
