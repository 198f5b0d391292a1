package netcdf

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"sync/atomic"
	"testing"
)

// A cdf is a classic file to be written byte by byte as the format
// specifications say, independent of the reader.
type cdf struct {
	version byte // 1, 2 or 5
	records int
	dims    []cdfDim
	attrs   []cdfAttr
	vars    []cdfVar

	streaming bool // the number of records is left out
}

type cdfDim struct {
	name string
	n    int // 0 for the record dimension
}

// A cdfAttr is text, or numbers of an external type.
type cdfAttr struct {
	name    string
	text    string
	typ     uint32
	numbers []float64
}

// A cdfVar has its values record after record.
type cdfVar struct {
	name   string
	typ    uint32
	dims   []int
	attrs  []cdfAttr
	values []float64
}

// The numbers of the external types: CDF-5 file format specification, nc_type.
const (
	ncByte = 1 + iota
	ncChar
	ncShort
	ncInt
	ncFloat
	ncDouble
	ncUbyte
	ncUshort
	ncUint
	ncInt64
	ncUint64
)

var ncSize = map[uint32]int{1: 1, 2: 1, 3: 2, 4: 4, 5: 4, 6: 8, 7: 1, 8: 2, 9: 4, 10: 8, 11: 8}

// external encodes values big-endian.
func external(typ uint32, values ...float64) []byte {
	var b []byte
	be := binary.BigEndian
	for _, x := range values {
		switch typ {
		case ncByte:
			b = append(b, byte(int8(x)))
		case ncChar, ncUbyte:
			b = append(b, byte(x))
		case ncShort:
			b = be.AppendUint16(b, uint16(int16(x)))
		case ncUshort:
			b = be.AppendUint16(b, uint16(x))
		case ncInt:
			b = be.AppendUint32(b, uint32(int32(x)))
		case ncUint:
			b = be.AppendUint32(b, uint32(x))
		case ncInt64:
			b = be.AppendUint64(b, uint64(int64(x)))
		case ncUint64:
			b = be.AppendUint64(b, uint64(x))
		case ncFloat:
			b = be.AppendUint32(b, math.Float32bits(float32(x)))
		case ncDouble:
			b = be.AppendUint64(b, math.Float64bits(x))
		}
	}
	return b
}

func padded(b []byte) []byte {
	for len(b)%4 != 0 {
		b = append(b, 0)
	}
	return b
}

// bytes writes the file.
func (c *cdf) bytes() []byte {
	head := c.header(make([]int, len(c.vars)))
	var data []byte
	begins := make([]int, len(c.vars))
	inRecord := 0
	for i, v := range c.vars {
		if c.isRecord(v) {
			inRecord++
			continue
		}
		begins[i] = len(head) + len(data)
		data = padded(append(data, external(v.typ, v.values...)...))
	}
	for rec := range c.records {
		for i, v := range c.vars {
			if !c.isRecord(v) {
				continue
			}
			if rec == 0 {
				begins[i] = len(head) + len(data)
			}
			n := len(v.values) / c.records
			data = append(data, external(v.typ, v.values[rec*n:(rec+1)*n]...)...)
			if inRecord > 1 {
				data = padded(data)
			}
		}
	}
	return append(c.header(begins), data...)
}

func (c *cdf) isRecord(v cdfVar) bool { return len(v.dims) > 0 && c.dims[v.dims[0]].n == 0 }

func (c *cdf) header(begins []int) []byte {
	b := []byte{'C', 'D', 'F', c.version}
	be := binary.BigEndian
	u32 := func(n int) { b = be.AppendUint32(b, uint32(n)) }
	length := func(n int) {
		if c.version == 5 {
			b = be.AppendUint64(b, uint64(n))
		} else {
			u32(n)
		}
	}
	list := func(tag, n int) {
		if n == 0 {
			tag = 0
		}
		u32(tag)
		length(n)
	}
	name := func(s string) {
		length(len(s))
		b = padded(append(b, s...))
	}
	attrs := func(l []cdfAttr) {
		list(0x0C, len(l))
		for _, a := range l {
			name(a.name)
			if a.typ == 0 {
				u32(ncChar)
				name(a.text)
				continue
			}
			u32(int(a.typ))
			length(len(a.numbers))
			b = padded(append(b, external(a.typ, a.numbers...)...))
		}
	}
	if c.streaming {
		length(-1)
	} else {
		length(c.records)
	}
	list(0x0A, len(c.dims))
	for _, d := range c.dims {
		name(d.name)
		length(d.n)
	}
	attrs(c.attrs)
	list(0x0B, len(c.vars))
	for i, v := range c.vars {
		name(v.name)
		length(len(v.dims))
		size := ncSize[v.typ]
		for _, d := range v.dims {
			length(d)
			size *= max(1, c.dims[d].n)
		}
		attrs(v.attrs)
		u32(int(v.typ))
		length((size + 3) / 4 * 4)
		if c.version == 1 {
			u32(begins[i])
		} else {
			b = be.AppendUint64(b, uint64(begins[i]))
		}
	}
	return b
}

// counted counts the calls and the bytes read through it.
type counted struct {
	io.ReaderAt
	calls, bytes atomic.Int64
}

func (c *counted) ReadAt(b []byte, at int64) (int, error) {
	c.calls.Add(1)
	c.bytes.Add(int64(len(b)))
	return c.ReaderAt.ReadAt(b, at)
}

func open(t testing.TB, b []byte) *File {
	t.Helper()
	f, err := Open(bytes.NewReader(b), int64(len(b)), "made.nc")
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// all reads a whole variable, and checks that ReadFloat32 gives the same.
func all(t testing.TB, v *Var) []float64 {
	t.Helper()
	shape := v.Shape()
	n := 1
	for _, k := range shape {
		n *= k
	}
	dst, single := make([]float64, n), make([]float32, n)
	if err := v.Read(dst, make([]int, len(shape)), shape); err != nil {
		t.Fatal(err)
	}
	if err := v.ReadFloat32(single, make([]int, len(shape)), shape); err != nil {
		t.Fatal(err)
	}
	for i, x := range dst {
		if want := float32(x); single[i] != want && !(single[i] != single[i] && want != want) {
			t.Fatalf("%s: value %d is %v as float32, %v as float64", v.Name, i, single[i], x)
		}
	}
	return dst
}

// same compares values exactly, NaN being equal to NaN.
func same(got, want []float64) error {
	if len(got) != len(want) {
		return fmt.Errorf("%d values, want %d", len(got), len(want))
	}
	for i, x := range got {
		if x != want[i] && !(math.IsNaN(x) && math.IsNaN(want[i])) {
			return fmt.Errorf("value %d is %v, want %v", i, x, want[i])
		}
	}
	return nil
}

func upTo(n int) []float64 {
	list := make([]float64, n)
	for i := range list {
		list[i] = float64(i)
	}
	return list
}
