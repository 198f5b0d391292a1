package sun

import (
	"math"
	"testing"
)

// at gives the profile angle for an east-west row and the altitude, degrees.
func at(lat, dec, hourAngle float64) (profile, altitude float64) {
	p := NewPlace(Angle(lat)*Degree, 0)
	v := p.Vector(Ephemeris{Declination: Angle(dec) * Degree, Distance: math.Inf(1)}, Angle(hourAngle)*Degree)
	sx, _, sz := v.Row(0)
	return Profile(sx, sz).Degrees(), v.Altitude().Degrees()
}

// Zenith angles: Duffie and Beckman 2013, examples 1.6.2 (declinations by
// Cooper 1969). Profile angles: eq. 1.6.12, worked for 40° N.
func TestHandbookAngles(t *testing.T) {
	for _, tt := range []struct{ lat, dec, w, profile, altitude float64 }{
		{43, -14, -37.5, math.NaN(), 90 - 66.547},
		{43, 23.12, 97.5, math.NaN(), 90 - 79.644},
		{40, -23.45, 0, 26.550, 26.55},
		{40, -23.45, 30, 23.395, math.NaN()},
		{40, -23.45, 45, 18.473, math.NaN()},
		{40, -23.45, 60, 9.057, math.NaN()},
		{40, 23.45, 0, 73.45, 73.45},
		{40, 23.45, 45, 81.527, math.NaN()},
		{40, 23.45, 75, 109.177, math.NaN()},
		{40, 23.45, 90, 140, math.NaN()},
	} {
		profile, altitude := at(tt.lat, tt.dec, tt.w)
		if math.Abs(profile-tt.profile) > .002 || math.Abs(altitude-tt.altitude) > .06 {
			t.Errorf("lat %g dec %g ω %g: profile %.3f altitude %.3f, want %.3f and %.3f", tt.lat, tt.dec, tt.w, profile, altitude, tt.profile, tt.altitude)
		}
	}
	// Exactly, at the equinox: 90° − |latitude| at every hour of the day.
	for _, lat := range []float64{-60, -35, 0, 12, 48} {
		for w := -85.0; w <= 85; w += 10 {
			if got, _ := at(lat, 0, w); math.Abs(got-(90-math.Abs(lat))) > 1e-9 {
				t.Errorf("equinox, lat %g ω %g: profile %.6f, want %g", lat, w, got, 90-math.Abs(lat))
			}
		}
	}
	// The southern hemisphere is the northern one in its mirror.
	for w := -170.0; w < 180; w += 20 {
		n, an := at(35, 20, w)
		s, as := at(-35, -20, w)
		if math.Abs(n-s) > 1e-9 || math.Abs(an-as) > 1e-9 {
			t.Errorf("ω %g: profile %g in the north, %g in the south", w, n, s)
		}
	}
}

// almanac is an independent position: the Astronomical Almanac's low-precision
// formulae (0.01° from 1950 to 2050), as given by Michalsky 1988, Solar Energy
// 40, 227–235; from memory of that paper.
func almanac(jd float64) (ra, dec, gmst float64) {
	n := jd - 2451545
	l := math.Mod(280.460+.9856474*n, 360)
	g := math.Mod(357.528+.9856003*n, 360) * math.Pi / 180
	lambda := (l + 1.915*math.Sin(g) + .020*math.Sin(2*g)) * math.Pi / 180
	eps := (23.439 - .0000004*n) * math.Pi / 180
	ra = math.Atan2(math.Cos(eps)*math.Sin(lambda), math.Cos(lambda))
	dec = math.Asin(math.Sin(eps) * math.Sin(lambda))
	day := math.Floor(n-.5) + .5
	gmst = (6.697375 + .0657098242*n + (n-day)*24) * 15 * math.Pi / 180
	return ra, dec, gmst
}

