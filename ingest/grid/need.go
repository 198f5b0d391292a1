package grid

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"stillrow/ingest/series"
)

// names are the quantities in words, for reasons.
var names = [Quantities]string{
	GHI: "global horizontal irradiance", DNI: "direct normal irradiance", DHI: "diffuse horizontal irradiance",
	DirectHorizontal: "direct horizontal irradiance", AirTemperature: "air temperature", DewPoint: "dew point",
	RelHumidity: "relative humidity", SpecificHumidity: "specific humidity", VapourPressure: "vapour pressure",
	Pressure: "air pressure", SkyInfrared: "long-wave irradiance", TotalCloud: "cloud cover", Wind: "wind speed",
	WindEast: "eastward wind", WindNorth: "northward wind", Snow: "snow depth", Elevation: "elevation",
}

func (q Quantity) String() string { return names[q] }

// Monthly tells whether the region's irradiance is means of months.
func (r *Region) Monthly() bool {
	for _, j := range r.irradiance() {
		return j.axis == nil
	}
	return false
}

// irradiance gives the fields that GHI can be had from; none where they do not
// suffice.
func (r *Region) irradiance() []*joined {
	direct := r.fields[DNI]
	if direct == nil {
		direct = r.fields[DirectHorizontal]
	}
	switch {
	case r.fields[GHI] != nil:
		return []*joined{r.fields[GHI]}
	case direct != nil && r.fields[DHI] != nil:
		return []*joined{direct, r.fields[DHI]}
	}
	return nil
}

// lacks says what a region lacks to become weather years.
func (r *Region) lacks() error {
	need := r.needs()
	var lacking []string
	if r.irradiance() == nil {
		lacking = append(lacking, GHI.String()+" (or direct and diffuse)")
	}
	if r.fields[AirTemperature] == nil {
		lacking = append(lacking, AirTemperature.String())
	}
	if lacking != nil {
		return fmt.Errorf("lacks %s; a grid of the same cells that has it may be given along with it", strings.Join(lacking, " and "))
	}
	if r.Monthly() && r.fields[GHI] == nil {
		return errors.New("monthly means of direct and diffuse irradiance without global")
	}
	for _, j := range need {
		if have := j.covered(); have != everyMonth {
			return fmt.Errorf("no %s in %s; twelve months are needed, of one year or of several", j.quantity, without(have))
		}
	}
	r.local = need[0].parts[0].field.Local
	for _, j := range r.fields {
		if j != nil && j.axis != nil && j.parts[0].field.Local != r.local {
			one, other := need[0].parts[0].field.Variable, j.parts[0].field.Variable
			if r.local {
				one, other = other, one
			}
			return fmt.Errorf("%s has stamps in UTC, %s in local time", one, other)
		}
	}
	return nil
}

// needs gives the fields that no cell can do without.
func (r *Region) needs() []*joined {
	list := r.irradiance()
	if j := r.fields[AirTemperature]; j != nil {
		list = append(list, j)
	}
	return list
}

// Months tells of each calendar month, January first, whether it is there.
type months [12]bool

var everyMonth = months{true, true, true, true, true, true, true, true, true, true, true, true}

// without names the months that are not there, such as "January to April and
// June", or "any month but May" where most are not.
func without(have months) string {
	missing := have
	n := 0
	for m := range missing {
		if missing[m] = !have[m]; missing[m] {
			n++
		}
	}
	switch {
	case n == 12:
		return "any month"
	case n > 6:
		return "any month but " + have.String()
	}
	return missing.String()
}

// String lists the months of a year that lacks at least one, a run at the
// year's end going on into the next.
func (have months) String() string {
	var runs []string
	name := func(m int) string { return time.Month(m%12 + 1).String() }
	first := 0
	if have[0] && have[11] {
		first = slices.Index(have[:], false)
	}
	for m := first; m < first+12; m++ {
		if !have[m%12] {
			continue
		}
		from := m
		for m+1 < first+12 && have[(m+1)%12] {
			m++
		}
		switch m - from {
		case 0:
			runs = append(runs, name(m))
		case 1:
			runs = append(runs, name(from), name(m))
		default:
			runs = append(runs, name(from)+" to "+name(m))
		}
	}
	if n := len(runs) - 1; n > 0 {
		return strings.Join(runs[:n], ", ") + " and " + runs[n]
	}
	return runs[0]
}

// least is the share of a month's time that records must cover.
const least = 0.9

// covered tells which calendar months some year has, hours nearly whole.
func (j *joined) covered() (have months) {
	if j.axis != nil {
		return covered(j.axis)
	}
	for _, m := range j.months {
		have[m-1] = true
	}
	return have
}

// covered tells which months some year of an axis has nearly whole. The days that local
// time moves across a month's end do not matter for that.
func covered(a *series.Axis) (have months) {
	type month struct{ year, month int }
	seconds := map[month]int64{}
	var last month
	var until int64 // end of the month last looked up
	for _, s := range a.Stamp {
		mid := s + a.From + a.Step/2
		if a.Instant {
			mid = s
		}
		if mid >= until {
			t := time.Unix(mid, 0).UTC()
			last = month{t.Year(), int(t.Month())}
			until = time.Date(last.year, time.Month(last.month)+1, 1, 0, 0, 0, 0, time.UTC).Unix()
		}
		seconds[last] += a.Step
	}
	for m, s := range seconds {
		// The 29 February that some calendars lack is not needed.
		nominal := time.Date(2001, time.Month(m.month)+1, 0, 0, 0, 0, 0, time.UTC).Day()
		if float64(s) >= least*float64(nominal)*24*3600 {
			have[m.month-1] = true
		}
	}
	return have
}

// Independent tells whether global, direct and diffuse irradiance are all
// given, so that they can prove the clock.
func (r *Region) independent() bool {
	return r.fields[GHI] != nil && r.fields[DHI] != nil && r.fields[DNI] != nil
}

// source names the data sets and files of a region.
func (r *Region) source() string {
	var sets, files []string
	for _, f := range r.Files {
		if f.Set != "" && !slices.Contains(sets, f.Set) {
			sets = append(sets, f.Set)
		}
		files = append(files, base(f.Name))
	}
	const most = 3 // files named; the others are in run.json
	if more := len(files) - most; more > 0 {
		files = append(files[:most:most], fmt.Sprintf("%d more", more))
	}
	return strings.Join(append(sets, files...), ", ")
}

func base(name string) string { return name[strings.LastIndexAny(name, `/\`)+1:] }
