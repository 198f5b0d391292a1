// Package shade colours places by how the cost of their heat compares with
// gas. The turning point of the scale is parity: cheaper heat is blue, dearer
// amber, and it grows lighter all the way from the cheapest to the dearest, so
// that the order also shows in grey print and to eyes that see few colours. Even
// the dearest is a colour, not to be taken for bare paper.
package shade

import (
	"image/color"
	"math"
)

// A Class is a range of LCOH over the cost of heat from gas, from included.
type Class struct {
	From, To float64 // To is +Inf in the last class
	Colour   color.NRGBA
}

// parity is the index of the first class that gas beats.
const parity = 4

// Classes are all ranges from the cheapest to the dearest, without gaps.
func Classes() []Class {
	return []Class{
		{0, 0.25, rgb(0x0a2350)},
		{0.25, 0.5, rgb(0x1a4588)},
		{0.5, 0.75, rgb(0x3070b4)},
		{0.75, 1, rgb(0x528fca)},
		{1, 1.5, rgb(0xe8a32c)},
		{1.5, 2.5, rgb(0xf4bf4a)},
		{2.5, math.Inf(1), rgb(0xfcdd7e)},
	}
}

// Of is the index of the class of a ratio, -1 for NaN, where there is no heat.
// A negative ratio, of heat that pays for itself, is in the first.
func Of(ratio float64) int {
	if math.IsNaN(ratio) {
		return -1
	}
	list := Classes()
	for i := range list {
		if ratio < list[i].To {
			return i
		}
	}
	return len(list) - 1
}

// BeatsGas tells whether class i lies below parity.
func BeatsGas(i int) bool { return i >= 0 && i < parity }

// Without is the colour of a place where no design has heat; hatch it where
// the medium can.
func Without() color.NRGBA { return rgb(0xd9d9d9) }

func rgb(v uint32) color.NRGBA {
	return color.NRGBA{R: uint8(v >> 16), G: uint8(v >> 8), B: uint8(v), A: 255}
}
