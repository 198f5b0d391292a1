package series

import (
	"math"
	"testing"
)

// cell is a cell of an invented grid: eight columns of some years in UTC.
func cell(years int, step int64, instant bool) *Series {
	a := even(stamp(2001, 1, 1, 0, 0), stamp(2001+years, 1, 1, 0, 0), step, false)
	a.Instant = instant
	wave := func(scale float64) Column {
		return filled(a, func(s int64) float64 { return scale * (1.5 + math.Sin(float64(s)/13713)) })
	}
	s := at(-105, a, constant(0))
	s.GHI, s.DNI, s.DHI, s.AirTemperature = wave(300), wave(250), wave(100), wave(10)
	s.DewPoint, s.WindEast, s.WindNorth, s.Pressure = wave(5), wave(3), wave(2), wave(900)
	return s
}

func benchRaw(b *testing.B, s *Series) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := s.Raw(Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkHours(b *testing.B)       { benchRaw(b, cell(1, 3600, false)) }
func BenchmarkInstants(b *testing.B)    { benchRaw(b, cell(1, 3600, true)) }
func BenchmarkHalfHours(b *testing.B)   { benchRaw(b, cell(1, 1800, false)) }
func BenchmarkThreeHours(b *testing.B)  { benchRaw(b, cell(1, 3*3600, false)) }
func BenchmarkTwentyYears(b *testing.B) { benchRaw(b, cell(20, 3600, false)) }
