// Package netcdf reads NetCDF files: the classic format, its 64-bit offset and
// 64-bit data (CDF-5) variants, and the part of NetCDF-4 (HDF5) that gridded
// weather uses. It knows the attributes of the NetCDF conventions that change
// what a number means (scale_factor, add_offset, _FillValue, missing_value,
// valid_range), and nothing of weather.
//
// A File has its structure in memory; Read and ReadFloat32 of a Var read parts
// of its values, unpacked, NaN where missing. Of HDF5, what is not read (package
// hdf5 says what that is) is an error of the variable that uses it, which gives
// the call of nccopy that rewrites the file without.
//
// Sources: NetCDF Classic Format Specification and NetCDF-4 File Format
// Specification, Unidata; CDF-5 File Format Specification, PnetCDF; NetCDF Users
// Guide, appendix A; CF Conventions 1.8.
package netcdf

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"sync"

	"stillrow/ingest/weather"
)

// A File is an open NetCDF file: its structure in memory, its data behind.
// Reading from several goroutines at once is safe.
type File struct {
	Name   string // for errors
	Format string // "classic", "64-bit offset", "CDF-5" or "NetCDF-4", other HDF5 files included
	Dims   []Dim
	Attrs  []Attr
	Vars   []*Var

	buffers sync.Pool // of stored values between reads, as *[]byte
}

// A Dim is a dimension.
type Dim struct {
	Name      string
	Len       int
	Unlimited bool
}

// An Attr is an attribute: text, or numbers.
type Attr struct {
	Name    string
	Text    string
	Numbers []float64 // nil for text
}

// A Type is the external type of a variable.
type Type int

// The types.
const (
	Int8 Type = iota
	Uint8
	Char
	Int16
	Uint16
	Int32
	Uint32
	Int64
	Uint64
	Float32
	Float64
	String
	Other // user types and what else is not read
)

// size is the number of bytes of a value, 0 of String and Other.
func (t Type) size() int64 {
	switch t {
	case Int8, Uint8, Char:
		return 1
	case Int16, Uint16:
		return 2
	case Int32, Uint32, Float32:
		return 4
	case Int64, Uint64, Float64:
		return 8
	}
	return 0
}

// Open reads the structure of the file of size bytes behind r, which is kept
// and must allow reading from several goroutines at once, as io.ReaderAt says.
// The name is for errors, all of which are a *weather.FileError. A file that is
// damaged or cut off in its structure, or a classic file that ends before its
// data do, is refused.
func Open(r io.ReaderAt, size int64, name string) (*File, error) {
	f := &File{Name: name}
	magic := make([]byte, 4)
	if n, err := r.ReadAt(magic, 0); n < len(magic) && err != nil && err != io.EOF {
		return nil, f.fault("", err)
	}
	switch string(magic) {
	case "CDF\x01", "CDF\x02", "CDF\x05":
		f.Format = map[byte]string{1: "classic", 2: "64-bit offset", 5: "CDF-5"}[magic[3]]
		return opened(f, f.openClassic(r, size))
	}
	if isHDF5(r, size) {
		f.Format = "NetCDF-4"
		return opened(f, f.openHDF5(r, size))
	}
	if bytes.HasPrefix(magic, []byte("CDF")) {
		return nil, f.fault("", fmt.Errorf("a NetCDF file of the unknown version %d", magic[3]))
	}
	return nil, f.fault("", errors.New("neither a NetCDF nor an HDF5 file"))
}

// opened gives a file only where there is no error.
func opened(f *File, err error) (*File, error) {
	if err != nil {
		return nil, err
	}
	return f, nil
}

// fault makes an error of the file; the field may be empty.
func (f *File) fault(field string, err error) error {
	return &weather.FileError{File: f.Name, Field: field, Err: err}
}

// A Var is a variable of a File.
type Var struct {
	Name  string
	Type  Type
	Dims  []int // indexes in File.Dims, slowest first
	Attrs []Attr
	Chunk []int // shape of a stored chunk, one entry a dimension; nil where the data lie contiguous

	file   *File
	raw    source
	stored []int // lengths that are stored where a dimension grew after writing; nil where all is
}

// A source reads the hyperslab of a variable as stored, in the order of its
// dimensions, into a buffer of the host's own byte order, with the size of the type a value.
type source interface {
	read(dst []byte, start, count []int) error
}

// Var gives a variable by name, nil where there is none.
func (f *File) Var(name string) *Var {
	for _, v := range f.Vars {
		if v.Name == name {
			return v
		}
	}
	return nil
}

// Attr gives an attribute by name, nil where there is none.
func (v *Var) Attr(name string) *Attr { return find(v.Attrs, name) }

// Attr gives a global attribute by name, nil where there is none.
func (f *File) Attr(name string) *Attr { return find(f.Attrs, name) }

func find(list []Attr, name string) *Attr {
	for i := range list {
		if list[i].Name == name {
			return &list[i]
		}
	}
	return nil
}

// Text gives a text attribute, empty where there is none.
func (v *Var) Text(name string) string {
	if a := v.Attr(name); a != nil {
		return a.Text
	}
	return ""
}

// Number gives the first number of an attribute, NaN where there is none.
func (v *Var) Number(name string) float64 {
	if a := v.Attr(name); a != nil && len(a.Numbers) > 0 {
		return a.Numbers[0]
	}
	return math.NaN()
}

// Shape gives the lengths of the variable's dimensions.
func (v *Var) Shape() []int {
	shape := make([]int, len(v.Dims))
	for i, d := range v.Dims {
		shape[i] = v.file.Dims[d].Len
	}
	return shape
}
