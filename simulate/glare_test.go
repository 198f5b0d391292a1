package simulate_test

import (
	"context"
	"math"
	"testing"

	"stillrow/ingest/weather"
	"stillrow/simulate"
	"stillrow/simulate/collector"
	"stillrow/simulate/result"
)

// Where glare goes, by hand. A mirror of tilt 70° leans back 20°: the light of a
// sun below 40° leaves it upwards and equatorward. At noon of the winter
// solstice at 42° N that is due south. Three hours and a half before, the sun
// stands in the south-east at 130° and 12°, its vector (south .629, east .749,
// up .208); the mirror's normal is (south .940, up .342), their product .662;
// the light travels along −s + 2·.662·n = (south .616, west .749, up .245): to
// 231°, south-west. The southern hemisphere is the mirror image.
// Source: the law of reflection.
func TestGlareDirectionByHand(t *testing.T) {
	nan := math.NaN()
	r := preset(t, "wet film")
	plan, err := simulate.Prepare(context.Background(), simulate.Options{
		Designs: []collector.Design{
			{ReceiverWidth: 1, MirrorLength: 1, MirrorTilt: 70},
			{ReceiverWidth: 1, MirrorLength: 1, MirrorTilt: 100},
		},
		Receiver: r, Mirror: filmMirror, Ground: collector.Ground{Albedo: .2, FieldDepth: nan},
		Outlets: []collector.Outlet{{In: 25, Out: 35}}, Wear: &simulate.Wear{UVShare: .05, ClearUVTransmitted: .6, ActivationEnergy: 80e3, Reference: 40},
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		name  string
		lat   float64
		day   int // of the year, from 0
		clock int
		want  float64
	}{
		{"north, noon", 42, 354, 11, 180},
		{"north, morning", 42, 354, 8, 225},
		{"south, noon", -42, 171, 11, 0},
		{"south, morning", -42, 171, 8, 315},
	} {
		s := weather.Site{ID: "made", Lat: tt.lat, Lon: -7, Kind: weather.KindStation}
		for m := range s.Year {
			s.Year[m] = 2023
		}
		y := weather.NewYear()
		for h := range weather.Hours {
			y.GHI[h], y.DNI[h], y.DHI[h], y.AirTemperature[h], y.Wind[h], y.SkyInfrared[h] = 0, 0, 0, 10, 2, 300
		}
		h := tt.day*24 + tt.clock
		y.GHI[h], y.DNI[h], y.DHI[h] = 200, 600, 50
		b, err := plan.Site(s, y)
		if err != nil {
			t.Fatal(err)
		}
		table := plan.Table()
		hours, azimuth := b.Strain(&table, 0, 0, result.GlareHours), b.Strain(&table, 0, 0, result.GlareAzimuth)
		if math.Abs(float64(hours)-1) > .01 || float64(azimuth) != tt.want {
			t.Errorf("%s: %.2f hours of glare towards %g°, want 1 towards %g°", tt.name, hours, azimuth, tt.want)
		}
		// An overhanging mirror sends everything down.
		if hours := b.Strain(&table, 0, 1, result.GlareHours); hours != 0 {
			t.Errorf("%s: %.2f hours of glare from an overhanging mirror", tt.name, hours)
		}
	}
}
