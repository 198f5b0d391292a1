package netcdf

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
	"strings"
	"testing"

	"stillrow/ingest/weather"
)

// grid is a file with two record variables, so that their records are padded,
// and fixed ones.
func grid(version byte) *cdf {
	return &cdf{
		version: version, records: 3,
		dims:  []cdfDim{{"time", 0}, {"lat", 3}, {"lon", 5}},
		attrs: []cdfAttr{{name: "title", text: "made"}, {name: "levels", typ: ncDouble, numbers: []float64{1, 2.5}}},
		vars: []cdfVar{
			{name: "lat", typ: ncFloat, dims: []int{1}, values: []float64{10, 11, 12}},
			{name: "t", typ: ncShort, dims: []int{0, 1, 2}, attrs: []cdfAttr{{name: "units", text: "K"}}, values: upTo(45)},
			{name: "flag", typ: ncByte, dims: []int{0, 2}, values: upTo(15)},
			{name: "scalar", typ: ncInt, values: []float64{-7}},
		},
	}
}

// The three versions hold the same file in the bytes of their specifications.
func TestClassicFormats(t *testing.T) {
	for version, format := range map[byte]string{1: "classic", 2: "64-bit offset", 5: "CDF-5"} {
		f := open(t, grid(version).bytes())
		if f.Format != format {
			t.Errorf("format %q, want %q", f.Format, format)
		}
		if want := []Dim{{"time", 3, true}, {"lat", 3, false}, {"lon", 5, false}}; !slices.Equal(f.Dims, want) {
			t.Errorf("%s: dimensions %v, want %v", format, f.Dims, want)
		}
		if a := f.Attr("levels"); a == nil || !slices.Equal(a.Numbers, []float64{1, 2.5}) {
			t.Errorf("%s: levels are %v", format, a)
		}
		if a := f.Attr("title"); a == nil || a.Text != "made" || a.Numbers != nil {
			t.Errorf("%s: title is %v", format, a)
		}
		if u := f.Var("t").Text("units"); u != "K" {
			t.Errorf("%s: units %q", format, u)
		}
		for _, v := range grid(version).vars {
			if err := same(all(t, f.Var(v.name)), v.values); err != nil {
				t.Errorf("%s: %s: %v", format, v.name, err)
			}
		}
	}
}

func TestTypes(t *testing.T) {
	for typ, want := range map[uint32]struct {
		typ    Type
		values []float64
	}{
		ncByte:   {Int8, []float64{-128, 0, 127}},
		ncShort:  {Int16, []float64{-32768, 0, 32767}},
		ncInt:    {Int32, []float64{-2147483648, 0, 2147483647}},
		ncFloat:  {Float32, []float64{-math.MaxFloat32, 0.5, math.Inf(1)}},
		ncDouble: {Float64, []float64{-math.MaxFloat64, 0.1, math.Inf(-1)}},
		ncUbyte:  {Uint8, []float64{0, 128, 255}},
		ncUshort: {Uint16, []float64{0, 32768, 65534}},
		ncUint:   {Uint32, []float64{0, 1 << 31, 1<<32 - 2}},
		ncInt64:  {Int64, []float64{-1 << 53, 1 << 53, 1 << 62}},
		ncUint64: {Uint64, []float64{0, 1 << 53, 1 << 63}},
	} {
		c := &cdf{version: 5, dims: []cdfDim{{"x", 3}}, vars: []cdfVar{{name: "v", typ: typ, dims: []int{0}, values: want.values}}}
		v := open(t, c.bytes()).Var("v")
		if v.Type != want.typ {
			t.Errorf("type %d is %d, want %d", typ, v.Type, want.typ)
		}
		if err := same(all(t, v), want.values); err != nil {
			t.Errorf("type %d: %v", typ, err)
		}
	}
	c := &cdf{version: 1, dims: []cdfDim{{"x", 3}}, vars: []cdfVar{{name: "v", typ: ncChar, dims: []int{0}, values: upTo(3)}}}
	err := open(t, c.bytes()).Var("v").Read(make([]float64, 3), []int{0}, []int{3})
	if err == nil || err.Error() != "made.nc: v: text, not numbers" {
		t.Errorf("reading text: %v", err)
	}
}

