package kernel

import "math"

// A Warmth is what an hour weighs by its temperature, by the law of Arrhenius:
// 2^(A − B/T) at T kelvin.
type Warmth struct{ A, B float32 }

// NewWarmth gives exp(−(energy/gas)·(1/T − 1/reference)): energy in J/mol, the gas
// constant in J/(mol·K), the reference in K.
func NewWarmth(energy, gas, reference float64) *Warmth {
	b := energy / gas / math.Ln2
	return &Warmth{A: float32(b / reference), B: float32(b)}
}

// Most hours weigh within these powers of two; what lies beyond counts as they do.
const leastPower, mostPower = -126, 126

// At gives the weight of an hour at a temperature, °C, with a relative error
// under 2e-5 for energies up to 150 kJ/mol: of the power of two, whose
// difference is rounded, and 3e-6 of the polynomial of its fraction (coefficients of our own fit).
func (w *Warmth) At(c float32) float32 {
	y := w.A - w.B/(c+273.15)
	if !(y > leastPower) {
		y = leastPower
	}
	if !(y < mostPower) {
		y = mostPower
	}
	// Added, it leaves no room for a fraction.
	const whole = 3 << 22
	shifted := y + whole
	f := y - (shifted - whole)
	p := float32(f*0.00958285) + 0.05590643
	p = float32(p*f) + 0.24024099
	p = float32(p*f) + 0.69312419
	p = float32(p*f) + 1
	return math.Float32frombits(math.Float32bits(p) + math.Float32bits(shifted)<<23)
}

// Warm adds to sum what the hour that ends weighs by the temperatures it ends
// at, and counts it in freezing where water is in below 0 °C.
func (b *Bank) Warm(w *Warmth, sum, freezing []float32) {
	cold, ok := b.warmVector(w, sum)
	if !ok {
		cold = b.warmPlain(w, sum)
	}
	if !cold || b.out == len(b.T) {
		return
	}
	for i, t := range b.T {
		if t < 0 && !b.Out[i] {
			freezing[i]++
		}
	}
}

// warmPlain adds to sum, and says whether any lane is below 0 °C.
func (b *Bank) warmPlain(w *Warmth, sum []float32) (cold bool) {
	sum = sum[:len(b.T)]
	for i, t := range b.T {
		sum[i] += w.At(t)
		cold = cold || t < 0
	}
	return cold
}
