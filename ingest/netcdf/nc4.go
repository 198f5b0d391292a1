package netcdf

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"unicode"

	"stillrow/ingest/hdf5"
)

// hidden are the attributes by which NetCDF-4 keeps its own structure in HDF5.
var hidden = []string{
	"CLASS", "NAME", "REFERENCE_LIST", "DIMENSION_LIST", "DIMENSION_LABELS",
	"_Netcdf4Dimid", "_Netcdf4Coordinates", "_nc3_strict", "_NCProperties",
}

// What the library writes in place of names that HDF5 cannot share between a
// dimension and a variable.
const (
	onlyDimension = "This is a netCDF dimension but not a netCDF variable" // in NAME of a scale
	notCoordinate = "_nc4_non_coord_"                                      // before the variable's name
)

// hdf5Magic stands at byte 0 or at 512 times a power of 2.
const hdf5Magic = "\x89HDF\r\n\x1a\n"

func isHDF5(r io.ReaderAt, size int64) bool {
	b := make([]byte, len(hdf5Magic))
	for at := int64(0); at < size; at = max(512, 2*at) {
		if n, _ := r.ReadAt(b, at); n == len(b) && string(b) == hdf5Magic {
			return true
		}
	}
	return false
}

// openHDF5 reads the structure of a NetCDF-4 file, or of another HDF5 file as if
// it were one.
//
// Source: NetCDF-4 File Format Specification, Unidata; HDF5 Dimension Scale
// Specification, The HDF Group.
func (f *File) openHDF5(r io.ReaderAt, size int64) error {
	in, err := hdf5.Open(r, size)
	if err != nil {
		return f.fault("", mend(err))
	}
	f.Attrs = shown(in.Attrs)
	for _, d := range in.Datasets {
		v := &Var{Name: clean(strings.TrimPrefix(d.Name, notCoordinate)), Attrs: shown(d.Attrs), file: f}
		v.Type = typeOf(d)
		if err := plausible(d, size); err != nil {
			return f.fault(v.Name, err)
		}
		if len(d.Chunk) == len(d.Shape) && !slices.ContainsFunc(d.Chunk, func(n int) bool { return n < 1 }) {
			v.Chunk = d.Chunk
		}
		v.raw = &dataset{d}
		if !isOnlyDimension(d) {
			f.Vars = append(f.Vars, v)
		}
	}
	f.nameDims(in.Datasets)
	if len(f.Vars) == 0 && len(in.Groups) > 0 {
		return f.fault("", fmt.Errorf("its variables lie in groups (%s), which are not read; move them to the root group",
			clean(short(strings.Join(in.Groups, ", ")))))
	}
	return nil
}

func shown(attrs []hdf5.Attr) []Attr {
	var list []Attr
	for _, a := range attrs {
		if !slices.Contains(hidden, a.Name) {
			list = append(list, Attr{Name: a.Name, Text: strings.TrimRight(a.Text, "\x00"), Numbers: a.Numbers})
		}
	}
	return list
}

// clean replaces what would break the line of an error; HDF5 allows any name.
func clean(name string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return unicode.ReplacementChar
		}
		return r
	}, name)
}

func typeOf(d *hdf5.Dataset) Type {
	of := map[hdf5.Class]map[int]Type{
		hdf5.Int:    {1: Int8, 2: Int16, 4: Int32, 8: Int64},
		hdf5.Uint:   {1: Uint8, 2: Uint16, 4: Uint32, 8: Uint64},
		hdf5.Float:  {4: Float32, 8: Float64},
		hdf5.String: {1: Char},
	}
	if t, ok := of[d.Class][d.Size]; ok {
		return t
	}
	if d.Class == hdf5.String {
		return String
	}
	return Other
}

// plausible refuses shapes that the file cannot hold: deflate makes at best a
// thousandth of a block of one value. What was never written takes no room
// either, hence the slack.
func plausible(d *hdf5.Dataset, size int64) error {
	const ratio, slack = 2048, 1 << 30
	bytes, fits := int64(max(d.Size, 1)), true
	for _, n := range d.Shape {
		if n == 0 {
			return nil
		}
		if fits {
			bytes, fits = times(bytes, int64(n))
		}
	}
	if most, ok := times(size, ratio); !fits || ok && bytes-slack > most {
		return fmt.Errorf("%w: a shape of %v in a file of %d bytes", errDamaged, d.Shape, size)
	}
	return nil
}

// attr gives a number of an attribute of a dataset, false where there is none.
func attr(d *hdf5.Dataset, name string) ([]float64, bool) {
	for _, a := range d.Attrs {
		if a.Name == name && len(a.Numbers) > 0 {
			return a.Numbers, true
		}
	}
	return nil, false
}