// A lone record variable has no padding between its records (note on padding in
// the classic format specification); a streaming file has as many records as fit.
func TestRecords(t *testing.T) {
	for _, version := range []byte{1, 2, 5} {
		for _, streaming := range []bool{false, true} {
			c := &cdf{version: version, records: 5, streaming: streaming, dims: []cdfDim{{"lon", 3}, {"time", 0}}}
			c.vars = []cdfVar{{name: "t", typ: ncShort, dims: []int{1, 0}, values: upTo(15)}}
			if err := same(all(t, open(t, c.bytes()).Var("t")), upTo(15)); err != nil {
				t.Errorf("CDF-%d, streaming %v, lone: %v", version, streaming, err)
			}
			c.vars = append(c.vars, cdfVar{name: "time", typ: ncByte, dims: []int{1}, values: upTo(5)})
			b := c.bytes()
			for cut := range 4 { // the padding of the last record may be left out
				f := open(t, b[:len(b)-cut])
				if err := same(all(t, f.Var("t")), upTo(15)); err != nil {
					t.Errorf("CDF-%d, streaming %v, padded: %v", version, streaming, err)
				}
				if err := same(all(t, f.Var("time")), upTo(5)); err != nil {
					t.Errorf("CDF-%d, streaming %v, padded: %v", version, streaming, err)
				}
			}
			if !streaming {
				continue
			}
			// Of a cut streaming file the whole records count.
			if f := open(t, b[:len(b)-4]); f.Dims[1].Len != 4 {
				t.Errorf("CDF-%d: %d records in a streaming file cut in its fifth", version, f.Dims[1].Len)
			}
		}
	}
}

// Every hyperslab of a small file equals the values picked one by one.
func TestHyperslabs(t *testing.T) {
	f := open(t, grid(2).bytes())
	v := f.Var("t")
	for t0 := range 4 {
		for nt := range 4 - t0 {
			for y0 := range 4 {
				for ny := range 4 - y0 {
					for x0 := range 6 {
						for nx := range 6 - x0 {
							var want []float64
							for i := range nt * ny * nx {
								want = append(want, float64((t0+i/(ny*nx))*15+(y0+i/nx%ny)*5+x0+i%nx))
							}
							got := make([]float64, nt*ny*nx)
							if err := v.Read(got, []int{t0, y0, x0}, []int{nt, ny, nx}); err != nil {
								t.Fatal(err)
							}
							if err := same(got, want); err != nil {
								t.Fatalf("from %d %d %d, %d %d %d: %v", t0, y0, x0, nt, ny, nx, err)
							}
						}
					}
				}
			}
		}
	}
}

func TestBadHyperslabs(t *testing.T) {
	v := open(t, grid(1).bytes()).Var("t")
	for _, tt := range []struct {
		n            int
		start, count []int
	}{
		{45, []int{0, 0, 1}, []int{3, 3, 5}},
		{60, []int{0, 0, 0}, []int{4, 3, 5}},
		{45, []int{0, 0}, []int{3, 15}},
		{45, nil, nil},
		{44, []int{0, 0, 0}, []int{3, 3, 5}},
		{0, []int{4, 0, 0}, []int{0, 3, 5}},
		{1, []int{-1, 0, 0}, []int{1, 1, 1}},
		{1, []int{0, 0, 0}, []int{-1, -1, 1}},
		{1, []int{math.MaxInt, 0, 0}, []int{1, 1, 1}},
		{1, []int{1, 0, 0}, []int{math.MaxInt, 1, 1}},
	} {
		err := v.Read(make([]float64, tt.n), tt.start, tt.count)
		var file *weather.FileError
		if !errors.As(err, &file) || file.File != "made.nc" || file.Field != "t" {
			t.Errorf("%d values from %v, %v: %v", tt.n, tt.start, tt.count, err)
		}
	}
}

