package kernel

import "math"

// tiny is the smallest temperature difference that counts as one, K; it keeps
// lnRatio off denormal numbers.
const tiny = 1e-9

// lnRatio gives ln(a/b) for normal a ≥ b > 0, with a relative error under 3e-7
// also where a is close to b: ln(a/b) = 2·artanh((a−b)/(a+b)) by its series,
// where b, unless it is at least a/2 already, is first scaled by a power of two
// so that the argument is at most 1/3.
func lnRatio(a, b float32) float32 {
	k := int32(math.Float32bits(a)>>23) - int32(math.Float32bits(b)>>23)
	// k is 0 unless a − b > b, which the sign tells without a branch; a/b beyond
	// 2^126 does not occur between temperatures.
	k = min(k, 126) & (int32(math.Float32bits(b-(a-b))) >> 31)
	b = float32(b * math.Float32frombits(uint32(k+127)<<23))
	z := (a - b) / (a + b)
	y := float32(z * z)
	p := float32(1.0 / 13)
	p = float32(p*y) + 1.0/11
	p = float32(p*y) + 1.0/9
	p = float32(p*y) + 1.0/7
	p = float32(p*y) + 1.0/5
	p = float32(p*y) + 1.0/3
	p = float32(p*y) + 1
	return float32(float32(k)*math.Ln2) + float32(2*z*p)
}

// expNeg gives exp(−x) for x ≥ 0 with a relative error under 3e-7; +Inf gives
// 0.
func expNeg(x float32) float32 {
	if !(x < 87) {
		return 0
	}
	// −x = n·ln 2 + r, |r| ≤ ln 2/2, with ln 2 in two parts (Cody and Waite).
	n := float32(math.Round(float64(float32(-x * math.Log2E))))
	r := (-x - float32(n*0.693359375)) + float32(n*2.12194440e-4)
	p := float32(1.0 / 720)
	p = float32(p*r) + 1.0/120
	p = float32(p*r) + 1.0/24
	p = float32(p*r) + 1.0/6
	p = float32(p*r) + 0.5
	p = float32(p*r) + 1
	p = float32(p*r) + 1
	return float32(p * math.Float32frombits(uint32(int32(n)+127)<<23))
}
