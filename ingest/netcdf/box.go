package netcdf

// boxOf gives the shape of the boxes in which the hyperslab of count values of
// size bytes is read from chunks of the shape given: whole chunks, lest one be
// decoded twice, and of about a piece, lest the stored values be held beside all
// those unpacked.
func boxOf(count, chunk []int, size int) []int {
	box := append([]int(nil), count...)
	for d := range box {
		rest := size // bytes of the box for one index of d
		for e, n := range box {
			if e != d {
				rest *= n
			}
		}
		most := piece / rest
		if box[d] <= most {
			break
		}
		box[d] = min(box[d], max(1, most/chunk[d])*chunk[d])
		if most >= chunk[d] {
			break
		}
	}
	return box
}

// readBoxes reads a hyperslab of a variable in chunks.
func readBoxes[F float32 | float64](v *Var, dst []F, start, count []int, u *unpacking) error {
	box := boxOf(count, v.Chunk, int(u.stored.size()))
	n := 1
	for _, k := range box {
		n *= k
	}
	buf := make([]F, n)
	from, part, at := make([]int, len(count)), make([]int, len(count)), make([]int, len(count))
	var walk func(d int) error
	walk = func(d int) error {
		if d < len(count) {
			for at[d] = 0; at[d] < count[d]; at[d] += part[d] {
				from[d] = start[d] + at[d]
				part[d] = count[d]
				if box[d] < count[d] {
					part[d] = min(box[d]-from[d]%v.Chunk[d], count[d]-at[d]) // a box ends where a chunk does
				}
				if err := walk(d + 1); err != nil {
					return err
				}
			}
			return nil
		}
		n := 1
		for _, k := range part {
			n *= k
		}
		if err := readPiece(v, buf[:n], from, part, u); err != nil {
			return err
		}
		spread(dst, buf[:n], count, part, at)
		return nil
	}
	return walk(0)
}

// spread puts the values of a box of the shape part into one of the shape full,
// from the place at on.
func spread[F any](dst, src []F, full, part, at []int) {
	if len(full) == 1 {
		copy(dst[at[0]:], src[:part[0]])
		return
	}
	to, from := len(dst)/full[0], len(src)/part[0]
	for i := range part[0] {
		spread(dst[(at[0]+i)*to:(at[0]+i+1)*to], src[i*from:(i+1)*from], full[1:], part[1:], at[1:])
	}
}
