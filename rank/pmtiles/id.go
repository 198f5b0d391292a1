package pmtiles

// MaxZoom is the deepest zoom whose tile ids fit an int64.
const MaxZoom = 31

// ID numbers the tile in column x, row y of zoom z: all tiles of lesser zooms
// come first, then those of its own along a Hilbert curve from the north-west
// corner to the north-east one. x and y count from there, both below 2^z; z is at
// most MaxZoom. Source: PMTiles specification 3, section 4.1.
func ID(z uint8, x, y uint32) uint64 {
	id := (uint64(1)<<(2*z) - 1) / 3
	for level := z; level > 0; level-- {
		side := uint32(1) << (level - 1)
		east, south := x&side != 0, y&side != 0
		var quarter uint64
		switch {
		case east && south:
			quarter = 2
		case south:
			quarter = 1
		case east:
			// The last quarter runs mirrored on the falling diagonal, so that
			// the curve ends at the border.
			quarter = 3
			x, y = ^y, ^x
		default:
			x, y = y, x // and the first on the rising one
		}
		id += quarter << (2 * (level - 1))
	}
	return id
}
