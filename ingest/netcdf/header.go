package netcdf

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"strings"
)

// The tags of the lists in a classic header.
const (
	tagDimension = 0x0A
	tagVariable  = 0x0B
	tagAttribute = 0x0C
)

// Limits that no honest file comes near. They bound what a damaged header can
// make us allocate: the structure in memory is a small multiple of the header.
const (
	maxHeader = 16 << 20 // bytes
	maxRank   = 1024     // dimensions of a variable, as the C library has it
)

// classicTypes are the types by their number in a classic header, from 1; those
// from 7 on are of CDF-5 only.
var classicTypes = [...]Type{Int8, Char, Int16, Int32, Float32, Float64, Uint8, Uint16, Uint32, Int64, Uint64}

// A header reads the items of a classic header one after another. The first
// error stays in err, and everything read after it is zero.
//
// Source: NetCDF Classic Format Specification (CDF-1, CDF-2), Unidata, also
// OGC 10-092r3; CDF-5 File Format Specification, PnetCDF.
type header struct {
	r       *bufio.Reader
	at, end int64 // offset in the file, and where the file or the limit ends
	size    int64 // of the file
	version byte
	err     error
}

func (h *header) fail(format string, args ...any) {
	if h.err == nil {
		h.err = fmt.Errorf(format, args...)
	}
}

// cut records that the header goes on beyond the end.
func (h *header) cut() {
	if h.end < h.size {
		h.fail("the header is longer than %d MiB; the file is damaged", maxHeader>>20)
		return
	}
	h.fail("truncated: the file ends at byte %d, inside its header", h.size)
}

// bytes reads n bytes, to be called with an n that the file can hold.
func (h *header) bytes(n int64) []byte {
	if h.err != nil {
		return nil
	}
	if n > h.end-h.at {
		h.cut()
		return nil
	}
	b := make([]byte, n)
	if _, err := io.ReadFull(h.r, b); err != nil {
		h.fail("header: %w", err)
		return nil
	}
	h.at += n
	return b
}

func (h *header) u32() uint32 {
	if b := h.bytes(4); b != nil {
		return binary.BigEndian.Uint32(b)
	}
	return 0
}

func (h *header) u64() uint64 {
	if b := h.bytes(8); b != nil {
		return binary.BigEndian.Uint64(b)
	}
	return 0
}

// length reads a number that is not negative: 4 bytes, in CDF-5 8.
func (h *header) length(what string) int64 {
	var n int64
	if h.version == 5 {
		n = int64(h.u64())
	} else {
		n = int64(int32(h.u32()))
	}
	if n < 0 {
		h.fail("the %s before byte %d is negative; the file is damaged", what, h.at)
		return 0
	}
	return n
}

// count reads how many items follow, each of at least least bytes.
func (h *header) count(what string, least int64) int {
	n := h.length("number of " + what)
	if h.err == nil && n > (h.end-h.at)/least {
		h.fail("%d %s do not fit in the rest of the header; the file is damaged or truncated", n, what)
	}
	if h.err != nil {
		return 0
	}
	return int(n)
}

// skipPadding skips what fills n bytes up to a multiple of 4.
func (h *header) skipPadding(n int64) { h.bytes(-n & 3) }

func (h *header) name() string {
	n := int64(h.count("bytes of a name", 1))
	b := h.bytes(n)
	h.skipPadding(n)
	s := string(b)
	if h.err == nil && (s == "" || strings.ContainsFunc(s, func(r rune) bool { return r < ' ' || r == 0x7f })) {
		h.fail("%q before byte %d is not a name; the file is damaged", short(s), h.at)
	}
	return s
}

// short gives the start of a text that may be of any length.
func short(s string) string {
	const most = 60
	if len(s) > most {
		return s[:most] + "…"
	}
	return s
}

// list reads the head of a list and gives its length.
func (h *header) list(tag uint32, what string, least int64) int {
	got := h.u32()
	n := h.count(what, least)
	if h.err == nil && got != tag && (got != 0 || n != 0) {
		h.fail("byte %d has no list of %s; the file is damaged", h.at, what)
		return 0
	}
	return n
}