// What lies together is read at once; a band of rows over all records reads only
// its bytes.
func TestReads(t *testing.T) {
	const records, rows, columns = 20, 50, 60
	c := &cdf{version: 2, records: records, dims: []cdfDim{{"time", 0}, {"lat", rows}, {"lon", columns}}}
	for _, name := range []string{"a", "b"} {
		c.vars = append(c.vars, cdfVar{name: name, typ: ncFloat, dims: []int{0, 1, 2}, values: upTo(records * rows * columns)})
	}
	c.vars = append(c.vars, cdfVar{name: "fixed", typ: ncDouble, dims: []int{1, 2}, values: upTo(rows * columns)})
	b := c.bytes()
	r := &counted{ReaderAt: bytes.NewReader(b)}
	f, err := Open(r, int64(len(b)), "made.nc")
	if err != nil {
		t.Fatal(err)
	}
	if n := r.bytes.Load(); n > 4096+1<<16 {
		t.Errorf("opening reads %d bytes", n)
	}
	for _, tt := range []struct {
		name         string
		variable     string
		start, count []int
		calls, bytes int64
	}{
		{"whole fixed variable", "fixed", []int{0, 0}, []int{rows, columns}, 1, rows * columns * 8},
		{"whole rows of it", "fixed", []int{10, 0}, []int{5, columns}, 1, 5 * columns * 8},
		{"all records", "b", []int{0, 0, 0}, []int{records, rows, columns}, records, records * rows * columns * 4},
		{"band of rows over all records", "a", []int{0, 20, 0}, []int{records, 7, columns}, records, records * 7 * columns * 4},
		{"part of each row: read through the gaps", "a", []int{3, 0, 10}, []int{1, rows, 5}, 1, (rows-1)*columns*4 + 5*4},
		{"one value of each record", "a", []int{0, 1, 1}, []int{records, 1, 1}, records, records * 4},
	} {
		r.calls.Store(0)
		r.bytes.Store(0)
		n := 1
		for _, k := range tt.count {
			n *= k
		}
		if err := f.Var(tt.variable).ReadFloat32(make([]float32, n), tt.start, tt.count); err != nil {
			t.Fatal(err)
		}
		if got := r.calls.Load(); got != tt.calls {
			t.Errorf("%s: %d calls, want %d", tt.name, got, tt.calls)
		}
		if got := r.bytes.Load(); got != tt.bytes {
			t.Errorf("%s: %d bytes, want %d", tt.name, got, tt.bytes)
		}
	}
}

// A variable of several pieces comes out whole.
func TestPieces(t *testing.T) {
	const n = 3*piece/4 + 5
	c := &cdf{version: 1, dims: []cdfDim{{"x", n}, {"two", 2}}}
	c.vars = []cdfVar{
		{name: "a", typ: ncFloat, dims: []int{0}, values: upTo(n)},
		{name: "b", typ: ncInt, dims: []int{1, 0}, values: upTo(2 * n)},
	}
	f := open(t, c.bytes())
	for _, v := range c.vars {
		if err := same(all(t, f.Var(v.name)), v.values); err != nil {
			t.Errorf("%s: %v", v.name, err)
		}
	}
	got := make([]float64, 2*(n-3))
	if err := f.Var("b").Read(got, []int{0, 2}, []int{2, n - 3}); err != nil {
		t.Fatal(err)
	}
	if err := same(got, append(upTo(n - 1)[2:], upTo(2*n - 1)[n+2:]...)); err != nil {
		t.Error(err)
	}
}

// A file cut anywhere gives an error that says so in a line, or all its values
// where only padding is gone.
func TestTruncations(t *testing.T) {
	for _, version := range []byte{1, 2, 5} {
		b := grid(version).bytes()
		const padding = 3 // behind the last record of flag, five bytes
		for n := range b {
			f, err := Open(bytes.NewReader(b[:n]), int64(n), "cut.nc")
			if n >= len(b)-padding {
				if err != nil {
					t.Errorf("CDF-%d without padding: %v", version, err)
				}
				continue
			}
			var file *weather.FileError
			if !errors.As(err, &file) || f != nil || strings.Contains(err.Error(), "\n") {
				t.Errorf("CDF-%d cut to %d of %d bytes: %v", version, n, len(b), err)
			}
			if n > 20 && !strings.Contains(err.Error(), "truncated") {
				t.Errorf("CDF-%d cut to %d of %d bytes: %v", version, n, len(b), err)
			}
		}
		if _, err := Open(bytes.NewReader(b), int64(len(b)-4), "cut.nc"); err == nil || err.Error() !=
			fmt.Sprintf("cut.nc: flag: truncated: its data end at byte %d, the file ends at byte %d", len(b)-3, len(b)-4) {
			t.Errorf("CDF-%d: %v", version, err)
		}
	}
	// A file that shrinks between opening and reading.
	b := grid(1).bytes()
	f, err := Open(bytes.NewReader(b[:len(b)-30]), int64(len(b)), "cut.nc")
	if err != nil {
		t.Fatal(err)
	}
	if err := f.Var("t").Read(make([]float64, 45), []int{0, 0, 0}, []int{3, 3, 5}); err == nil || !strings.Contains(err.Error(), "cut.nc: t: truncated") {
		t.Errorf("reading beyond the end: %v", err)
	}
}

