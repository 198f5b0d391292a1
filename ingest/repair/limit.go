package repair

import (
	"errors"
	"fmt"
	"math"

	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
)

// namedImpossible is how many impossible values of a source are named.
const namedImpossible = 5

// limit makes impossible values missing: irradiance beyond the BSRN physically
// possible limits at the clock in force, other columns beyond what the air can
// be. Irradiance just below zero, a radiometer's offset, becomes 0.
func (w *work) limit() {
	named := 0
	for _, c := range w.columns() {
		v := *c.v
		if v == nil {
			continue
		}
		var count *ColumnCount
		if c.table {
			count = w.report.count(c.name)
		}
		coded := c.name == "sky_infrared_w_m2" // 0 and 9999 are missing codes there
		for h, x := range v {
			if missing(x) {
				continue
			}
			r := c.r
			if c.solar {
				if w.suns[h].plain(x) {
					continue
				}
				r = w.suns[h].possible(c.name)
			}
			switch {
			case coded && (x == 0 || x == 9999):
				v[h] = math.NaN()
			case !r.Holds(x):
				v[h] = math.NaN()
				if count != nil {
					count.Impossible++
				}
				if named++; named <= namedImpossible {
					w.warn("%s: %s: %g is impossible, outside %.4g to %.4g; taken as missing", hourName(h), c.name, x, r.Min, r.Max)
				}
			case c.solar && x < 0:
				v[h] = 0
			}
		}
	}
	if named > namedImpossible {
		w.warn("%d impossible values in all", named)
	}
}

// plain reports whether an irradiance is so far within every limit of possible
// that it need not be worked out: at most 0.95·mu^1.25 of the sun above the air,
// and mu^1.25 is at most mu^1.2. The limit of DNI is the sun above the air itself.
func (s *hourSun) plain(x float64) bool {
	mu := max(s.mid, s.lit*s.sz, 0)
	return x >= 0 && x <= 0.95*s.e0n*mu*math.Sqrt(math.Sqrt(mu))
}

// possible gives the BSRN physically possible range of an irradiance column,
// with the sine of the altitude at mid hour. In an hour that the sun rises or
// sets in, that of mid hour would call impossible what falls in the lit half: the
// mean of the hour stands for it where it is higher.
func (s hourSun) possible(name string) sky.Range {
	mu := max(s.mid, s.lit*s.sz)
	switch name {
	case "ghi_w_m2":
		return sky.Range{Min: sky.GlobalRange.Min, Max: sky.MaxGlobal(s.e0n, mu)}
	case "dhi_w_m2":
		return sky.Range{Min: sky.DiffuseRange.Min, Max: sky.MaxDiffuse(s.e0n, mu)}
	}
	return sky.Range{Min: sky.BeamRange.Min, Max: sky.MaxBeam(s.e0n)}
}

// count counts what each column lacks and sets the source aside when that is
// too much.
func (w *work) count() error {
	r := w.raw
	sunlit := 0
	for _, s := range w.suns {
		if s.lit > 0 {
			sunlit++
		}
	}
	for _, c := range w.columns() {
		if *c.v == nil || !c.table {
			continue
		}
		n := w.report.count(c.name)
		for h, x := range *c.v {
			if missing(x) && (!c.solar || w.suns[h].lit > 0) {
				n.Missing++
				w.missing[h] = true
			}
		}
		of, hours := weather.Hours, "hours"
		if c.solar {
			of, hours = sunlit, "sunlit hours"
		}
		if share := float64(n.Missing) / float64(of); share > maxMissing && (c.solar || c.name == "air_temperature_c") {
			return setAside(c.name, fmt.Errorf("missing in %.1f %% of the %s, over %.0f %%", 100*share, hours, 100*maxMissing))
		}
	}
	if r.AirTemperature == nil {
		return setAside("air_temperature_c", errNone)
	}
	if r.GHI == nil && (r.DNI == nil || r.DHI == nil) {
		return setAside("ghi_w_m2", errNoIrradiance)
	}
	return nil
}

var errNoIrradiance = errors.New("no values in the file, nor both DNI and DHI to make them of")

// closure counts the hours whose components disagree after the repair.
func (w *work) closure() {
	r := w.raw
	for h, s := range w.suns {
		switch sky.Closure(r.GHI[h], r.DNI[h], r.DHI[h], s.mid, s.sz) {
		case sky.Inconsistent:
			w.report.ClosureFailed++
			fallthrough
		case sky.Consistent:
			w.report.ClosureTested++
		}
	}
	if 10*w.report.ClosureFailed > w.report.ClosureTested {
		w.flag(FlagClosurePoor)
	}
}

// noteReading carries over what the parser found and flags columns that never
// change.
func (w *work) noteReading() {
	r := w.raw
	w.report.LeapHours, w.report.PartHours, w.report.BadCells = r.LeapHours, r.PartHours, r.BadCellCount
	if r.LeapHours > 0 {
		w.flag(FlagLeapDay)
	}
	if r.PartHours > 0 {
		w.flag(FlagAveraged)
	}
	if r.BadCellCount > 0 {
		w.flag(FlagBadCells)
		for _, e := range r.BadCells {
			w.warn("%v", e)
		}
		if more := r.BadCellCount - len(r.BadCells); more > 0 {
			w.warn("%d more bad cells", more)
		}
	}
	for _, c := range w.columns() {
		if c.table && c.name != "snow_depth_cm" && constant(*c.v) {
			w.flag(FlagConstant + c.name)
		}
	}
}

// constant reports whether a column has one value only, in more than one hour.
func constant(v []float64) bool {
	n, first := 0, 0.0
	for _, x := range v {
		if missing(x) {
			continue
		}
		if n == 0 {
			first = x
		}
		if x != first {
			return false
		}
		n++
	}
	return n > 1
}

func (w *work) warn(format string, args ...any) {
	w.report.Warnings = append(w.report.Warnings, fmt.Sprintf(format, args...))
}

// hourName names an hour of the year: "07-03 12:00–13:00".
func hourName(h int) string {
	day, m := h/24, 0
	for day >= weather.MonthDays[m] {
		day -= weather.MonthDays[m]
		m++
	}
	return fmt.Sprintf("%02d-%02d %02d:00–%02d:00", m+1, day+1, h%24, h%24+1)
}
