package shade

import (
	"image/color"
	"math"
	"testing"
)

// Classes leave no gap, and parity parts blue from amber.
func TestOf(t *testing.T) {
	list := Classes()
	for i, c := range list {
		if i > 0 && c.From != list[i-1].To {
			t.Errorf("class %d begins at %g, the one before ends at %g", i, c.From, list[i-1].To)
		}
		if got := Of(c.From); got != i {
			t.Errorf("ratio %g is in class %d, want %d", c.From, got, i)
		}
		if BeatsGas(i) != (c.To <= 1) {
			t.Errorf("class %d to %g: beats gas %v", i, c.To, BeatsGas(i))
		}
	}
	for ratio, want := range map[float64]int{-1: 0, 0.9999: 3, 1: 4, 1e9: len(list) - 1, math.Inf(1): len(list) - 1} {
		if got := Of(ratio); got != want {
			t.Errorf("ratio %g is in class %d, want %d", ratio, got, want)
		}
	}
	if Of(math.NaN()) != -1 {
		t.Error("no heat has a class")
	}
}

// linear gives light of red, green and blue out of an sRGB colour
// (IEC 61966-2-1).
func linear(c color.NRGBA) (v [3]float64) {
	for i, b := range []uint8{c.R, c.G, c.B} {
		s := float64(b) / 255
		if s <= 0.04045 {
			v[i] = s / 12.92
		} else {
			v[i] = math.Pow((s+0.055)/1.055, 2.4)
		}
	}
	return v
}

// lab gives CIE 1976 L*a*b* under D65 of linear sRGB light.
func lab(v [3]float64) (l [3]float64) {
	xyz := [3]float64{
		(0.4124*v[0] + 0.3576*v[1] + 0.1805*v[2]) / 0.9505,
		0.2126*v[0] + 0.7152*v[1] + 0.0722*v[2],
		(0.0193*v[0] + 0.1192*v[1] + 0.9505*v[2]) / 1.089,
	}
	f := func(t float64) float64 {
		if t > 216./24389 {
			return math.Cbrt(t)
		}
		return (24389./27*t + 16) / 116
	}
	return [3]float64{116*f(xyz[1]) - 16, 500 * (f(xyz[0]) - f(xyz[1])), 200 * (f(xyz[1]) - f(xyz[2]))}
}

// eyes are what people see who lack one kind of cone, as matrices on linear
// sRGB: Machado, Oliveira and Fernandes, "A physiologically-based model for
// simulation of color vision deficiency", IEEE TVCG 15 (2009), severity 1.0;
// the coefficients are from memory. The last sees no colours at all.
var eyes = map[string][3][3]float64{
	"all cones":    {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
	"protanopia":   {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}},
	"deuteranopia": {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}},
	"tritanopia":   {{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}},
	"grey print":   {{0.2126, 0.7152, 0.0722}, {0.2126, 0.7152, 0.0722}, {0.2126, 0.7152, 0.0722}},
}

// For every eye, and in grey print, all classes differ from one another by more
// than five of L*a*b*, some twice what is just noticed side by side, and grow
// lighter from the cheapest to the dearest.
func TestForEveryEye(t *testing.T) {
	list := Classes()
	for name, m := range eyes {
		seen := make([][3]float64, len(list))
		for i, c := range list {
			v, light := linear(c.Colour), [3]float64{}
			for r := range m {
				for k := range v {
					light[r] += m[r][k] * v[k]
				}
				light[r] = min(max(light[r], 0), 1)
			}
			seen[i] = lab(light)
			if i > 0 && seen[i][0] < seen[i-1][0]+4 {
				t.Errorf("%s: class %d has lightness %.1f, the one before %.1f", name, i, seen[i][0], seen[i-1][0])
			}
		}
		if last := seen[len(seen)-1]; name == "all cones" && math.Hypot(last[1], last[2]) < 40 {
			t.Errorf("the dearest has a chroma of %.0f, near that of paper", math.Hypot(last[1], last[2]))
		}
		for i := range seen {
			for k := range i {
				far := math.Hypot(math.Hypot(seen[i][0]-seen[k][0], seen[i][1]-seen[k][1]), seen[i][2]-seen[k][2])
				if far < 5 {
					t.Errorf("%s: classes %d and %d are %.1f apart", name, k, i, far)
				}
			}
		}
	}
}
