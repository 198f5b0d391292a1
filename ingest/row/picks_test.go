package row

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"stillrow/ingest/sky"
)

// A row's cells at once must be what strconv and the column's own bounds make of
// each, to the last bit, and the same must be recorded as bad; numbers of all
// lengths, with and without sign and point, codes, blanks and words.
func TestValuesEqualStrconv(t *testing.T) {
	columns := []Column{
		{Name: "plain", Missing: 9999, Above: true, Factor: 1, Range: sky.Range{Min: -1e9, Max: 1e9}},
		{Name: "below", Missing: -999, Factor: 0.1, Offset: -273.15, Range: sky.Range{Min: -300, Max: 500}},
		{Name: "zero", Missing: 99, Above: true, ZeroGone: true, Factor: 1, Range: sky.Range{Min: -50, Max: 98}},
		{Name: "absent", Factor: 1},
		{Name: "word", Missing: -999, Word: "N/A", Factor: 5. / 9, Offset: -160. / 9, Range: sky.Range{Min: -90, Max: 60}},
		{Name: "code inside", Missing: 999, Above: true, Factor: 1, Range: sky.Range{Min: 0, Max: 2000}},
	}
	fields := []int{1, 0, 2, -1, 5, 3}
	r := rand.New(rand.NewPCG(7, 8))
	cell := func() string {
		switch r.IntN(10) {
		case 0:
			return strconv.FormatFloat((r.Float64()-0.5)*math.Pow(10, float64(r.IntN(9))), 'f', r.IntN(10), 64)
		case 1:
			return strconv.Itoa(r.IntN(2000) - 1000)
		case 2:
			return fmt.Sprintf("%.1f", r.NormFloat64()*30)
		case 3:
			return []string{"999", "-999", "99", "9999", "0", "-0", "998.9999", "N/A", "n/a", ""}[r.IntN(10)]
		case 4:
			return []string{" 7", "7 ", "+7", "-", ".", "-.", "-.5", ".5", "5.", "--1", "1-1", "1..2", "1e2", "0x1", "\xb1", "1\xae"}[r.IntN(16)]
		default: // whatever these make
			b := make([]byte, r.IntN(10))
			for i := range b {
				b[i] = "0123456789.-/:1234567890"[r.IntN(24)]
			}
			return string(b)
		}
	}
	plain := func(cell string, col *Column) (v float64, bad bool) {
		trimmed := strings.TrimSpace(cell)
		v, err := strconv.ParseFloat(trimmed, 64)
		switch {
		case trimmed == "" || col.Word != "" && strings.EqualFold(trimmed, col.Word):
			return math.NaN(), false
		case err != nil || strings.Trim(trimmed, "0123456789.+-eE") != "" || strings.ContainsAny(trimmed, "xX_"):
			return math.NaN(), true
		case col.Above && v >= col.Missing, !col.Above && v <= col.Missing, col.ZeroGone && v == 0:
			return math.NaN(), false
		}
		v = v*col.Factor + col.Offset
		if v < col.Range.Min || v > col.Range.Max {
			return math.NaN(), true
		}
		return v, false
	}
	picks := NewPicks(fields, columns)
	var f Fields
	for row := range 50_000 {
		list := make([]string, 6+row%3)
		for i := range list {
			list[i] = cell()
		}
		if row%100 == 0 { // more fields than two bytes each are kept for
			list = append(list, make([]string, 250)...)
		}
		f.Split([]byte(strings.Join(list, ",")))
		cells := Cells{File: "f"}
		got, bad := cells.Values(&f, 1, picks), 0
		for i := range columns {
			want, isBad := math.NaN(), false
			if fields[i] >= 0 {
				want, isBad = plain(list[fields[i]], &columns[i])
			}
			if isBad {
				bad++
			}
			if math.Float64bits(got[i]) != math.Float64bits(want) && !(math.IsNaN(got[i]) && math.IsNaN(want)) {
				t.Fatalf("%q, %s: %v, want %v", list, columns[i].Name, got[i], want)
			}
		}
		if cells.Count != bad {
			t.Fatalf("%q: %d recorded as bad, want %d", list, cells.Count, bad)
		}
	}
}

// Lines of many fields and many bytes are split like short ones, whatever memory
// lies behind them.
func TestSplitLong(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 10))
	memory := make([]byte, 200_000)
	for i := range memory {
		memory[i] = ",1,23,4567890,,,"[r.IntN(16)]
	}
	sparse := bytes.Repeat([]byte("12345678901234567890123456789,"), 5000)
	var f Fields
	for _, n := range []int{0, 31, 32, 33, 300, 400, 500, 600, 1000, 64_990, 65_000, 65_001, 65_600, 150_000, 90} {
		for _, line := range [][]byte{memory[:n], memory[len(memory)-n:], sparse[:n]} {
			f.Split(line)
			want := bytes.Split(line, []byte(","))
			if f.Len() != len(want) {
				t.Fatalf("%d bytes: %d fields, want %d", n, f.Len(), len(want))
			}
			for i := range want {
				if !bytes.Equal(f.Field(i), want[i]) {
					t.Fatalf("%d bytes, field %d: %q, want %q", n, i, f.Field(i), want[i])
				}
			}
			if half := len(want) / 2; half > 0 && !bytes.Equal(f.First(half), bytes.Join(want[:half], []byte(","))) {
				t.Errorf("%d bytes: the first %d fields are %q", n, half, f.First(half))
			}
		}
	}
}

// A NUL is told of in its own line, not in one before that lies in the same buffer.
func TestBinaryLater(t *testing.T) {
	l := NewLines("f", strings.NewReader(strings.Repeat("a line\r\n", 20)+"bin\x00ary\nlast\n"))
	for i := range 20 {
		if b, err := l.Next(); err != nil || string(b) != "a line" || l.Line() != i+1 {
			t.Fatalf("line %d: %q, line %d, %v", i+1, b, l.Line(), err)
		}
	}
	if _, err := l.Next(); err == nil || err.Error() != "f:21: binary content, not text" {
		t.Errorf("%v", err)
	}
}

// Where there is a vector way of finding fields, it finds those of the plain one,
// and both leave the same lines to the slow one.
func TestStartsVector(t *testing.T) {
	if !hasVector {
		t.Skip("no AVX-512 with VBMI2")
	}
	r := rand.New(rand.NewPCG(11, 12))
	for n := range 3000 {
		line := make([]byte, 1+n%700)
		share := r.IntN(100)
		for i := range line {
			line[i] = "+-\xac\x00.7"[r.IntN(6)]
			if r.IntN(100) < share {
				line[i] = ','
			}
		}
		var plain, vector [nearRoom]byte
		want := starts(&plain, line)
		got := startsVector(&vector, &line[0], len(line), mostNear-32)
		if got != want || !bytes.Equal(vector[2:2*max(want, 1)], plain[2:2*max(want, 1)]) {
			t.Fatalf("%q: %d fields from %v, want %d from %v", line, got, vector, want, plain)
		}
	}
}