// Headers that promise the impossible are refused at no cost.
func TestHostileHeaders(t *testing.T) {
	be := binary.BigEndian
	u64 := func(list ...uint64) (b []byte) {
		for _, n := range list {
			b = be.AppendUint64(b, n)
		}
		return b
	}
	list := func(tag uint32, n uint64) []byte { return append(be.AppendUint32(nil, tag), u64(n)...) }
	head := func(parts ...[]byte) []byte { return append([]byte("CDF\x05"), bytes.Join(parts, nil)...) }
	name := func(s string) []byte { return append(u64(uint64(len(s))), padded([]byte(s))...) }
	variable := func(typ uint32, begin uint64, dims ...uint64) []byte {
		b := append(name("v"), u64(uint64(len(dims)))...)
		b = append(append(b, u64(dims...)...), list(0, 0)...)
		return append(be.AppendUint32(b, typ), u64(0, begin)...)
	}
	none := list(0, 0)
	tail := make([]byte, 200)
	for what, b := range map[string][]byte{
		"2^40 dimensions":            head(u64(0), list(0x0A, 1<<40), tail),
		"negative dimensions":        head(u64(0), list(0x0A, 1<<63), tail),
		"2^30 attributes":            head(u64(0), none, list(0x0C, 1<<30), tail),
		"2^40 variables":             head(u64(0), none, none, list(0x0B, 1<<40), tail),
		"a name of 4 GiB":            head(u64(0), list(0x0A, 1), u64(1<<32), tail),
		"a name of 2^62":             head(u64(0), list(0x0A, 1), u64(1<<62), tail),
		"an attribute of 2^61":       head(u64(0), none, list(0x0C, 1), name("a"), be.AppendUint32(nil, ncDouble), u64(1<<61), tail),
		"2^60 cells":                 head(u64(0), list(0x0A, 2), name("x"), u64(1<<30), name("y"), u64(1<<30), none, list(0x0B, 1), variable(ncDouble, 300, 0, 1), tail),
		"cells beyond 2^64":          head(u64(0), list(0x0A, 1), name("x"), u64(1<<40), none, list(0x0B, 1), variable(ncDouble, 300, 0, 0, 0, 0), tail),
		"2^62 records":               head(u64(1<<62), list(0x0A, 1), name("t"), u64(0), none, list(0x0B, 1), variable(ncDouble, 300, 0), tail),
		"negative records":           head(u64(1<<63), list(0x0A, 1), name("t"), u64(0), none, list(0x0B, 1), variable(ncDouble, 300, 0), tail),
		"records of 2^62 bytes":      head(u64(3), list(0x0A, 2), name("t"), u64(0), name("x"), u64(1<<61), none, list(0x0B, 1), variable(ncShort, 300, 0, 1), tail),
		"sums beyond 2^63":           head(u64(0), list(0x0A, 2), name("t"), u64(0), name("x"), u64(1<<61), none, list(0x0B, 2), variable(ncShort, 300, 0, 1), variable(ncShort, 300, 0, 1), tail),
		"data in the header":         head(u64(0), list(0x0A, 1), name("x"), u64(1), none, list(0x0B, 1), variable(ncDouble, 8, 0), tail),
		"a negative offset":          head(u64(0), list(0x0A, 1), name("x"), u64(1), none, list(0x0B, 1), variable(ncDouble, 1<<63, 0), tail),
		"data at 2^63":               head(u64(0), list(0x0A, 1), name("x"), u64(1), none, list(0x0B, 1), variable(ncDouble, math.MaxInt64, 0), tail),
		"a dimension that is not":    head(u64(0), list(0x0A, 1), name("x"), u64(1), none, list(0x0B, 1), variable(ncDouble, 300, 1), tail),
		"type 12":                    head(u64(0), list(0x0A, 1), name("x"), u64(1), none, list(0x0B, 1), variable(12, 300, 0), tail),
		"records in the middle":      head(u64(1), list(0x0A, 2), name("t"), u64(0), name("x"), u64(1), none, list(0x0B, 1), variable(ncByte, 300, 1, 0), tail),
		"two record dimensions":      head(u64(1), list(0x0A, 2), name("t"), u64(0), name("u"), u64(0), none, none, tail),
		"a name of two lines":        head(u64(1), list(0x0A, 1), name("a\nb"), u64(4), none, none, tail),
		"an empty name":              head(u64(1), list(0x0A, 1), name(""), u64(4), none, none, tail),
		"a wrong tag":                head(u64(1), list(0x0B, 1), name("a"), u64(4), none, none, tail),
		"an unknown version":         []byte("CDF\x03\x00\x00\x00\x00"),
		"text":                       []byte("lat,lon,month\n"),
		"nothing":                    nil,
		"three bytes of a signature": []byte("CDF"),
	} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, err := Open(bytes.NewReader(b), int64(len(b)), "bad.nc")
		runtime.ReadMemStats(&after)
		var file *weather.FileError
		if !errors.As(err, &file) || file.File != "bad.nc" || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v", what, err)
		}
		if n := after.TotalAlloc - before.TotalAlloc; n > 1<<19 {
			t.Errorf("%s: %d bytes allocated", what, n)
		}
	}
	// A type of CDF-5 in a file that is none.
	c := grid(2)
	c.vars[3].typ = ncUint
	b := c.bytes()
	if _, err := Open(bytes.NewReader(b), int64(len(b)), "bad.nc"); err == nil {
		t.Error("an unsigned int in a 64-bit offset file is read")
	}
}

