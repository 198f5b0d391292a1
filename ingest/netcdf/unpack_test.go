package netcdf

import (
	"errors"
	"math"
	"strings"
	"testing"

	"stillrow/ingest/weather"
)

// The rules of the NetCDF Users Guide, appendix A, and CF 1.8 sections 2.5.1
// and 8.1, one by one.
func TestUnpacking(t *testing.T) {
	nan := math.NaN()
	num := func(name string, typ uint32, x ...float64) cdfAttr { return cdfAttr{name: name, typ: typ, numbers: x} }
	unsigned := cdfAttr{name: "_Unsigned", text: "true"}
	for _, tt := range []struct {
		name   string
		typ    uint32
		attrs  []cdfAttr
		stored []float64
		want   []float64
	}{
		{"default fill of short", ncShort, nil, []float64{-32767, -32768, 7}, []float64{nan, -32768, 7}},
		{"default fill of int", ncInt, nil, []float64{-2147483647, -2147483648}, []float64{nan, -2147483648}},
		{"default fill of ushort", ncUshort, nil, []float64{65535, 65534}, []float64{nan, 65534}},
		{"default fill of uint", ncUint, nil, []float64{4294967295, 4294967294}, []float64{nan, 4294967294}},
		{"default fill of float", ncFloat, nil, []float64{9.9692099683868690e+36, 1}, []float64{nan, 1}},
		{"default fill of double", ncDouble, nil, []float64{9.9692099683868690e+36, 1}, []float64{nan, 1}},
		{"bytes have no default fill", ncByte, nil, []float64{-127, -128}, []float64{-127, -128}},
		{"unsigned bytes have none either", ncUbyte, nil, []float64{255, 0}, []float64{255, 0}},
		{"NaN is missing", ncFloat, nil, []float64{nan, 2}, []float64{nan, 2}},
		{"infinity is a value", ncDouble, nil, []float64{math.Inf(1), math.Inf(-1)}, []float64{math.Inf(1), math.Inf(-1)}},
		{"_FillValue replaces the default", ncShort, []cdfAttr{num("_FillValue", ncShort, -999)}, []float64{-999, -32767}, []float64{nan, -32767}},
		{"_FillValue of a float as stored", ncFloat, []cdfAttr{num("_FillValue", ncDouble, -999.9)}, []float64{-999.9, 1}, []float64{nan, 1}},
		{"_FillValue NaN", ncDouble, []cdfAttr{num("_FillValue", ncDouble, nan)}, []float64{nan, 1}, []float64{nan, 1}},
		{"_FillValue of a byte", ncByte, []cdfAttr{num("_FillValue", ncByte, -1)}, []float64{-1, 255 - 256, 3}, []float64{nan, nan, 3}},
		{"every missing_value", ncInt, []cdfAttr{num("missing_value", ncInt, -1, -2, -3, -4)}, []float64{-1, -2, -3, -4, -5, -2147483647}, []float64{nan, nan, nan, nan, -5, nan}},
		{"missing_value that cannot be stored", ncShort, []cdfAttr{num("missing_value", ncDouble, 1e20, 0.5)}, []float64{0, 1}, []float64{0, 1}},
		{"missing_value as text", ncShort, []cdfAttr{{name: "missing_value", text: "-9999"}}, []float64{-9999, 1}, []float64{nan, 1}},
		{"missing_value as words", ncShort, []cdfAttr{{name: "missing_value", text: "none"}}, []float64{-9999, 1}, []float64{-9999, 1}},
		{"valid_range", ncShort, []cdfAttr{num("valid_range", ncShort, 0, 100)}, []float64{-1, 0, 100, 101}, []float64{nan, 0, 100, nan}},
		{"valid_min", ncFloat, []cdfAttr{num("valid_min", ncFloat, 0.1)}, []float64{0.1, 0.05}, []float64{float64(float32(0.1)), nan}},
		{"valid_max in double of a float", ncFloat, []cdfAttr{num("valid_max", ncDouble, 0.1)}, []float64{0.1, 0.2}, []float64{float64(float32(0.1)), nan}},
		{"scale and offset", ncShort, []cdfAttr{num("scale_factor", ncDouble, 0.5), num("add_offset", ncDouble, 200)}, []float64{-32767, 0, 3}, []float64{nan, 200, 201.5}},
		{"the range is that of packed values", ncShort, []cdfAttr{num("valid_range", ncShort, 0, 1000), num("scale_factor", ncDouble, 0.01)}, []float64{1000, 1001}, []float64{10, nan}},
		{"scale as text", ncShort, []cdfAttr{{name: "scale_factor", text: " 0.25 "}}, []float64{2}, []float64{0.5}},
		{"_Unsigned byte", ncByte, []cdfAttr{unsigned, num("_FillValue", ncByte, -1), num("scale_factor", ncFloat, 2)}, []float64{-1, -2, 127, -128}, []float64{nan, 508, 254, 256}},
		{"_Unsigned short", ncShort, []cdfAttr{unsigned, num("valid_range", ncShort, 0, -2)}, []float64{-1, -2, 5}, []float64{nan, 65534, 5}},
		{"_Unsigned int", ncInt, []cdfAttr{unsigned}, []float64{-2}, []float64{4294967294}},
		{"_Unsigned false", ncUbyte, []cdfAttr{{name: "_Unsigned", text: "false"}, num("_FillValue", ncUbyte, 255)}, []float64{255, 254, 3}, []float64{nan, -2, 3}},
	} {
		c := &cdf{version: 5, dims: []cdfDim{{"x", len(tt.stored)}}}
		c.vars = []cdfVar{{name: "v", typ: tt.typ, dims: []int{0}, attrs: tt.attrs, values: tt.stored}}
		if err := same(all(t, open(t, c.bytes()).Var("v")), tt.want); err != nil {
			t.Errorf("%s: %v", tt.name, err)
		}
	}
}

