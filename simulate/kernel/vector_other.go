//go:build !amd64

package kernel

// Without assembly the plain loops do everything.

func (f *Field) lightVector([]float32, int, *Hour) bool { return false }

func (b *Bank) dryVector([]float32, *Line) bool { return false }

func (b *Bank) flowVector([]float32, *Regime, *Line) bool { return false }

func (b *Bank) morningVector([]float32, *Regime, bool, *Line) bool { return false }

func (b *Bank) warmVector(*Warmth, []float32) (cold, ok bool) { return false, false }

func (f *Fleet) flowVector([]float32, []*Line) bool { return false }
