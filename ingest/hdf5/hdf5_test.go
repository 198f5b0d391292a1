package hdf5

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"stillrow/ingest/weather/realfiles"
)

// A layoutCase is a variable t(time, y, x) of 7 × 5 × 6 values, and how ncgen is
// told to store it.
type layoutCase struct {
	name, kind, special string
	chunk               []int
}

var layoutCases = []layoutCase{
	{"contiguous", "float", "_Storage = \"contiguous\"", nil},
	{"bytes", "byte", "_Storage = \"contiguous\"", nil},
	{"ubytes", "ubyte", "_ChunkSizes = 7, 5, 6", []int{7, 5, 6}},
	{"shorts", "short", "_ChunkSizes = 3, 2, 4", []int{3, 2, 4}},
	{"ushorts", "ushort", "_ChunkSizes = 3, 2, 4; _Shuffle = \"true\"", []int{3, 2, 4}},
	{"ints", "int", "_ChunkSizes = 1, 5, 6; _DeflateLevel = 1", []int{1, 5, 6}},
	{"uints", "uint", "_ChunkSizes = 7, 1, 1; _DeflateLevel = 9; _Shuffle = \"true\"", []int{7, 1, 1}},
	{"longs", "int64", "_ChunkSizes = 3, 2, 4; _Fletcher32 = \"true\"", []int{3, 2, 4}},
	{"ulongs", "uint64", "_ChunkSizes = 3, 2, 4; _DeflateLevel = 1; _Fletcher32 = \"true\"; _Shuffle = \"true\"", []int{3, 2, 4}},
	{"doubles", "double", "_ChunkSizes = 3, 2, 4; _DeflateLevel = 1; _Shuffle = \"true\"", []int{3, 2, 4}},
	{"big_floats", "float", "_Endianness = \"big\"; _Storage = \"contiguous\"", nil},
	{"big_doubles", "double", "_Endianness = \"big\"; _ChunkSizes = 3, 2, 4; _DeflateLevel = 1", []int{3, 2, 4}},
	{"big_shorts", "short", "_Endianness = \"big\"; _ChunkSizes = 3, 2, 4; _Fletcher32 = \"true\"", []int{3, 2, 4}},
	{"big_ints", "int", "_Endianness = \"big\"; _Storage = \"contiguous\"", nil},
}

func layoutValue(i int) float64 { return float64(i % 120) }

// layoutCDL writes the cases as CDL, with a variable along an unlimited
// dimension, of which only some records of chunks are written.
func layoutCDL() string {
	var head, data strings.Builder
	head.WriteString("netcdf made {\ndimensions: time = 7; y = 5; x = 6; record = UNLIMITED;\nvariables:\n")
	data.WriteString("data:\n")
	for _, c := range layoutCases {
		fmt.Fprintf(&head, "%s %s(time, y, x);\n", c.kind, c.name)
		for _, s := range strings.Split(c.special, ";") {
			fmt.Fprintf(&head, "%s:%s;\n", c.name, strings.TrimSpace(s))
		}
		fmt.Fprintf(&data, "%s = %s;\n", c.name, series(210, layoutValue))
	}
	head.WriteString(`float grown(record, x); grown:_ChunkSizes = 4, 6; grown:_FillValue = -9.5f;
short part(record); part:_ChunkSizes = 3; part:_FillValue = -7s; part:_Endianness = "big";
double alone; alone:_FillValue = 4.;
float never(y, x); never:_ChunkSizes = 2, 2; never:_FillValue = 1.25f;
float y(y); y:units = "degrees_north"; y:valid_range = -90.f, 90.f;
char letters(time, y);
`)
	fmt.Fprintf(&data, "grown = %s;\npart = 1, 2;\nalone = 6.5;\ny = 1, 2, 3, 4, 5;\n", series(66, layoutValue))
	data.WriteString("letters = \"abcde\", \"fghij\", \"k\";\n")
	return head.String() + ":title = \"Halvane\"; :numbers = 1, 2, 3;\n" + data.String() + "}\n"
}

