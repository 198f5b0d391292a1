package row

import (
	"bytes"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
)

// Number must give what strconv gives, to the last bit.
func TestNumberEqualsStrconv(t *testing.T) {
	cases := []string{"0", "-0", "1", "-1", "+2.5", "007", "0.001", "00.10", ".5", "5.", "-.25", "1013.25", "123456789012345",
		"1234567890123456", "0.1234567890123456789", "99999999999999999999", "0.00000000000000000000000012", "1e3", "-2.5E-3",
		"0000000000000000000000001.5", "4.35", "0.3", "2.675"}
	r := rand.New(rand.NewPCG(1, 2))
	for range 20000 {
		cases = append(cases, strconv.FormatFloat((r.Float64()-0.5)*math.Pow(10, float64(r.IntN(9))), 'f', r.IntN(10), 64))
	}
	for _, c := range cases {
		want, err := strconv.ParseFloat(c, 64)
		if err != nil {
			t.Fatal(err)
		}
		if got, ok := Number([]byte(c)); !ok || math.Float64bits(got) != math.Float64bits(want) {
			t.Errorf("%q: %v %v, want %v", c, got, ok, want)
		}
	}
	if v, ok := Number([]byte("  7.25 ")); !ok || v != 7.25 {
		t.Errorf("with spaces: %v %v", v, ok)
	}
	for _, c := range []string{"", " ", "-", "+", ".", "-.", "1.2.3", "1-2", "--1", "1,5", "NaN", "inf", "0x10", "1_000", "7.O", "e5", "1e999"} {
		if v, ok := Number([]byte(c)); ok {
			t.Errorf("%q is read as %v", c, v)
		}
	}
}

func TestWhole(t *testing.T) {
	for c, want := range map[string]int{"0": 0, " 24": 24, "007": 7, "123456789": 123456789} {
		if n, ok := Whole([]byte(c)); !ok || n != want {
			t.Errorf("%q: %d %v", c, n, ok)
		}
	}
	for _, c := range []string{"", "1.0", "-1", "1234567890", "x"} {
		if n, ok := Whole([]byte(c)); ok {
			t.Errorf("%q is read as %d", c, n)
		}
	}
}

func TestSplit(t *testing.T) {
	for line, want := range map[string][]string{
		"":                         {""},
		"a":                        {"a"},
		"a,b":                      {"a", "b"},
		",-1,,c":                   {"", "-1", "", "c"},
		"a,":                       {"a", ""},
		"1234567,89,-,-,-,-,+,,,x": {"1234567", "89", "-", "-", "-", "-", "+", "", "", "x"},
	} {
		var got []string
		for _, f := range Split([]byte(line), 100) {
			got = append(got, string(f))
		}
		if !slices.Equal(got, want) {
			t.Errorf("%q: %q, want %q", line, got, want)
		}
	}
	if got := Split([]byte("a,b, ,,"), 3); len(got) != 3 {
		t.Errorf("trimmed to 3: %q", got)
	}
	// Against the standard library on lines of commas, their neighbours in ASCII
	// and bytes with the top bit, at every length.
	r := rand.New(rand.NewPCG(3, 4))
	var f Fields
	for n := range 2000 {
		line := make([]byte, n%70)
		for i := range line {
			line[i] = "+,-,\xac\x00,\xff.7"[r.IntN(10)]
		}
		want := bytes.Split(line, []byte(","))
		f.Split(line)
		if f.Len() != len(want) {
			t.Fatalf("%q: %d fields, want %d", line, f.Len(), len(want))
		}
		for i := range want {
			if !bytes.Equal(f.Field(i), want[i]) {
				t.Errorf("%q, field %d: %q, want %q", line, i, f.Field(i), want[i])
			}
		}
	}
}

func TestLines(t *testing.T) {
	long := strings.Repeat("x", 200_000)
	l := NewLines("f", strings.NewReader("\xef\xbb\xbfone\r\ntwo\n\n"+long+"\nlast"))
	want := []string{"one", "two", "", long, "last"}
	for i, w := range want {
		b, err := l.Next()
		if err != nil || string(b) != w || l.Line() != i+1 || l.Cut() != (i == len(want)-1) {
			t.Fatalf("line %d: %.20q, line %d, cut %v, %v", i+1, b, l.Line(), l.Cut(), err)
		}
	}
	if _, err := l.Next(); err != io.EOF {
		t.Errorf("at the end: %v", err)
	}

	l = NewLines("f", strings.NewReader("one\n"+strings.Repeat("x", maxLine+1<<17)))
	l.Next()
	if _, err := l.Next(); err == nil || err.Error() != "f:2: a line of over 1048576 bytes, the most a line may have; not a weather table" {
		t.Errorf("endless line: %v", err)
	}
	broken := errors.New("disk on fire")
	l = NewLines("f", io.MultiReader(strings.NewReader("one\n"), failing{broken}))
	l.Next()
	if _, err := l.Next(); !errors.Is(err, broken) || err.Error() != "f:2: disk on fire" {
		t.Errorf("read error: %v", err)
	}
}

