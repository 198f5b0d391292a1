package film

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// opaque is a film that radiates as glass or a plate does.
func opaque(emittance, gap float64) Clear {
	return Clear{N: 1.5, Reflectance: 1 - emittance, Gap: gap}
}

// windFor undoes WindCoefficient, for examples that give h.
func windFor(h float64) float64 { return (h - 2.8) / 3.0 }

// The hand calculation: 8.8·(T−25) + 0.92·σ·(T⁴ − Tsky⁴), no loss to the ground.
func TestWetFilmLoss(t *testing.T) {
	s := onWater(opaque(0.92, 0))
	for _, tt := range []struct{ water, want float64 }{{45, 385}, {60, 625}, {75, 880}, {90, 1153}} {
		got, films := s.Loss(tt.water, 25, 8, 2)
		near(t, fmt.Sprintf("loss at %g °C", tt.water), got, tt.want, 0.6)
		near(t, "film", films[0], tt.water, 0)
	}
}

// Duffie and Beckman 2013, example 6.4.1 (printed 48.5 °C and 6.62 W/m²K), and
// the same balance solved elsewhere for other plates.
func TestSingleGlassTopLoss(t *testing.T) {
	for _, tt := range []struct {
		name                         string
		plate, air, h, gap, slope, e float64
		u                            float64
	}{
		{"example 6.4.1", 100, 10, 10, .025, 45, .95, 6.621},
		{"plate 60 °C", 60, 10, 10, .025, 45, .95, 5.739},
		{"selective plate", 100, 10, 10, .025, 45, .10, 3.553},
		{"level, 50 mm", 75, 25, 15, .050, 0, .95, 6.641},
	} {
		s := onWater(opaque(.88, tt.gap), opaque(tt.e, 0))
		s.Slope = tt.slope
		loss, films := s.Loss(tt.plate, tt.air, tt.air, windFor(tt.h))
		near(t, tt.name, loss/(tt.plate-tt.air), tt.u, 0.01)
		if tt.name == "example 6.4.1" {
			near(t, "glass", films[0], 48.35, 0.05)
			b := s.balance(waterEmittance, tt.plate, tt.air, tt.air, windFor(tt.h))
			step := tt.plate - films[0]
			near(t, "hc", b.convection[1]/step, 3.50, 0.01)
			near(t, "hr", (b.up[1]-b.down[1])/step, 8.04, 0.01)
		}
	}
}

// A cover that lets long-wave radiation pass, solved elsewhere: polyethylene
// loses about 55 per cent more than glass.
func TestLongWaveTransparentCover(t *testing.T) {
	for _, tt := range []struct{ passes, emits, u float64 }{{.80, .15, 10.6}, {.40, .50, 8.7}, {0, .88, 6.8}} {
		cover := Clear{N: 1.5, Transmittance: tt.passes, Reflectance: 1 - tt.passes - tt.emits, Gap: .05}
		loss, _ := onWater(cover, opaque(.95, 0)).Loss(60, 25, 8, windFor(13.3))
		near(t, fmt.Sprintf("cover passing %g", tt.passes), loss/35, tt.u, 0.06)
	}
}

// klein is the empirical top loss of flat-plate collectors with n glass covers
// 25 mm apart, within 0.3 W/m²K of the full balance.
// Source: Klein 1979; Duffie and Beckman 2013, eq. 6.4.9.
func klein(n, plate, air, h, slope, ep, eg float64) float64 {
	tp, ta := plate+kelvin, air+kelvin
	f := (1 + .089*h - .1166*h*ep) * (1 + .07866*n)
	c := 520 * (1 - .000051*slope*slope)
	e := .430 * (1 - 100/tp)
	return 1/(n/(c/tp*math.Pow((tp-ta)/(n+f), e))+1/h) +
		stefan*(tp+ta)*(tp*tp+ta*ta)/(1/(ep+.00591*n*h)+(2*n+f-1+.133*ep)/eg-n)
}

func TestAgainstKlein(t *testing.T) {
	near(t, "klein, example 6.4.1", klein(1, 100, 10, 10, 45, .95, .88), 6.644, 1e-3)
	near(t, "klein, two covers", klein(2, 100, 10, 10, 45, .95, .88), 3.876, 1e-3)
	for n := 1; n <= 2; n++ {
		for _, plate := range []float64{40, 60, 80, 100, 130} {
			for _, h := range []float64{5, 10, 20} {
				for _, slope := range []float64{0, 45} {
					for _, ep := range []float64{.95, .10} {
						var films []Clear
						for range n {
							films = append(films, opaque(.88, .025))
						}
						s := onWater(append(films, opaque(ep, 0))...)
						s.Slope = slope
						loss, _ := s.Loss(plate, 10, 10, windFor(h))
						near(t, fmt.Sprintf("%d covers, plate %g °C and %g, h %g, slope %g", n, plate, ep, h, slope),
							loss/(plate-10), klein(float64(n), plate, 10, h, slope, ep, .88), 0.3)
					}
				}
			}
		}
	}
}

