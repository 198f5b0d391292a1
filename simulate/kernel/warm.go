package kernel

// A Warmth is what an hour weighs by temperature: entry i at WarmthFrom +
// i/WarmthSteps °C; what lies between counts as the nearest, what lies beyond
// as the last.
type Warmth [1201]float32

// The temperatures of a Warmth.
const (
	WarmthFrom  = -100 // °C
	WarmthSteps = 4    // per K
)

// At gives the weight of an hour at a temperature, °C.
func (w *Warmth) At(c float32) float32 {
	x := float32((c-WarmthFrom)*WarmthSteps) + 0.5
	if !(x > 0) {
		x = 0
	}
	if !(x < float32(len(w)-1)) {
		x = float32(len(w) - 1)
	}
	return w[int(x)]
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
