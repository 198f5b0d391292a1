package kernel

import "math"

// tiny is the smallest temperature difference that counts as one, K; it keeps
// logRatio off denormal numbers.
const tiny = 1e-9

// logRatio gives ln(a/b) = num/den, den > 0, for normal a ≥ b > 0 of which diff
// is the difference a − b, with a relative error under 4e-7 also where that is
// small: b is first scaled by a power of two, 2^k, so that a/b lies between 2/3 and
// 3/2, and ln(a/b) = k·ln 2 + 2·artanh(z) with z = (a−b)/(a+b), at most 1/5, where
// artanh(z) = z·(1 + p·z²)/(1 + q·z²) to 6e-8, the least a form so short can
// do (coefficients of our own fit). That nothing has been divided yet spares
// callers that divide by the logarithm a division.
func logRatio(diff, a, b float32) (num, den float32) {
	const p, q = -0.27057586, -0.60389279
	// The bits of a number, read as an integer, are its logarithm to base 2 in
	// steps of 2^-23, to a tenth.
	k := (int32(math.Float32bits(a)) - int32(math.Float32bits(b)) + 1<<22) &^ (1<<23 - 1)
	scaled := math.Float32frombits(uint32(int32(math.Float32bits(b)) + k))
	n, m := diff+(b-scaled), a+scaled
	nn, mm := float32(n*n), float32(m*m)
	num, den = float32((n+n)*(mm+float32(p*nn))), float32(m*(mm+float32(q*nn)))
	return num + float32(float32(float32(k)*(math.Ln2/(1<<23)))*den), den
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