// drawStack draws up to four clear films of any long-wave character.
func drawStack(t *rapid.T) *Stack {
	var films []Clear
	for i := range rapid.IntRange(1, 4).Draw(t, "films") {
		passes := rapid.Float64Range(0, 1).Draw(t, "passes")
		films = append(films, Clear{
			Name: fmt.Sprint(i), N: 1.5, Transmittance: passes,
			Reflectance: rapid.Float64Range(0, min(0.99, 1-passes)).Draw(t, "reflects"),
			Gap:         rapid.Float64Range(.005, .2).Draw(t, "gap"),
		})
	}
	films[len(films)-1].Gap = 0
	s := onWater(films...)
	s.Foam.Conductivity = rapid.Float64Range(0, .1).Draw(t, "conductivity")
	s.Slope = rapid.Float64Range(0, 60).Draw(t, "slope")
	if err := s.Validate(); err != nil {
		t.Fatal(err)
	}
	return s
}

// What leaves the water crosses every region unchanged, and the layers' net
// radiation written out film by film agrees with the swept one.
func TestBalanceConserves(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawStack(t)
		water := rapid.Float64Range(-20, 180).Draw(t, "water")
		air := rapid.Float64Range(-30, 45).Draw(t, "air")
		sky := air - rapid.Float64Range(-5, 40).Draw(t, "colder sky")
		wind := rapid.Float64Range(0, 15).Draw(t, "wind")
		b := s.balance(waterEmittance, water, air, sky, wind)
		for region := range b.films {
			if d := math.Abs(b.through(region) - b.surface()); !(d < 1e-6) {
				t.Fatalf("region %d carries %g W/m² more than the water loses", region, d)
			}
		}
		if d := math.Abs(b.down[0] - black(sky)); d > 1e-9 {
			t.Fatalf("%g W/m² more falls on the top than the sky sends", d)
		}
		for i, c := range s.Clear[:len(s.Clear)-1] {
			emits := c.Emittance() * black(b.films[i])
			up := c.Transmittance*b.up[i+1] + c.Reflectance*b.down[i] + emits
			down := c.Transmittance*b.down[i] + c.Reflectance*b.up[i+1] + emits
			if math.Abs(up-b.up[i]) > 1e-8 || math.Abs(down-b.down[i+1]) > 1e-8 {
				t.Fatalf("film %d sends up %g and down %g, swept %g and %g", i, up, down, b.up[i], b.down[i+1])
			}
		}
	})
}

// Everything at one temperature is at rest; warmer water loses more; and a
// film warmer than the air loses more in wind.
func TestLossOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawStack(t)
		air := rapid.Float64Range(-20, 40).Draw(t, "air")
		if rest, _ := s.Loss(air, air, air, 3); math.Abs(rest) > 1e-9 {
			t.Fatalf("loss %g W/m² with all at %g °C", rest, air)
		}
		water := air + rapid.Float64Range(0, 100).Draw(t, "rise")
		wind := rapid.Float64Range(0, 10).Draw(t, "wind")
		loss, films := s.Loss(water, air, air-15, wind)
		if more, _ := s.Loss(water+1, air, air-15, wind); !(more > loss) {
			t.Fatalf("water 1 K warmer loses %g, not more than %g", more, loss)
		}
		if more, _ := s.Loss(water, air, air-15, wind+1); films[0] > air && more < loss-1e-9 {
			t.Fatalf("more wind over a film %g K above the air loses %g, less than %g", films[0]-air, more, loss)
		}
	})
}

func TestLongWaveLimits(t *testing.T) {
	const water, air, sky, wind = 60, 25, 8, 2
	clear := Clear{N: 1.5, Transmittance: 1}
	radiation := waterEmittance * (black(water) - black(sky))

	loss, _ := onWater(clear).Loss(water, air, sky, wind)
	near(t, "bare water", loss, 8.8*(water-air)+radiation, 1e-9)

	// Over an air gap a transparent film stops the wind but no radiation.
	loss, films := onWater(clear, clear).Loss(water, air, sky, wind)
	near(t, "transparent film over an air gap", loss, 8.8*(films[0]-air)+radiation, 1e-6)

	// A perfect mirror in the long wave leaves convection alone.
	mirror := Clear{N: 1.5, Reflectance: 1}
	loss, films = onWater(mirror, clear).Loss(water, air, sky, wind)
	near(t, "reflecting film", loss, 8.8*(films[0]-air), 1e-6)

	// Dry, the film lies on the black film instead of water.
	dry, _ := onWater(clear).DryLoss(water, air, sky, wind)
	near(t, "dry", dry, 8.8*(water-air)+0.95*(black(water)-black(sky)), 1e-9)

	// Foam adds its conductance and nothing else.
	s := onWater(clear)
	s.Foam.Conductivity = 0.035
	with, _ := s.Loss(water, air, sky, wind)
	without, _ := onWater(clear).Loss(water, air, sky, wind)
	near(t, "foam", with-without, 0.70*(water-air), 1e-9)
}

// A partly transparent film and what it lies on emit, at one temperature, what
// the film emits upwards and lets pass of the radiation between the two.
func TestFilmAndSurfaceEmitTogether(t *testing.T) {
	const under, passes, reflects = 0.6, 0.5, 0.1
	const emits, back = 1 - passes - reflects, 1 - under
	between := (under + back*emits) / (1 - reflects*back)
	s := onWater(Clear{N: 1.5, Transmittance: passes, Reflectance: reflects})
	near(t, "emittance", s.balance(under, 60, 25, 8, 2).emittance, emits+passes*between, 1e-12)
}

func BenchmarkLoss(b *testing.B) {
	s, err := layers("two films")
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		s.Loss(60, 25, 8, 2)
	}
}
