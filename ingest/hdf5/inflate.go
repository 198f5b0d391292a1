package hdf5

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"io"
	"sync"
)

// An inflater is a zlib reader that is used again.
type inflater struct {
	src bytes.Reader
	z   io.ReadCloser
}

var inflaters = sync.Pool{New: func() any { return new(inflater) }}

// inflate gives the size bytes, exactly, that src is the zlib stream of. Of
// large sizes, which may be damaged, it takes memory only as the stream fills it.
func inflate(src []byte, size int, get func(int) []byte, put func([]byte)) ([]byte, error) {
	f := inflaters.Get().(*inflater)
	defer inflaters.Put(f)
	f.src.Reset(src)
	defer f.src.Reset(nil)
	var err error
	if f.z == nil {
		f.z, err = zlib.NewReader(&f.src)
	} else {
		err = f.z.(zlib.Resetter).Reset(&f.src, nil)
	}
	if err != nil {
		f.z = nil
		return nil, err
	}
	dst := get(min(size, 32<<20))
	for done := 0; ; {
		n, err := io.ReadFull(f.z, dst[done:])
		if done += n; err != nil {
			return nil, fmt.Errorf("after %d of %d bytes: %w", done, size, err)
		}
		if done == size {
			break
		}
		more := get(min(size, 2*done))
		copy(more, dst)
		put(dst)
		dst = more
	}
	var more [1]byte // the end of the stream is where its checksum is verified
	if n, err := f.z.Read(more[:]); n > 0 {
		return nil, fmt.Errorf("more than %d bytes", size)
	} else if err != io.EOF {
		return nil, err
	}
	return dst, nil
}