// A vast file is its header, and behind it 4-byte floats that tell their place
// in the file, in units of 2^16 bytes.
type vast struct{ head []byte }

func (v vast) ReadAt(b []byte, at int64) (int, error) {
	for i := range b {
		if p := at + int64(i); p < int64(len(v.head)) {
			b[i] = v.head[p]
		} else {
			b[i] = external(ncFloat, float64(p>>16))[p%4]
		}
	}
	return len(b), nil
}

// Offsets beyond 4 GiB, of a 64-bit offset and a CDF-5 file of 32 GB.
func TestVast(t *testing.T) {
	const records, side = 100_000, 200
	for _, version := range []byte{2, 5} {
		c := &cdf{version: version, records: records, dims: []cdfDim{{"time", 0}, {"lat", side}, {"lon", side}}}
		c.vars = []cdfVar{{name: "a", typ: ncFloat, dims: []int{0, 1, 2}}, {name: "b", typ: ncFloat, dims: []int{0, 1, 2}}}
		const slab = side * side * 4
		head := len(c.header([]int{0, 0}))
		begin := (head + 3) / 4 * 4
		head2 := c.header([]int{begin, begin + slab})
		size := int64(begin) + records*2*slab
		f, err := Open(vast{head2}, size, "vast.nc")
		if err != nil {
			t.Fatal(err)
		}
		for _, at := range [][]int{{0, 0, 0}, {99_999, 199, 199}, {50_000, 3, 7}} {
			got := make([]float64, 1)
			if err := f.Var("b").Read(got, at, []int{1, 1, 1}); err != nil {
				t.Fatal(err)
			}
			want := (int64(begin) + slab + int64(at[0])*2*slab + int64(at[1]*side+at[2])*4) >> 16
			if got[0] != float64(want) {
				t.Errorf("CDF-%d: value %v is that at %v, want %d", version, at, got[0], want)
			}
		}
		if _, err := Open(vast{head2}, size-1, "vast.nc"); err == nil || !strings.Contains(err.Error(), "vast.nc: b: truncated") {
			t.Errorf("CDF-%d, a byte short: %v", version, err)
		}
	}
}
