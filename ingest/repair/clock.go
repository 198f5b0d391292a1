package repair

import "math"

// The search for a month's clock.
const (
	clockStep    = 15  // minutes
	clockSteps   = 8   // either way
	clockBeam    = 150 // W/m²: hours with more DNI count
	clockHours   = 30  // fewer such hours and a month takes the year's shift
	clockMisfit  = 15  // W/m²: more at the best shift is flagged
	clockChoices = 2*clockSteps + 1
	instants     = 6 // of an hour, over which the sun is averaged
)

// Instants of an hour stand 10 minutes apart, 5 minutes off its ends, and
// shifts are whole quarters: all fall on a lattice of 5 minutes, which reaches
// beyond the day by what the first and the last hour may be shifted.
const (
	latticeHour  = 12                       // lattice steps in an hour
	latticeStep  = 1.0 / (24 * latticeHour) // day
	latticeReach = 3 * clockSteps           // beyond the day
	latticeFirst = 1 - latticeReach         // of the first instant, after the day's start
	latticeSize  = 24*latticeHour - 1 + 2*latticeReach
)

// misfits sums, for every shift, the squared misfit of some hours.
type misfits struct {
	square [clockChoices]float64
	hours  int
}

// best gives the shift in steps with the least misfit, the smaller one on a tie.
func (m *misfits) best() int {
	best := 0
	for k := 1; k <= clockSteps; k++ {
		for _, s := range [...]int{k, -k} {
			if m.square[s+clockSteps] < m.square[best+clockSteps] {
				best = s
			}
		}
	}
	return best
}

// at gives the root mean square misfit, W/m², of a shift in steps.
func (m *misfits) at(shift int) float64 {
	if m.hours == 0 {
		return 0
	}
	return math.Sqrt(m.square[shift+clockSteps] / float64(m.hours))
}

// setClock finds each month's shift from where the data set's documents put its
// intervals, or takes the stamps as they stand, and reports the misfits.
func (w *work) setClock(clock Clock) {
	if zoneFar(&w.site) {
		w.flag(FlagZoneFar)
	}
	w.report.Clock = make([]ClockMonth, 12)
	r := w.raw
	independent := r.Independent && r.GHI != nil && r.DNI != nil && r.DHI != nil
	var months [12]misfits
	if independent {
		months = w.misfits()
	}
	var year misfits
	for m := range months {
		year.hours += months[m].hours
		for k, v := range months[m].square {
			year.square[k] += v
		}
	}
	if year.hours < clockHours {
		clock = Stamped
		// A source that names its own split made its hours for the sun of their
		// stamps: there is nothing to prove.
		if w.site.SplitModel == "" {
			w.flag(FlagClockUnproven)
		}
	}
	misfit := false
	common := yearShift(&months, &year)
	for m := range months {
		c := &w.report.Clock[m]
		c.Hours = months[m].hours
		c.FromYear = c.Hours < clockHours && clock == Closed
		shift := 0
		switch {
		case c.FromYear:
			shift = common
		case clock == Closed:
			shift = months[m].best()
		}
		c.ShiftMin = shift * clockStep
		c.Misfit = months[m].at(shift)
		c.StampedMisfit = months[m].at(0)
		w.site.ClockMin[m] += c.ShiftMin
		if shift != 0 {
			w.flag(FlagClockShifted)
		}
		misfit = misfit || c.Hours >= clockHours && c.Misfit > clockMisfit
	}
	if misfit {
		w.flag(FlagClockMisfit)
	}
}

// yearShift gives the shift, in steps, for months with too few hours to find
// their own: the one that the months with most hours found, the smaller on a
// tie. The least misfit of all hours together, which serves only when no month
// has hours enough, would fall between the months of a year that is stamped
// right in some and wrong in others, and fit none.
func yearShift(months *[12]misfits, year *misfits) int {
	var hours [clockChoices]int
	proven := false
	for m := range months {
		if n := months[m].hours; n >= clockHours {
			hours[months[m].best()+clockSteps] += n
			proven = true
		}
	}
	if !proven {
		return year.best()
	}
	best := 0
	for k := 1; k <= clockSteps; k++ {
		for _, s := range [...]int{k, -k} {
			if hours[s+clockSteps] > hours[best+clockSteps] {
				best = s
			}
		}
	}
	return best
}

// misfits compares, hour by hour, GHI with DNI·sz + DHI at every shift. An hour
// with DNI beyond the sun's own irradiance, which no clock can excuse, does not
// count.
func (w *work) misfits() (months [12]misfits) {
	r := w.raw
	var up [latticeSize]float64
	eachDay(func(m, day int) {
		way := &w.days[day/24]
		laid := false
		for i := range 24 {
			h := day + i
			ghi, dni, dhi := r.GHI[h], r.DNI[h], r.DHI[h]
			if !(dni > clockBeam && dni <= way.E0n(0)) || missing(ghi) || missing(dhi) {
				continue
			}
			if !laid {
				way.Up(float64(w.site.ClockMin[m])/(24*60)+latticeFirst*latticeStep, latticeStep, up[:])
				laid = true
			}
			months[m].hours++
			for k := range clockChoices {
				at := latticeHour*i + 3*k
				sz := up[at] + up[at+2] + up[at+4] + up[at+6] + up[at+8] + up[at+10]
				miss := dni*sz/instants + dhi - ghi
				months[m].square[k] += miss * miss
			}
		}
	})
	return months
}
