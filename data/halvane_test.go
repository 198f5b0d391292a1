package data_test

import (
	"bytes"
	"flag"
	"fmt"
	"math"
	"os"
	"testing"
)

var update = flag.Bool("update", false, "write halvane/climate.csv anew")

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

func island() (list []cell) {
	for lat := 28.25; lat < 46; lat += cellDeg {
		for lon := -47.75; lon < -36; lon += cellDeg {
			u := (lat - middleLat) / halfLength
			bend := 0.9 * math.Sin(2.2*u)
			swell := 1 + 0.14*math.Sin(5*u+1)
			v := (lon - middleLon - bend) / (halfWidth * swell)
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

func TestClimateIsItsFormula(t *testing.T) {
	const path = "halvane/climate.csv"
	want := climateTable()
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
	if n := bytes.Count(got, []byte("\n")) - 2; n < 350 || n > 450 {
		t.Errorf("%d cells, want some 400", n)
	}
}
