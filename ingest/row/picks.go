package row

import (
	"encoding/binary"
	"math"
	"math/bits"
)

// Picks are the cells of a row that are read.
type Picks struct {
	columns []Column
	picks   []pick
	values  []float64
}

// A pick is one of them. Short numbers that are between low and high in our unit
// are values; any other cell needs a closer look.
type pick struct {
	field, column  int
	near           uint8 // field, of rows that Fields.near holds
	factor, offset float64
	low, high      float64
	text           uint64 // the cell that was read last, as short takes it; 0 for none
}

// NewPicks takes the field of each column, counted from 0; negative for a column
// that the file lacks.
func NewPicks(fields []int, columns []Column) *Picks {
	p := &Picks{columns: columns, values: make([]float64, len(columns))}
	for i, field := range fields {
		p.values[i] = math.NaN()
		if field < 0 {
			continue
		}
		col := &columns[i]
		low, high := col.Range.Min, col.Range.Max
		if code := col.Missing*col.Factor + col.Offset; col.Above {
			high = min(high, math.Nextafter(code, math.Inf(-1)))
		} else {
			low = max(low, math.Nextafter(code, math.Inf(1)))
		}
		if col.ZeroGone && low <= col.Offset && col.Offset <= high || !(col.Factor > 0) {
			low = math.Inf(1)
		}
		p.picks = append(p.picks, pick{field, i, uint8(min(field, mostNear)), col.Factor, col.Offset, low, high, 0})
	}
	return p
}

// Values reads the cells of a row as Value does, NaN for a column that the file
// lacks. They are valid until the next call.
func (c *Cells) Values(f *Fields, line int, p *Picks) []float64 {
	for i := 0; ; i++ {
		if i += p.quick(f, p.picks[i:]); i == len(p.picks) {
			return p.values
		}
		at := &p.picks[i]
		at.text = 0
		p.values[at.column] = c.Value(f.Field(at.field), line, &p.columns[at.column])
	}
}

// quick reads cells up to the first that needs a closer look, and gives how many.
// Of weather many cells are those of the hour before, which the values hold still.
func (p *Picks) quick(f *Fields, picks []pick) int {
	line, values := f.line, p.values
	if f.far != nil {
		return 0
	}
	for i := range picks {
		at := &picks[i]
		start := int(binary.LittleEndian.Uint16(f.near[2*int(at.near):]))
		n := uint(binary.LittleEndian.Uint16(f.near[2*int(at.near)+2:])) - 1 - uint(start)
		if n-1 > 7 || start+8 > len(line) {
			return i
		}
		text := binary.LittleEndian.Uint64(line[start:start+8]) << ((64 - 8*n) & 63)
		if text == at.text {
			continue
		}
		var v float64
		x := text ^ 0x3030303030303030<<((64-8*n)&63)
		if others := notDigits(x); others == 0 {
			v = float64(int64(eightDigits(x)))
		} else if others == 0x80<<48 && n > 1 && x>>48&0xff == '.'^'0' { // one decimal, as most have
			v = float64(int64(eightDigits(x&(0xff<<56)|x&(1<<48-1)<<8))) / 10
		} else {
			var ok bool
			if v, ok = short(x, others, n); !ok {
				return i
			}
		}
		v = v*at.factor + at.offset
		if !(v >= at.low && v <= at.high) {
			return i
		}
		at.text = text
		values[at.column] = v
	}
	return len(picks)
}

// short reads a number of one to eight bytes, each taken exclusively with that of
// the digit 0, the last at the top and zeros before the first, of which others, as
// notDigits has it, are no digits. It knows a sign, digits and a point: they make
// a whole number below 10^8, which is exact, and one division by an exact power of
// ten rounds it once, as strconv.ParseFloat does.
func short(x, others uint64, n uint) (float64, bool) {
	sign := 1.0
	if first := 64 - 8*n; x>>(first&63)&0xff == '-'^'0' {
		sign = -1
		x ^= ('-' ^ '0') << (first & 63)
		n--
		if others &= others - 1; others == 0 {
			return sign * float64(int64(eightDigits(x))), n > 0
		}
	}
	upTo := others ^ (others - 1) // bits of the bytes up to the first other
	before := upTo >> 8
	ok := (x^0x1e1e1e1e1e1e1e1e)&(upTo^before)|others&(others-1) == 0 && n > 1
	x = x&^upTo | x&before<<8
	return sign * (float64(int64(eightDigits(x))) / decimals[bits.TrailingZeros64(others|1<<63)>>3&7]), ok
}

// notDigits gives the top bit of each byte above 9, and maybe that of the byte
// above one.
func notDigits(x uint64) uint64 { return (x + 0x7676767676767676 | x) & 0x8080808080808080 }

// decimals holds the power of ten of the decimals of eight bytes, by which of them
// is the point.
var decimals = [8]float64{1e7, 1e6, 1e5, 1e4, 1e3, 1e2, 1e1, 1e0}

// eightDigits gives the number of eight digits, the first in the lowest byte, each
// byte 0 to 9.
func eightDigits(x uint64) uint64 {
	const pair = 0x000000ff000000ff
	x = x*10 + x>>8 // of two digits in every second byte
	return (x&pair*(100+1000000<<32) + x>>16&pair*(1+10000<<32)) >> 32
}