func checkLayouts(t *testing.T, f *File, chunks bool) {
	t.Helper()
	for _, c := range layoutCases {
		d := find(t, f, c.name)
		if !slices.Equal(d.Shape, []int{7, 5, 6}) || chunks && !slices.Equal(d.Chunk, c.chunk) {
			t.Errorf("%s: shape %d in chunks of %d, not %d", c.name, d.Shape, d.Chunk, c.chunk)
		}
		compare(t, d, values(t, d), made(210, layoutValue))
	}
	grown := find(t, f, "grown")
	compare(t, grown, values(t, grown), made(66, layoutValue))
	part := find(t, f, "part")
	compare(t, part, values(t, part), []float64{1, 2, -7, -7, -7, -7, -7, -7, -7, -7, -7})
	compare(t, find(t, f, "alone"), values(t, find(t, f, "alone")), []float64{6.5})
	never := find(t, f, "never")
	compare(t, never, values(t, never), made(30, func(int) float64 { return 1.25 }))
	if !slices.Equal(grown.Unlimited, []bool{true, false}) || slices.Contains(never.Unlimited, true) {
		t.Errorf("unlimited are %v and %v", grown.Unlimited, never.Unlimited)
	}
	letters := find(t, f, "letters")
	if got := string(whole(t, letters)); letters.Class != String || letters.Size != 1 || !strings.HasPrefix(got, "abcdefghijk") {
		t.Errorf("letters are %q of class %d", got, letters.Class)
	}
	if want := [][]string{nil, {"x"}}; len(grown.Scales) != 2 || !slices.Equal(grown.Scales[1], want[1]) {
		t.Errorf("the scales of grown are %q", grown.Scales)
	}
	if y := find(t, f, "y"); !y.IsScale || grown.IsScale {
		t.Errorf("y is a scale: %v; grown is one: %v", y.IsScale, grown.IsScale)
	}
}

func TestReadsWhatNcgenWrote(t *testing.T) {
	cdl := layoutCDL()
	for _, kind := range [][]string{{"-k", "nc4"}, {"-7"}} {
		if kind[0] == "-7" { // the classic model has no unsigned and no long types
			cdl = strings.NewReplacer("ubyte ", "byte ", "ushort ", "short ", "uint64 ", "double ", "uint ", "int ", "int64 ", "double ").Replace(cdl)
		}
		f := open(t, generate(t, cdl, kind...))
		checkLayouts(t, f, true)
		var title, numbers, units, valid *Attr
		for i, a := range f.Attrs {
			switch a.Name {
			case "title":
				title = &f.Attrs[i]
			case "numbers":
				numbers = &f.Attrs[i]
			}
		}
		y := find(t, f, "y")
		for i, a := range y.Attrs {
			switch a.Name {
			case "units":
				units = &y.Attrs[i]
			case "valid_range":
				valid = &y.Attrs[i]
			case "REFERENCE_LIST", "DIMENSION_LIST":
				t.Errorf("%s is shown", a.Name)
			}
		}
		if title == nil || title.Text != "Halvane" || title.Numbers != nil || numbers == nil || !slices.Equal(numbers.Numbers, []float64{1, 2, 3}) {
			t.Errorf("global attributes are %v", f.Attrs)
		}
		if units == nil || units.Text != "degrees_north" || valid == nil || !slices.Equal(valid.Numbers, []float64{-90, 90}) {
			t.Errorf("attributes of y are %v", y.Attrs)
		}
	}
}

func TestReadsWhatNccopyWrote(t *testing.T) {
	from := generate(t, layoutCDL())
	for _, args := range [][]string{{"-d1", "-s", "-c", "time/2,y/5,x/1"}, {"-d9", "-c", "time/7,y/2,x/5,record/5"}, {"-d0", "-c", "time/7,y/5,x/6"}} {
		to := filepath.Join(t.TempDir(), "copied.nc")
		run(t, "nccopy", append(args, from, to)...)
		checkLayouts(t, open(t, to), false)
	}
}