func isOnlyDimension(d *hdf5.Dataset) bool {
	return d.IsScale && slices.ContainsFunc(d.Attrs, func(a hdf5.Attr) bool {
		return a.Name == "NAME" && strings.HasPrefix(a.Text, onlyDimension)
	})
}

// nameDims finds the dimensions and gives them to the variables, which are in
// the order of the datasets but for those that are dimensions only.
func (f *File) nameDims(datasets []*hdf5.Dataset) {
	// Dimensions come in the order the file numbers them, else in that of the scales.
	var scales []*hdf5.Dataset
	for _, d := range datasets {
		if d.IsScale && len(d.Shape) > 0 {
			scales = append(scales, d)
		}
	}
	number := func(d *hdf5.Dataset) float64 {
		if id, ok := attr(d, "_Netcdf4Dimid"); ok {
			return id[0]
		}
		return math.Inf(1)
	}
	slices.SortStableFunc(scales, func(a, b *hdf5.Dataset) int {
		switch x, y := number(a), number(b); {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	byName := make(map[string]int)
	byNumber := make(map[float64]int)
	for i, d := range scales {
		byName[d.Name] = i
		byNumber[number(d)] = i
		f.Dims = append(f.Dims, Dim{Name: clean(d.Name), Len: d.Shape[0], Unlimited: len(d.Unlimited) > 0 && d.Unlimited[0]})
	}
	vars := f.Vars
	for _, d := range datasets {
		if isOnlyDimension(d) {
			continue
		}
		v := vars[0]
		vars = vars[1:]
		ids, _ := attr(d, "_Netcdf4Coordinates") // of coordinate variables with several dimensions
		for i, n := range d.Shape {
			unlimited := i < len(d.Unlimited) && d.Unlimited[i]
			at := -1
			switch {
			case i < len(d.Scales) && len(d.Scales[i]) > 0:
				at = indexOr(byName, d.Scales[i][0], -1)
			case i < len(ids) && len(ids) == len(d.Shape):
				at = indexOr(byNumber, ids[i], -1)
			case d.IsScale && i == 0:
				at = byName[d.Name]
			}
			// Only a dimension that grows may be longer than what is stored of a variable.
			if at < 0 || n != f.Dims[at].Len && !(unlimited && f.Dims[at].Unlimited) {
				at = f.inventDim(v, n, unlimited)
			}
			f.Dims[at].Len = max(f.Dims[at].Len, n)
			v.Dims = append(v.Dims, at)
		}
		v.stored = d.Shape
	}
}

func indexOr[K comparable](m map[K]int, k K, or int) int {
	if i, ok := m[k]; ok {
		return i
	}
	return or
}

// inventDim gives a dimension of length n that no scale names: variables share
// one of equal length, but v does not use one twice.
func (f *File) inventDim(v *Var, n int, unlimited bool) int {
	name := fmt.Sprintf("dim_%d", n)
	for again := 2; ; again++ {
		i := slices.IndexFunc(f.Dims, func(d Dim) bool { return d.Name == name })
		if i < 0 {
			f.Dims = append(f.Dims, Dim{Name: name, Len: n, Unlimited: unlimited})
			return len(f.Dims) - 1
		}
		if f.Dims[i].Len == n && f.Dims[i].Unlimited == unlimited && !slices.Contains(v.Dims, i) {
			return i
		}
		name = fmt.Sprintf("dim_%d_%d", n, again)
	}
}

// A dataset is the data of a NetCDF-4 variable.
type dataset struct{ *hdf5.Dataset }

// read implements source.
func (d *dataset) read(dst []byte, start, count []int) error {
	err := d.Read(dst, start, count)
	if err == nil {
		return nil
	}
	// The variable is named by the error around this one.
	if inner := errors.Unwrap(err); inner != nil && strings.HasPrefix(err.Error(), "variable ") {
		err = inner
	}
	if d.Class == hdf5.Other {
		return fmt.Errorf("%w; nccopy does not convert it", err)
	}
	return mend(err)
}

// mend adds the call that rewrites a file without what is not read. It keeps the
// file a NetCDF-4 one: with -k classic or -k cdf5 nccopy fails on strings, which
// many files have in attributes, and with all three on groups and user types.
func mend(err error) error {
	if errors.Is(err, hdf5.ErrUnsupported) {
		return fmt.Errorf("%w; rewrite the file: nccopy -F none in.nc out.nc", err)
	}
	return err
}
