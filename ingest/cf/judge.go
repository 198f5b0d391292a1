package cf

import (
	"math"

	"stillrow/ingest/grid"
)

// What is sampled of a field to hold its numbers against its unit: some days at
// the beginning and in the middle, of three rows, some columns of each.
const (
	sampleRecords = 72
	sampleColumns = 24
	sampleValues  = 1 << 22 // at most read at once
)

// A sample is the series of some cells: for each cell and stretch of time the
// converted values of consecutive records.
type sample [][]float32

// sample reads a sample of the slab. Cells without a value are left out.
func (s *slab) sample() (sample, error) {
	shape := s.v.Shape()
	ny, nt := shape[s.y], s.count()
	n := min(nt, sampleRecords, max(1, sampleValues/s.nx))
	starts := []int{0}
	if nt >= 2*n {
		starts = append(starts, nt/2)
	}
	rows := []int{ny / 4, ny / 2, ny - 1 - ny/4}
	if ny <= len(rows) {
		rows = rows[:0]
		for y := range ny {
			rows = append(rows, y)
		}
	}
	dst := make([]float32, n*s.nx)
	var all sample
	for _, y := range rows {
		for _, t := range starts {
			if err := s.read(dst, t, n, y, 1); err != nil {
				return nil, err
			}
			for x := 0; x < s.nx; x += max(1, s.nx/sampleColumns) {
				cell, some := make([]float32, n), false
				for i := range cell {
					cell[i] = dst[i*s.nx+x]
					some = some || cell[i] == cell[i]
				}
				if some {
					all = append(all, cell)
				}
			}
		}
	}
	return all, nil
}

// impossibleShare is the share of a sample that may be impossible, as bad cells
// are, before the unit is doubted.
const impossibleShare = 0.1

// judge holds a sample of the values against what the quantity can be on Earth.
func (r *reader) judge(f *grid.Field, s *slab, q *quantity, u unit) error {
	cells, err := s.sample()
	if err != nil {
		return r.wrap(s.v.Name, err)
	}
	text := s.v.Text("units")
	lowest, highest := q.min, q.max
	if q.flux && f.Months != nil {
		highest = mostMonth
	}
	if f.Axis != nil && u.dims == irradiation && q.of != grid.SkyInfrared && cells.accumulated() {
		return r.fail(s.v.Name, "accumulated since the start of a forecast (values rise over several steps, then fall back): sums of single steps are needed")
	}
	n, bad, total, most := 0, 0, 0.0, 0.0
	worst := math.NaN()
	for _, cell := range cells {
		for _, x := range cell {
			v := float64(x)
			if math.IsNaN(v) {
				continue
			}
			n++
			total += math.Abs(v)
			most = max(most, math.Abs(v))
			if v < lowest || v > highest {
				bad++
				if !(math.Abs(v) <= math.Abs(worst)) {
					worst = v
				}
			}
		}
	}
	if n == 0 {
		return nil // nothing to judge by
	}
	if float64(bad) > impossibleShare*float64(n) {
		return r.fail(s.v.Name, "units %q, but %.4g %s is impossible: the unit is wrong, or the values are sums", text, worst, q.unit)
	}
	mean := total / float64(n)
	switch {
	case q.dims == speed && mean < stillAir && u.scale == 1e-3 && mean*1000 >= lightAir && mean*1000 <= strongWind:
		// A known kind of file: metres a second under the name of millimetres.
		s.scale *= 1000
		r.warn(s.v.Name, "units %q, but a mean wind of %.2g mm/s is none; taken as m/s", text, mean*1000)
	case q.dims == speed && mean < stillAir:
		return r.fail(s.v.Name, "units %q, but a mean wind of %.2g m/s is none: the unit is wrong", text, mean)
	case q.of == grid.GHI && len(f.Months) >= 12 && most < leastMonth:
		return r.fail(s.v.Name, "units %q, but no month above %.2g W/m² is impossible: the unit is wrong", text, most)
	case q.of == grid.RelHumidity && most < 2:
		return r.fail(s.v.Name, "units %q, but no relative humidity is above %.2g %%: the unit is wrong", text, most)
	}
	return nil
}

// Mean winds no place has, and such as places have, m/s.
const stillAir, lightAir, strongWind = 0.05, 0.3, 20

// accumulated tells sums since the start of a forecast from sums of a step. The
// former rise or stand by daylight and night and fall once a forecast; the
// latter fall every afternoon about as often as they rise, and are 0 when they stand.
func (cells sample) accumulated() bool {
	up, down, stand, n := 0, 0, 0, 0
	for _, cell := range cells {
		most := float32(0)
		for _, x := range cell {
			if x > most { // not max, which a NaN would win
				most = x
			}
		}
		for i := 1; i < len(cell); i++ {
			switch d := cell[i] - cell[i-1]; {
			case d > most/100:
				up++
			case d < -most/100:
				down++
			case cell[i] > most/5 && (d < most/5000 && d > -most/5000):
				stand++
			}
			n++
		}
	}
	return up+down > 0 && (up >= 10 && 2*up >= 5*down || stand*10 >= n)
}
