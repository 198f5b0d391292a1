package epw

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"stillrow/ingest/weather"
)

// plainCell reads a cell by the standard library alone: NaN for no data, bad for
// a cell that must be recorded.
func plainCell(cell string, c int) (v float64, bad bool) {
	col := &columns[c]
	cell = strings.TrimSpace(cell)
	v, err := strconv.ParseFloat(cell, 64)
	switch {
	case cell == "":
		return math.NaN(), false
	case err != nil || strings.Trim(cell, "0123456789.+-eE") != "" || strings.ContainsAny(cell, "xX_"):
		return math.NaN(), true
	case v >= col.Missing || col.ZeroGone && v == 0: // all codes of the format stand above
		return math.NaN(), false
	}
	if v = v*col.Factor + col.Offset; v < col.Range.Min || v > col.Range.Max {
		return math.NaN(), true
	}
	return v, false
}

// byColumn lists a raw year as columns does.
func byColumn(raw *weather.Raw) [len(columns)][]float64 {
	return [...][]float64{airTemperature: raw.AirTemperature, dewPoint: raw.DewPoint, humidity: raw.RelHumidity,
		pressure: raw.Pressure, skyInfrared: raw.SkyInfrared, ghi: raw.GHI, dni: raw.DNI, dhi: raw.DHI, wind: raw.Wind,
		totalCloud: raw.TotalCloud, opaqueCloud: raw.OpaqueCloud, snow: raw.Snow}
}

// againstPlain holds every cell of a text to strings.Split and strconv, to the
// bit, and the number of those recorded as bad.
func againstPlain(t *testing.T, x string) {
	t.Helper()
	raw := parse(t, x)
	got := byColumn(raw)
	bad := 0
	for h, line := range strings.Split(strings.TrimSuffix(x, "\n"), "\n")[8:] {
		fields := strings.Split(line, ",")
		for c := range columns {
			cell := fields[columns[c].field]
			want, isBad := plainCell(cell, c)
			if isBad {
				bad++
			}
			is := math.NaN()
			if got[c] != nil {
				is = got[c][h]
			}
			if math.Float64bits(is) != math.Float64bits(want) && !(math.IsNaN(is) && math.IsNaN(want)) {
				t.Fatalf("line %d: %s: %q is read as %v, want %v", h+9, columns[c].Name, cell, is, want)
			}
		}
	}
	if raw.BadCellCount != bad {
		t.Errorf("%d cells recorded as bad, want %d", raw.BadCellCount, bad)
	}
}

// TestAgainstPlain reads a year of cells in all spellings of numbers, and of some
// words, of every length.
func TestAgainstPlain(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	forms := []func() string{
		func() string { return fmt.Sprint(r.IntN(1200)) },
		func() string { return fmt.Sprintf("%.*f", r.IntN(12), r.NormFloat64()*20) },
		func() string { return fmt.Sprintf(" %07.2f ", r.Float64()*100) },
		func() string {
			return strconv.FormatFloat(r.ExpFloat64()*math.Pow(10, float64(r.IntN(6)-2)), 'g', -1, 64)
		},
		func() string { return fmt.Sprintf("+%d.", r.IntN(90)) },
		func() string { return fmt.Sprintf("%d", 95_000+r.IntN(9000)) },
		func() string {
			return []string{"-0", "99.9", "999", "9999", "999999", "0", " ", ".5", "-.25"}[r.IntN(9)]
		},
		func() string {
			return []string{"-", ".", "1-2", "NaN", "0x10", "7.O", "1_0", "inf", "1e999", "?9", "12345678901234567890"}[r.IntN(11)]
		},
	}
	x := text{cell: func(_, _, _, field int) string {
		if field < 6 {
			return ""
		}
		return forms[r.IntN(len(forms))]()
	}}.String()
	againstPlain(t, x)
}

// FuzzCell holds one cell of a year to the plain reading of it.
func FuzzCell(f *testing.F) {
	for i, cell := range []string{"7.25", "-12.5", "99.9", "1e3", "", " 4 ", "NaN", "12345678", "0.1234567890123456789"} {
		f.Add(cell, i)
	}
	usual := text{}.String()
	const row = "2004,1,1,2,"
	from := strings.Index(usual, row)
	to := from + strings.IndexByte(usual[from:], '\n')
	f.Fuzz(func(t *testing.T, cell string, c int) {
		if strings.ContainsAny(cell, ",\n\r\x00") {
			return
		}
		c = int(uint(c) % uint(len(columns)))
		fields := strings.Split(usual[from:to], ",")
		fields[columns[c].field] = cell
		raw := parse(t, usual[:from]+strings.Join(fields, ",")+usual[to:])
		is, want := byColumn(raw)[c], math.NaN()
		if v, bad := plainCell(cell, c); !bad {
			want = v
		} else if raw.BadCellCount != 1 {
			t.Errorf("%s: %q is not recorded as bad", columns[c].Name, cell)
		}
		if math.Float64bits(is[1]) != math.Float64bits(want) && !(math.IsNaN(is[1]) && math.IsNaN(want)) {
			t.Errorf("%s: %q is read as %v, want %v", columns[c].Name, cell, is[1], want)
		}
	})
}