func (h *header) typ() Type {
	n := int(h.u32())
	last := len(classicTypes)
	if h.version != 5 {
		last = 6
	}
	if h.err == nil && (n < 1 || n > last) {
		h.fail("type %d before byte %d is unknown; the file is damaged", n, h.at)
	}
	if h.err != nil {
		return Int8
	}
	return classicTypes[n-1]
}

// word is the size of a length in the file.
func (h *header) word() int64 {
	if h.version == 5 {
		return 8
	}
	return 4
}

func (h *header) attrs() []Attr {
	var list []Attr
	for range h.list(tagAttribute, "attributes", 2*h.word()+4) {
		a := Attr{Name: h.name()}
		t := h.typ()
		n := h.count("values of attribute "+short(a.Name), t.size())
		b := h.bytes(int64(n) * t.size())
		h.skipPadding(int64(n) * t.size())
		if h.err != nil {
			return nil
		}
		if t == Char {
			a.Text = strings.TrimRight(string(b), "\x00")
		} else {
			a.Numbers = make([]float64, n)
			toHost(b, int(t.size()))
			decode(a.Numbers, b, t)
		}
		list = append(list, a)
	}
	return list
}

// read reads the whole header into f; streaming tells that the file leaves it to
// its size how many records there are.
func (h *header) read(f *File) (streaming bool) {
	magic := h.bytes(4)
	if h.err != nil {
		return false
	}
	h.version = magic[3]
	records, streaming := h.records()
	f.Dims = h.dims(records)
	f.Attrs = h.attrs()
	for range h.list(tagVariable, "variables", 5*h.word()+12) {
		v := h.variable(f)
		if h.err != nil {
			return false
		}
		f.Vars = append(f.Vars, v)
	}
	return streaming
}

// records reads the number of records, 0 where it is streaming.
func (h *header) records() (n int64, streaming bool) {
	if h.version == 5 {
		v := h.u64()
		n, streaming = int64(v), v == math.MaxUint64
	} else {
		v := h.u32()
		n, streaming = int64(v), v == math.MaxUint32
	}
	switch {
	case streaming:
		n = 0
	case n < 0 || n > math.MaxInt:
		h.fail("the number of records, %d, cannot be; the file is damaged", uint64(n))
	}
	return n, streaming
}

func (h *header) dims(records int64) []Dim {
	var list []Dim
	unlimited := false
	for range h.list(tagDimension, "dimensions", 2*h.word()) {
		d := Dim{Name: h.name()}
		n := h.length("length of dimension " + short(d.Name))
		if d.Unlimited = n == 0; d.Unlimited {
			if unlimited {
				h.fail("dimension %s is a second record dimension; the file is damaged", short(d.Name))
			}
			unlimited, n = true, records
		}
		if n > math.MaxInt {
			h.fail("dimension %s is longer than this machine can count", short(d.Name))
		}
		if h.err != nil {
			return nil
		}
		d.Len = int(n)
		list = append(list, d)
	}
	return list
}

func (h *header) variable(f *File) *Var {
	v := &Var{Name: h.name(), file: f}
	rank := h.count("dimensions of variable "+short(v.Name), h.word())
	if rank > maxRank {
		h.fail("variable %s has %d dimensions; the file is damaged", short(v.Name), rank)
	}
	for i := range rank {
		d := h.length("dimension of variable " + short(v.Name))
		switch {
		case h.err != nil:
			return nil
		case d >= int64(len(f.Dims)):
			h.fail("variable %s has dimension %d of %d; the file is damaged", short(v.Name), d, len(f.Dims))
			return nil
		case i > 0 && f.Dims[d].Unlimited:
			h.fail("variable %s has the record dimension behind another; the file is damaged", short(v.Name))
		}
		v.Dims = append(v.Dims, int(d))
	}
	v.Attrs = h.attrs()
	v.Type = h.typ()
	// The size that is stored here follows from the shape, and is wrong by design
	// for variables beyond 4 GiB.
	h.bytes(h.word())
	s := &slab{size: v.Type.size()}
	if h.version == 1 {
		s.begin = int64(h.u32())
	} else {
		s.begin = int64(h.u64())
	}
	v.raw = s
	return v
}
