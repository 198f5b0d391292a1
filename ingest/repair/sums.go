package repair

import (
	"fmt"
	"slices"
)

// Shares of the year's horizontal irradiance above the air that reach the
// ground anywhere: the cloudiest basins have about 0.28, high deserts and the
// Antarctic plateau about 0.8. Common practice, no source.
const leastYear, mostYear = 0.15, 0.85

// sums adds up the finished year, and refuses one that its latitude does not
// allow: a wrong unit, or a place that is not where it says.
func (w *work) sums() error {
	const clear = 0.8 // of the GHI of a clear sky
	r := w.raw
	above := 0.0
	hours, clearHours := 0, 0
	for h, most := range w.clearGlobal() {
		above += w.suns[h].horizontal() / 1000
		w.report.GHI += r.GHI[h] / 1000
		w.report.DNI += r.DNI[h] / 1000
		if most > 0 {
			hours++
			if r.GHI[h] >= clear*most {
				clearHours++
			}
		}
	}
	if hours > 0 {
		w.report.ClearShare = float64(clearHours) / float64(hours)
	}
	if share := w.report.GHI / above; !(share >= leastYear && share <= mostYear) {
		return setAside("ghi_w_m2", fmt.Errorf("%.0f kWh/m² a year is %.2f of the %.0f above the air at latitude %.4g, want %.2f to %.2f",
			w.report.GHI, share, above, w.site.Lat, leastYear, mostYear))
	}
	return nil
}

// mergedWarnings is how many warnings of several places are kept.
const mergedWarnings = 20

// Merge adds the report of another place to that of n places: counts are
// summed, sums of the year averaged, flags united. Clocks are left to the site
// table. The place's id goes before its warnings.
func (r *Report) Merge(other *Report, n int, id string) {
	mean := func(of *float64, v float64) { *of += (v - *of) / float64(n+1) }
	mean(&r.GHI, other.GHI)
	mean(&r.DNI, other.DNI)
	mean(&r.ClearShare, other.ClearShare)
	for _, c := range other.Columns {
		sum := r.count(c.Column)
		sum.Missing += c.Missing
		sum.Impossible += c.Impossible
		sum.Filled += c.Filled
	}
	r.ClosureTested += other.ClosureTested
	r.ClosureFailed += other.ClosureFailed
	r.LeapHours = max(r.LeapHours, other.LeapHours)
	r.PartHours = max(r.PartHours, other.PartHours)
	r.BadCells += other.BadCells
	r.FilledHours += other.FilledHours
	for _, f := range other.Flags {
		if !slices.Contains(r.Flags, f) {
			r.Flags = append(r.Flags, f)
		}
	}
	for _, w := range other.Warnings {
		if len(r.Warnings) < mergedWarnings {
			r.Warnings = append(r.Warnings, id+": "+w)
		}
	}
}