// The library's latest format has other chunk indexes, headers and groups than
// the one that NetCDF tools write: fixed and extensible arrays, single chunks,
// B-trees of version 2.
func TestReadsWhatH5repackWrote(t *testing.T) {
	from := generate(t, layoutCDL())
	for _, args := range [][]string{{"-L"}, {"-L", "-f", "GZIP=3"}, {"-L", "-f", "SHUF", "-f", "GZIP=3", "-f", "FLET"}, {"--low=1", "--high=1"}, {"-L", "-c", "1", "-d", "1"}} {
		to := filepath.Join(t.TempDir(), "packed.nc")
		run(t, "h5repack", append(args, from, to)...)
		checkLayouts(t, open(t, to), !slices.Contains(args, "-f")) // filters make chunks of contiguous data
	}
}

func TestManyVariablesAndAttributes(t *testing.T) {
	var head, data strings.Builder
	head.WriteString("netcdf many {\ndimensions: x = 3;\nvariables:\n")
	data.WriteString("data:\n")
	for i := range 70 {
		fmt.Fprintf(&head, "int v%d(x);\n", i)
		fmt.Fprintf(&data, "v%d = %d, %d, %d;\n", i, i, i+1, i+2)
		for j := range 15 {
			fmt.Fprintf(&head, "v%d:text%d = \"value %d of %d\"; v%d:number%d = %d.5;\n", i, j, j, i, i, j, i*j)
		}
	}
	f := open(t, generate(t, head.String()+data.String()+"}\n"))
	if len(f.Datasets) != 71 {
		t.Fatalf("%d datasets", len(f.Datasets))
	}
	for i := range 70 {
		d := find(t, f, fmt.Sprintf("v%d", i))
		compare(t, d, values(t, d), []float64{float64(i), float64(i + 1), float64(i + 2)})
		var shown []Attr
		for _, a := range d.Attrs {
			if !strings.HasPrefix(a.Name, "_") {
				shown = append(shown, a)
			}
		}
		if len(shown) != 30 {
			t.Fatalf("%s has %d attributes: %v", d.Name, len(shown), shown)
		}
		for j := range 15 { // in the order of the text above
			text, number := shown[2*j], shown[2*j+1]
			if text.Text != fmt.Sprintf("value %d of %d", j, i) || number.Numbers[0] != float64(i*j)+0.5 {
				t.Errorf("%s: attributes %v and %v", d.Name, text, number)
			}
		}
	}
}

// Indexes of more chunks than a node or a page holds: B-trees of several levels,
// fixed arrays in pages, extensible arrays in blocks of several sizes.
func TestManyChunks(t *testing.T) {
	const n, rows, columns = 2600, 52, 50
	lines := make([]string, rows)
	for r := range lines {
		lines[r] = "{" + series(columns, func(i int) float64 { return layoutValue(r*columns + i) }) + "}"
	}
	from := generate(t, `netcdf chunks {
dimensions: a = 2600; b = UNLIMITED; c = UNLIMITED; d = UNLIMITED; e = 52;
variables: int fixed(a); fixed:_ChunkSizes = 1; int grown(b); grown:_ChunkSizes = 1;
int both(c, d); both:_ChunkSizes = 1, 1; int second(e, d); second:_ChunkSizes = 1, 1;
data: fixed = `+series(n, layoutValue)+"; grown = "+series(n, layoutValue)+`;
both = `+strings.Join(lines, ", ")+"; second = "+strings.Join(lines, ", ")+`;
}
`)
	paths := []string{from}
	for _, args := range [][]string{{"-L"}, {"-L", "-f", "GZIP=1"}} {
		to := filepath.Join(t.TempDir(), "packed.nc")
		run(t, "h5repack", append(args, from, to)...)
		paths = append(paths, to)
	}
	for _, path := range paths {
		f := open(t, path)
		for _, name := range []string{"fixed", "grown", "both", "second"} {
			d := find(t, f, name)
			compare(t, d, values(t, d), made(n, layoutValue))
		}
	}
}

