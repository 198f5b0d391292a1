package netcdf

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"math/bits"
)

// openClassic reads the header of a classic file and lays out its variables.
func (f *File) openClassic(r io.ReaderAt, size int64) error {
	end := min(size, maxHeader)
	h := &header{r: bufio.NewReaderSize(io.NewSectionReader(r, 0, end), 1<<16), end: end, size: size}
	streaming := h.read(f)
	if h.err != nil {
		return f.fault("", h.err)
	}
	return f.layOut(r, size, h.at, streaming)
}

// layOut gives each variable its strides, and checks that its data lie between
// the end of the header and the end of the file. Every offset that a read can
// form is then below size.
func (f *File) layOut(r io.ReaderAt, size, header int64, streaming bool) error {
	var record int64 // bytes from one record to the next
	var inRecord []*Var
	for _, v := range f.Vars {
		s := v.raw.(*slab)
		s.r, s.shape, s.stride = r, v.Shape(), make([]int64, len(v.Dims))
		s.bytes = s.size
		fits := true
		for i := len(v.Dims) - 1; i >= 0 && fits; i-- {
			s.stride[i] = s.bytes
			if i > 0 || !f.Dims[v.Dims[0]].Unlimited {
				s.bytes, fits = times(s.bytes, int64(s.shape[i]))
			}
		}
		if fits && len(v.Dims) > 0 && f.Dims[v.Dims[0]].Unlimited {
			inRecord = append(inRecord, v)
			record, fits = plus(record, s.bytes+(-s.bytes&3))
		}
		if !fits {
			return f.fault(v.Name, fmt.Errorf("%w: a variable of more bytes than can be counted", errDamaged))
		}
	}
	if len(inRecord) == 1 {
		record = inRecord[0].raw.(*slab).bytes // a lone record variable has no padding
	}
	if streaming {
		f.setRecords(inRecord, size, record)
	}
	for _, v := range inRecord {
		s := v.raw.(*slab)
		s.stride[0], s.shape[0] = record, f.Dims[v.Dims[0]].Len
		s.records = &s.shape[0]
	}
	for _, v := range f.Vars {
		if err := v.raw.(*slab).check(size, header); err != nil {
			return f.fault(v.Name, err)
		}
	}
	return nil
}

// setRecords sets the number of records to what the file holds whole.
func (f *File) setRecords(vars []*Var, size, record int64) {
	n := int64(math.MaxInt64)
	for _, v := range vars {
		s := v.raw.(*slab)
		whole := int64(0)
		if room := size - s.begin - s.bytes; s.begin >= 0 && s.begin <= size && room >= 0 {
			whole = room/record + 1
		}
		n = min(n, whole)
	}
	for _, v := range vars {
		f.Dims[v.Dims[0]].Len = int(n)
	}
}

var errDamaged = errors.New("damaged")

// A slab is the data of a classic variable, or its part of every record.
type slab struct {
	r      io.ReaderAt
	begin  int64   // offset in the file
	size   int64   // bytes of a value
	bytes  int64   // bytes of the variable, of a record variable those of one record
	shape  []int   // values a dimension
	stride []int64 // bytes from one index to the next, a dimension

	records *int // how many records, in shape; nil of a variable without
}

// check tells whether the data lie between the header and the end of the file.
func (s *slab) check(size, header int64) error {
	end, fits := s.bytes, true
	if s.records != nil {
		if *s.records == 0 {
			return nil // no data
		}
		end, fits = times(s.stride[0], int64(*s.records-1))
		if fits {
			end, fits = plus(end, s.bytes)
		}
	}
	if fits {
		end, fits = plus(end, s.begin)
	}
	switch {
	case s.begin < header:
		return fmt.Errorf("%w: its data begin at byte %d, before the header ends", errDamaged, s.begin)
	case !fits:
		return fmt.Errorf("truncated: its data would end beyond byte %d, the file ends at byte %d", int64(math.MaxInt64), size)
	case end > size:
		return fmt.Errorf("truncated: its data end at byte %d, the file ends at byte %d", end, size)
	}
	return nil
}

// Reading through a gap of less than a page costs nothing: the system reads
// pages anyway, and a call more costs a thousand bytes' time.
const (
	page  = 4096
	block = 1 << 16 // bytes at a time when gaps are read through
)

// read implements source.
func (s *slab) read(dst []byte, start, count []int) error {
	at := s.begin
	for i, n := range start {
		at += int64(n) * s.stride[i]
	}
	// What lies together is one run: the dimensions from outer on.
	run, outer := s.size, len(count)
	for outer > 0 && (count[outer-1] == 1 || s.stride[outer-1] == run) {
		outer--
		run *= int64(count[outer])
	}
	if err := s.walk(dst, at, run, count[:outer], s.stride); err != nil {
		return err
	}
	toHost(dst, int(s.size))
	return nil
}

// walk reads the runs of the dimensions counted, the first at offset at.
func (s *slab) walk(dst []byte, at, run int64, count []int, stride []int64) error {
	switch {
	case len(count) == 0:
		return s.readAt(dst, at)
	case len(count) == 1 && stride[0] <= page:
		return s.sieve(dst, at, run, count[0], stride[0])
	}
	part := len(dst) / count[0]
	for i := range count[0] {
		if err := s.walk(dst[i*part:(i+1)*part], at+int64(i)*stride[0], run, count[1:], stride[1:]); err != nil {
			return err
		}
	}
	return nil
}

// sieve reads n runs and the narrow gaps between them, and keeps the runs.
func (s *slab) sieve(dst []byte, at, run int64, n int, stride int64) error {
	most := int(block / stride)
	buf := make([]byte, int64(min(n, most))*stride)
	for i := 0; i < n; i += most {
		k := min(most, n-i)
		b := buf[:int64(k-1)*stride+run]
		if err := s.readAt(b, at+int64(i)*stride); err != nil {
			return err
		}
		for j := range int64(k) {
			copy(dst[(int64(i)+j)*run:][:run], b[j*stride:])
		}
	}
	return nil
}

func (s *slab) readAt(dst []byte, at int64) error {
	n, err := s.r.ReadAt(dst, at)
	if n == len(dst) {
		return nil
	}
	if err == nil || errors.Is(err, io.EOF) {
		return fmt.Errorf("truncated: the file ends before byte %d", at+int64(len(dst)))
	}
	return err
}

// times and plus compute with numbers that are not negative and tell whether
// the result can be held.
func times(a, b int64) (int64, bool) {
	hi, lo := bits.Mul64(uint64(a), uint64(b))
	return int64(lo), hi == 0 && lo <= math.MaxInt64
}

func plus(a, b int64) (int64, bool) {
	return a + b, a >= 0 && b >= 0 && a <= math.MaxInt64-b
}
