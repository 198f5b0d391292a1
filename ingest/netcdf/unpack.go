package netcdf

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// An unpacking says what the stored values of a variable mean.
//
// Source: NetCDF Users Guide, appendix A (attribute conventions); CF
// Conventions 1.8, sections 2.5.1 and 8.1.
type unpacking struct {
	stored  Type      // as _Unsigned has it
	missing []float64 // stored values that stand for none
	lo, hi  float64   // what is stored outside is missing
	scale   float64
	offset  float64
}

// mostMissing bounds what a value is compared with.
const mostMissing = 64

// none is a missing value that no value equals.
var none = math.NaN()

// unpacking reads the attributes. An error names the attribute.
func (v *Var) unpacking() (*unpacking, error) {
	u := &unpacking{stored: v.Type, lo: math.Inf(-1), hi: math.Inf(1), scale: 1}
	switch strings.ToLower(v.Text("_Unsigned")) {
	case "true":
		u.stored = v.Type.signed(false)
	case "false":
		u.stored = v.Type.signed(true)
	}
	fill := v.numbers("_FillValue")
	if len(fill) == 0 {
		fill = v.Type.defaultFill()
	}
	for _, x := range slices.Concat(fill, v.numbers("missing_value")) {
		// Coordinates have no missing values (CF 2.5.1), and NASA POWER's files name
		// 0 as the fill value of latitude and longitude, which the equator has.
		if x, ok := u.cast(x, v.Type); ok && !(x == 0 && v.isCoordinate()) {
			u.missing = append(u.missing, x)
		}
	}
	slices.Sort(u.missing)
	if u.missing = slices.Compact(u.missing); len(u.missing) > mostMissing {
		return nil, v.file.fault(v.Name+":missing_value", fmt.Errorf("%d values that stand for none; at most %d are read", len(u.missing), mostMissing))
	}
	if err := v.validRange(u); err != nil {
		return nil, err
	}
	for _, a := range []struct {
		name string
		to   *float64
	}{{"scale_factor", &u.scale}, {"add_offset", &u.offset}} {
		at := v.Attr(a.name)
		if at == nil {
			continue
		}
		list := v.numbers(a.name)
		if len(list) != 1 || math.IsNaN(list[0]) || math.IsInf(list[0], 0) {
			text := at.Text
			if at.Numbers != nil {
				text = fmt.Sprint(list[:min(len(list), 3)])
			}
			return nil, v.file.fault(v.Name+":"+a.name, fmt.Errorf("%q is not one finite number", short(text)))
		}
		*a.to = list[0]
	}
	return u, nil
}

// validRange narrows lo and hi.
func (v *Var) validRange(u *unpacking) error {
	narrow := func(x float64, at *float64) {
		if !math.IsNaN(x) {
			*at = u.bound(x, v.Type)
		}
	}
	if list := v.numbers("valid_min"); len(list) > 0 {
		narrow(list[0], &u.lo)
	}
	if list := v.numbers("valid_max"); len(list) > 0 {
		narrow(list[0], &u.hi)
	}
	if list := v.numbers("valid_range"); len(list) == 2 {
		narrow(list[0], &u.lo)
		narrow(list[1], &u.hi)
	}
	if u.lo > u.hi {
		return v.file.fault(v.Name+":valid_range", fmt.Errorf("from %v to %v lies nothing", u.lo, u.hi))
	}
	return nil
}

// isCoordinate tells whether the variable gives the places along the dimension
// of its name.
func (v *Var) isCoordinate() bool {
	return len(v.Dims) == 1 && v.file.Dims[v.Dims[0]].Name == v.Name
}

// numbers gives the numbers of an attribute, also where they are written as
// text, and nil where there are none.
func (v *Var) numbers(name string) []float64 {
	a := v.Attr(name)
	if a == nil {
		return nil
	}
	if a.Numbers == nil {
		x, err := strconv.ParseFloat(strings.TrimSpace(a.Text), 64)
		if err != nil {
			return nil
		}
		return []float64{x}
	}
	return a.Numbers
}

// signed gives the integer type of the same size with a sign or without; other
// types are left alone.
func (t Type) signed(yes bool) Type {
	for _, p := range [][2]Type{{Int8, Uint8}, {Int16, Uint16}, {Int32, Uint32}, {Int64, Uint64}} {
		if t == p[0] || t == p[1] {
			if yes {
				return p[0]
			}
			return p[1]
		}
	}
	return t
}

// span gives the least value of an integer type and the first beyond its
// greatest.
func (t Type) span() (least, beyond float64) {
	bits := int(8 * t.size())
	if t == t.signed(false) {
		return 0, math.Ldexp(1, bits)
	}
	return -math.Ldexp(1, bits-1), math.Ldexp(1, bits-1)
}

// defaultFill gives what libraries write where nothing was written and no
// _FillValue is stated; single bytes have none, all their values may be data.
//
// Source: NetCDF Users Guide, fill values (NC_FILL_SHORT and so on).
func (t Type) defaultFill() []float64 {
	switch t {
	case Int16:
		return []float64{-32767}
	case Uint16:
		return []float64{65535}
	case Int32:
		return []float64{-2147483647}
	case Uint32:
		return []float64{4294967295}
	case Int64:
		return []float64{-9223372036854775806}
	case Uint64:
		return []float64{18446744073709551614}
	case Float32, Float64:
		return []float64{9.9692099683868690e+36}
	}
	return nil
}

// bound turns the bound of a valid range of a variable of type t into one of
// the values as u reads them.
func (u *unpacking) bound(x float64, t Type) float64 {
	switch {
	case t == Float32:
		return float64(float32(x))
	case u.stored != t:
		// The attribute has the sign of the type, as the values have.
		least, beyond := t.span()
		if from, to := u.stored.span(); x >= least && x < beyond && (x < from || x >= to) {
			if x < from {
				return x + math.Ldexp(1, int(8*t.size()))
			}
			return x - math.Ldexp(1, int(8*t.size()))
		}
	}
	return x
}

// cast gives a number as a variable of type t stores it and u reads it, false
// where it cannot be stored.
func (u *unpacking) cast(x float64, t Type) (float64, bool) {
	x = u.bound(x, t)
	if t == Float32 || t == Float64 {
		return x, !math.IsNaN(x)
	}
	least, beyond := u.stored.span()
	return x, x == math.Trunc(x) && x >= least && x < beyond
}

// atOnce is how many values are unpacked at a time: they stay in the nearest
// cache between the loops.
const atOnce = 1024

// into unpacks the values stored in b, in the host's order of bytes. Packed
// values are computed in float64 and rounded once.
func into[F float32 | float64](dst []F, b []byte, u *unpacking) {
	var buf [atOnce]float64
	m0, m1, more := none, none, u.missing
	if len(more) > 0 {
		m0, more = more[0], more[1:]
	}
	if len(more) > 0 {
		m1, more = more[0], more[1:]
	}
	lo, hi, scale, offset := u.lo, u.hi, u.scale, u.offset
	nan := F(math.NaN())
	size := int(u.stored.size())
	for len(dst) > 0 {
		n := min(len(dst), atOnce)
		values := buf[:n]
		decode(values, b, u.stored)
		for _, m := range more {
			for i, x := range values {
				if x == m {
					values[i] = none
				}
			}
		}
		out := dst[:n]
		for i, x := range values {
			if !(x >= lo && x <= hi) || x == m0 || x == m1 {
				out[i] = nan
			} else {
				out[i] = F(float64(x*scale) + offset)
			}
		}
		dst, b = dst[n:], b[n*size:]
	}
}