func TestWhatIsNotReadLeavesTheRest(t *testing.T) {
	f := open(t, generate(t, `netcdf mixed {
types: byte enum sky { clear = 0, cloudy = 1 }; compound pair { float a; float b; }; int(*) ragged;
dimensions: x = 2;
variables: sky cover(x); pair both(x); ragged rows(x); string names(x); float good(x);
string good:words = "one", "two";
data: cover = clear, cloudy; both = {1, 2}, {3, 4}; rows = {1}, {2, 3}; names = "a", "b"; good = 5, 6;
group: inner { variables: float hidden(x); data: hidden = 1, 2; }
}
`))
	good := find(t, f, "good")
	compare(t, good, values(t, good), []float64{5, 6})
	words := slices.IndexFunc(good.Attrs, func(a Attr) bool { return a.Name == "words" })
	if words < 0 || good.Attrs[words].Text != "one, two" {
		t.Errorf("attributes %v", good.Attrs)
	}
	if !slices.Equal(f.Groups, []string{"inner"}) {
		t.Errorf("groups %q", f.Groups)
	}
	for name, feature := range map[string]string{"cover": "enumeration", "both": "compound", "rows": "variable-length", "names": "strings of variable length"} {
		d := find(t, f, name)
		err := d.Read(make([]byte, 2*d.Size), []int{0}, []int{2})
		if !errors.Is(err, ErrUnsupported) || !strings.Contains(err.Error(), feature) || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
		if d.Class != Other && name != "names" {
			t.Errorf("%s has class %d", name, d.Class)
		}
	}
}

func TestNamesTheFilterThatIsNotRead(t *testing.T) {
	from := generate(t, layoutCDL())
	for filter, name := range map[string]string{"SZIP=8,NN": "szip", "NBIT": "n-bit", "SOFF=0,IN": "scale-offset"} {
		to := filepath.Join(t.TempDir(), "packed.nc")
		run(t, "h5repack", "-f", "ints:"+filter, from, to)
		f := open(t, to)
		d := find(t, f, "ints")
		err := d.Read(make([]byte, 840), []int{0, 0, 0}, d.Shape)
		if !errors.Is(err, ErrUnsupported) || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", filter, err)
		}
		compare(t, find(t, f, "doubles"), values(t, find(t, f, "doubles")), made(210, layoutValue))
	}
}

// Shared messages are in a table that is not read; attributes among them may be
// those that say what the numbers mean.
func TestSharedMessagesLeaveNoWrongNumbers(t *testing.T) {
	to := filepath.Join(t.TempDir(), "packed.nc")
	run(t, "h5repack", "-s", "8", generate(t, layoutCDL()), to)
	y := find(t, open(t, to), "y")
	if err := y.Read(make([]byte, 4*5), []int{0}, []int{5}); !errors.Is(err, ErrUnsupported) || !strings.Contains(err.Error(), "shared message table") {
		t.Errorf("y, whose messages are shared: %v", err)
	}
	whole := open(t, generate(t, layoutCDL()))
	shared := message{kind: msgAttribute, shared: true, body: &cursor{b: []byte{3, 1, 0, 0, 0, 0, 0, 0, 0, 0}, offsetSize: 8}}
	list, err := whole.Datasets[0].in.attributes([]message{shared})
	if err != nil || !errors.Is(list.lost, ErrUnsupported) {
		t.Errorf("a shared attribute: %v, lost: %v", err, list.lost)
	}
}

// A real file of a satellite data set, against ncdump's reading of it.
func TestRealFile(t *testing.T) {
	path := realfiles.Path(t, "grid/POWER_Regional_Monthly_20220101_20221231_037d00N_039d00N_023d00E_025d00E_UTC.nc")
	f := open(t, path)
	checked := 0
	for _, d := range f.Datasets {
		if d.Class == String || d.Class == Other {
			continue
		}
		compare(t, d, values(t, d), dumped(t, path, d.Name))
		checked++
	}
	if checked < 4 {
		t.Errorf("only %d variables of numbers", checked)
	}
}
