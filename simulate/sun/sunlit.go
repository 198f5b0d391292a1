package sun

import "math"

// halfHour is the hour angle the sun runs through in half an hour.
const halfHour = 15 * float64(Degree) / 2

// Sunlit appends to dst the directions to the sun at the midpoints of n equal
// parts of the sunlit part of the hour that starts at the Julian date jd (UT),
// and gives the sunlit fraction of that hour, 0…1, and the ephemeris at mid
// hour. Sunlit means altitude of the sun's centre above 0, unrefracted. With
// the sun down all hour nothing is appended.
//
// Declination moves by under 0.017° in an hour: within the hour it is that of
// the middle, and the hour angle runs evenly.
func (p Place) Sunlit(dst []Vector, jd float64, n int) (samples []Vector, fraction float64, mid Ephemeris) {
	return p.sunlit(dst, At(jd+0.5/24), n)
}

// sunlit is Sunlit by the ephemeris at mid hour.
func (p Place) sunlit(dst []Vector, mid Ephemeris, n int) ([]Vector, float64, Ephemeris) {
	const half = halfHour
	w := float64(p.HourAngle(mid))
	up := p.sunlitHalfDay(mid)
	if up <= 0 {
		return dst, 0, mid
	}
	// The sunlit arc is [−up, up]; near midnight an hour can touch it on both
	// sides, so it is looked at one turn earlier and later too.
	var parts [3][2]float64
	var total float64
	k := 0
	if up >= math.Pi {
		parts[0] = [2]float64{w - half, w + half}
		total, k = 2*half, 1
	} else {
		for turn := -1; turn <= 1; turn++ {
			c := 2 * math.Pi * float64(turn)
			lo, hi := max(w-half, c-up), min(w+half, c+up)
			if hi > lo {
				parts[k] = [2]float64{lo, hi}
				total += hi - lo
				k++
			}
		}
	}
	if total <= 0 {
		return dst, 0, mid
	}
	i, before := 0, 0.0
	for j := range n {
		at := (float64(j) + 0.5) / float64(n) * total
		for i < k-1 && at > before+parts[i][1]-parts[i][0] {
			before += parts[i][1] - parts[i][0]
			i++
		}
		dst = append(dst, p.Vector(mid, Angle(parts[i][0]+at-before)))
	}
	return dst, total / (2 * half), mid
}

// sunlitHalfDay gives the hour angle of sunset, 0 for polar night and π or
// more for midnight sun.
func (p Place) sunlitHalfDay(e Ephemeris) float64 {
	sinD, cosD := math.Sincos(float64(e.Declination))
	a, b := parallax/e.Distance-sinD*p.sinLat, cosD*p.cosLat
	switch {
	case a >= b:
		return 0
	case a <= -b:
		return math.Pi
	}
	return math.Acos(a / b)
}
