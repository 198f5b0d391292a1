package hdf5

// A box is a place in an array of a shape, where a part of it begins.
type box struct{ shape, at []int }

// walk goes through a part of count values of size bytes that lies in two
// arrays, in runs that are contiguous in both, and hands out the bytes where
// each run begins in a and in b, and its length.
func walk(a, b box, count []int, size int, run func(i, j, n int) error) error {
	rank := len(count)
	n, inner := size, rank // dimensions from inner on make up a run
	for inner > 0 {
		inner--
		n *= count[inner]
		if count[inner] != a.shape[inner] || count[inner] != b.shape[inner] {
			break
		}
	}
	i, stepsA := offset(a, size)
	j, stepsB := offset(b, size)
	at := make([]int, inner)
	for {
		if err := run(i, j, n); err != nil {
			return err
		}
		k := inner - 1
		for ; k >= 0; k-- {
			at[k]++
			i += stepsA[k]
			j += stepsB[k]
			if at[k] < count[k] {
				break
			}
			i -= at[k] * stepsA[k]
			j -= at[k] * stepsB[k]
			at[k] = 0
		}
		if k < 0 {
			return nil
		}
	}
}

// offset gives the byte where the part of a box begins and the bytes from one
// index to the next along each dimension.
func offset(b box, size int) (at int, steps []int) {
	steps = make([]int, len(b.shape))
	for i := len(steps) - 1; i >= 0; i-- {
		steps[i] = size
		at += b.at[i] * size
		size *= b.shape[i]
	}
	return at, steps
}

// copyBox copies a part of count values from one array to another.
func copyBox(dst []byte, to box, src []byte, from box, count []int, size int) {
	_ = walk(to, from, count, size, func(i, j, n int) error {
		copy(dst[i:i+n], src[j:j+n])
		return nil
	})
}