// A line of a gigabyte, made as it is read, is refused soon after the limit: what
// is taken of it and held stays near a mebibyte.
func TestEndlessLine(t *testing.T) {
	endless := &repeated{left: 1 << 30}
	l := NewLines("f", io.MultiReader(strings.NewReader("one\n"), endless))
	if _, err := l.Next(); err != nil {
		t.Fatal(err)
	}
	_, err := l.Next()
	var fileErr *weather.FileError
	if !errors.As(err, &fileErr) || fileErr.Line != 2 || !strings.Contains(err.Error(), strconv.Itoa(maxLine)) {
		t.Errorf("error %v, want one with line 2 and the limit of %d", err, maxLine)
	}
	if taken := 1<<30 - endless.left; taken > maxLine+1<<18 || cap(l.long) > 2*maxLine {
		t.Errorf("%d bytes of the line taken, room for %d held; the limit is %d", taken, cap(l.long), maxLine)
	}
}

// A repeated reader gives so many times the digit 7.
type repeated struct{ left int }

func (r *repeated) Read(b []byte) (int, error) {
	if r.left == 0 {
		return 0, io.EOF
	}
	n := min(len(b), r.left)
	for i := range b[:n] {
		b[i] = '7'
	}
	r.left -= n
	return n, nil
}

type failing struct{ err error }

func (f failing) Read([]byte) (int, error) { return 0, f.err }

func TestText(t *testing.T) {
	for in, want := range map[string]string{
		` "TUCSON, AP" `:   "TUCSON, AP",
		"S\xe3o Paulo":     "São Paulo",
		"Zürich":           "Zürich",
		"a\x00b\x07c\td":   "abcd",
		`say "hi"`:         `say "hi"`,
		`"`:                `"`,
		"\x80 Latin-1 gap": "Latin-1 gap",
	} {
		if got := Text([]byte(in)); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
	for in, want := range map[string]string{
		"USA_CO_Boulder.724699 (TMY2)": "USA_CO_Boulder.724699-TMY2",
		"  ":                           "", "São Paulo": "S-o-Paulo", "747188": "747188", "a//b": "a-b",
	} {
		if got := Slug(in); got != want {
			t.Errorf("slug of %q: %q, want %q", in, got, want)
		}
	}
}

// Half an hour's records make a mean, fewer do not.
func TestGridMeans(t *testing.T) {
	g := NewGrid(1, 4)
	h := Header{File: "f", Line: 1}
	for _, v := range []float64{1, math.NaN(), math.NaN(), 4} {
		at, err := g.Put(h, Stamp{2001, 1, 1, 0})
		if err != nil {
			t.Fatal(err)
		}
		g.Add(0, at, v)
	}
	at, err := g.Put(h, Stamp{2001, 1, 1, 1})
	if err != nil {
		t.Fatal(err)
	}
	g.Add(0, at, 7)
	c := g.Column(0)
	if c[0] != 2.5 || !math.IsNaN(c[1]) || !math.IsNaN(c[2]) {
		t.Errorf("%v, want 2.5 and two missing", c[:3])
	}
}

// The year of a month is the one most of its rows have.
func TestGridYears(t *testing.T) {
	g := NewGrid(0, 1)
	for hour, y := range []int{1999, 2004, 2004, 1987, 1987} {
		if _, err := g.Put(Header{}, Stamp{y, 1, 1, hour}); err != nil {
			t.Fatal(err)
		}
	}
	if y := g.Years(); y[0] != 1987 || y[1] != 0 {
		t.Errorf("years %v, want the earlier of two equals, and none", y)
	}
}

func TestColumnFactor(t *testing.T) {
	c := Cells{File: "f"}
	col := Column{Name: "pressure", Missing: 999999, Above: true, Factor: 0.01, Range: sky.AirPressure}
	if v := c.Value([]byte("98765"), 1, &col); math.Abs(v-987.65) > 1e-9 {
		t.Errorf("%v hPa", v)
	}
	for range 2 * keptBadCells {
		c.Value([]byte(strings.Repeat("letters", 20)), 2, &col)
	}
	if len(c.Bad) != keptBadCells || c.Count != 2*keptBadCells || len(c.Bad[0].Value) > 50 {
		t.Errorf("%d kept of %d, first %q", len(c.Bad), c.Count, c.Bad[0].Value)
	}
}