// Altitude, and azimuth times cosine of the altitude, within 0.02° of the
// almanac's formulae from 1950 to 2050.
func TestAgainstAlmanac(t *testing.T) {
	holdPositions(t, JulianDate(1950, 1, 1, 0), 9.1307, func(jd, lat, lon float64) (altitude, azimuth float64) {
		ra, dec, gmst := almanac(jd)
		w := gmst + lon*math.Pi/180 - ra
		sinP, cosP := math.Sincos(lat * math.Pi / 180)
		up := math.Sin(dec)*sinP + math.Cos(dec)*cosP*math.Cos(w) - parallax
		east := -math.Cos(dec) * math.Sin(w)
		north := math.Sin(dec)*cosP - math.Cos(dec)*sinP*math.Cos(w)
		return math.Atan2(up, math.Hypot(east, north)) * 180 / math.Pi, math.Atan2(east, north) * 180 / math.Pi
	})
}

// holdPositions compares 4000 positions, a step of days apart and all over the
// earth, with another computation: altitude, and azimuth times cosine of the
// altitude, in degrees.
func holdPositions(t *testing.T, from, step float64, other func(jd, lat, lon float64) (altitude, azimuth float64)) {
	t.Helper()
	worst := 0.0
	for i := range 4000 {
		jd := from + float64(i)*step
		lat := -88 + math.Mod(float64(i)*11.3, 176)
		lon := -180 + math.Mod(float64(i)*17.9, 360)
		altitude, azimuth := other(jd, lat, lon)
		p := NewPlace(Angle(lat)*Degree, Angle(lon)*Degree)
		v := p.Sun(jd)
		dA := math.Abs(v.Altitude().Degrees() - altitude)
		dZ := math.Abs(math.Remainder(p.Azimuth(v).Degrees()-azimuth, 360)) * math.Cos(altitude*math.Pi/180)
		worst = max(worst, dA, dZ)
	}
	t.Logf("largest deviation %.4f°", worst)
	if worst > altTolerance {
		t.Errorf("deviation %.4f°, want at most %g°", worst, altTolerance)
	}
}

// Sunlit parts of hours: polar night and midnight sun, a sunrise within an hour
// against its own altitude, and an hour near midnight that the sun leaves and
// enters again.
func TestSunlit(t *testing.T) {
	lit := func(lat float64, month, day int, hour float64) ([]Vector, float64) {
		p := NewPlace(Angle(lat)*Degree, 0)
		v, f, _ := p.Sunlit(nil, JulianDate(2021, month, day, hour), 4)
		return v, f
	}
	if v, f := lit(75, 12, 21, 12); f != 0 || len(v) != 0 {
		t.Errorf("polar night: sunlit %g", f)
	}
	if v, f := lit(75, 6, 21, 0); f != 1 || len(v) != 4 {
		t.Errorf("midnight sun: sunlit %g", f)
	}
	if _, f := lit(0, 3, 20, 12); f != 1 {
		t.Errorf("equator at noon: sunlit %g", f)
	}
	for month := 1; month <= 12; month++ {
		for _, lat := range []float64{-66, -40, 0, 23, 51, 66} {
			p := NewPlace(Angle(lat)*Degree, 0)
			for hour := range 24 {
				v, f := lit(lat, month, 15, float64(hour))
				minutes := 0
				for m := range 600 {
					if p.Sun(JulianDate(2021, month, 15, float64(hour)+(float64(m)+.5)/600)).Up > 0 {
						minutes++
					}
				}
				if math.Abs(f-float64(minutes)/600) > .006 {
					t.Errorf("lat %g month %d hour %d: sunlit %.4f, counted %.4f", lat, month, hour, f, float64(minutes)/600)
				}
				for _, s := range v {
					if s.Up <= 0 {
						t.Errorf("lat %g month %d hour %d: an instant with the sun down", lat, month, hour)
					}
				}
			}
		}
	}
	// At 66.5° N in June the sun dips under the horizon for a few minutes
	// about midnight: one hour, two sunlit pieces.
	found := false
	for day := 1; day <= 25; day++ {
		if v, f := lit(66.5, 6, day, -.5); f > .2 && f < .98 && len(v) == 4 && v[0].West*v[3].West < 0 {
			found = true
		}
	}
	if !found {
		t.Error("no hour with the sun leaving and entering again was found")
	}
}