// The fill value 0 of NASA POWER's coordinates does not take the equator away.
func TestCoordinateAtZero(t *testing.T) {
	zero := []cdfAttr{{name: "_FillValue", typ: ncFloat, numbers: []float64{0}}}
	c := &cdf{version: 1, dims: []cdfDim{{"lat", 3}}, vars: []cdfVar{
		{name: "lat", typ: ncFloat, dims: []int{0}, attrs: zero, values: []float64{-1, 0, 1}},
		{name: "ghi", typ: ncFloat, dims: []int{0}, attrs: zero, values: []float64{-1, 0, 1}},
	}}
	f := open(t, c.bytes())
	if err := same(all(t, f.Var("lat")), []float64{-1, 0, 1}); err != nil {
		t.Errorf("coordinate: %v", err)
	}
	if err := same(all(t, f.Var("ghi")), []float64{-1, math.NaN(), 1}); err != nil {
		t.Errorf("data: %v", err)
	}
}

// Packed values are computed in float64 and rounded once: 16777217 cannot be
// held by a float32, its half can be rounded only once to be right.
func TestRoundedOnce(t *testing.T) {
	c := &cdf{version: 1, dims: []cdfDim{{"x", 1}}, vars: []cdfVar{{
		name: "v", typ: ncInt, dims: []int{0}, values: []float64{16777217},
		attrs: []cdfAttr{{name: "add_offset", typ: ncDouble, numbers: []float64{-16777216}}},
	}}}
	got := make([]float32, 1)
	if err := open(t, c.bytes()).Var("v").ReadFloat32(got, []int{0}, []int{1}); err != nil || got[0] != 1 {
		t.Errorf("%v, %v, want 1", got, err)
	}
}

func TestBadAttributes(t *testing.T) {
	for field, a := range map[string]cdfAttr{
		"v:scale_factor": {name: "scale_factor", text: "one tenth"},
		"v:add_offset":   {name: "add_offset", typ: ncFloat, numbers: []float64{math.NaN()}},
		"v:valid_range":  {name: "valid_range", typ: ncShort, numbers: []float64{10, 0}},
	} {
		c := &cdf{version: 1, dims: []cdfDim{{"x", 1}}, vars: []cdfVar{{name: "v", typ: ncShort, dims: []int{0}, attrs: []cdfAttr{a}, values: []float64{1}}}}
		err := open(t, c.bytes()).Var("v").Read(make([]float64, 1), []int{0}, []int{1})
		var file *weather.FileError
		if !errors.As(err, &file) || file.Field != field || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v", field, err)
		}
	}
}
