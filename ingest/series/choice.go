package series

import (
	"fmt"
	"strings"
	"time"

	"stillrow/ingest/weather"
)

// maxMissing is the share of a month's hours, sunlit ones for irradiance, that
// may lack values if the month is to serve.
const maxMissing = 0.10

// A lack is what a month of a year is short of: of its irradiance and its air
// temperature the one that lacks the larger share.
type lack struct {
	name        string
	missing, of int // hours
	sunlit      bool
}

func (l lack) share() float64 { return float64(l.missing) / float64(max(l.of, 1)) }
func (l lack) serves() bool   { return l.share() <= maxMissing }

// choose finds the year of each month: the one given, or the most typical of
// those that have the month.
func (y *year) choose(given int) error {
	first, last := y.span()
	switch {
	case given != 0 && y.made():
		return &weather.FileError{Err: fmt.Errorf("a typical year made of months of several, no data of %d alone", given)}
	case given != 0 && (given < first || given > last):
		return &weather.FileError{Err: fmt.Errorf("no data of %d: they run from %d to %d", given, first, last)}
	}
	lacks := make([][12]lack, last-first+1)
	for i := range lacks {
		for m := range 12 {
			lacks[i][m] = y.lack(first+i, m)
		}
	}
	y.spread(first, lacks)
	if given != 0 {
		lacks = lacks[given-first:][:1]
		first = given
	}
	var none []int
	for m := range 12 {
		var years []int
		for i := range lacks {
			if lacks[i][m].serves() {
				years = append(years, first+i)
			}
		}
		switch len(years) {
		case 0:
			none = append(none, m)
		case 1:
			y.from[m] = years[0]
		default:
			y.from[m] = y.typical(m, years)
		}
	}
	if none != nil {
		return &weather.FileError{Err: y.shortOf(none, first, lacks)}
	}
	return nil
}

// shortOf says which months no year has, and how near the best year comes to the
// first of them.
func (y *year) shortOf(months []int, first int, lacks [][12]lack) error {
	m := months[0]
	best := 0
	for i := range lacks {
		if lacks[i][m].share() < lacks[best][m].share() {
			best = i
		}
	}
	l, year := lacks[best][m], first+best
	if y.made() {
		year = y.s.MonthYears[m]
	}
	hours := "hours"
	if l.sunlit {
		hours = "sunlit hours"
	}
	lacking := fmt.Sprintf("%d of the %d %s of %s are missing in %s, at most %.0f %% may be",
		l.missing, l.of, hours, time.Month(m+1), l.name, 100*maxMissing)
	if len(lacks) == 1 {
		return fmt.Errorf("%d lacks %s: %s", year, monthNames(months), lacking)
	}
	return fmt.Errorf("no year from %d to %d has %s: at best, in %d, %s", first, first+len(lacks)-1, monthNames(months), year, lacking)
}

// monthNames lists months, from 0 and rising: January to April and June.
func monthNames(months []int) string {
	var parts []string
	for i := 0; i < len(months); {
		j := i
		for j+1 < len(months) && months[j+1] == months[j]+1 {
			j++
		}
		name := time.Month(months[i] + 1).String()
		if j > i {
			name += " to " + time.Month(months[j]+1).String()
		}
		parts = append(parts, name)
		i = j + 1
	}
	if n := len(parts); n > 1 {
		return strings.Join(parts[:n-1], ", ") + " and " + parts[n-1]
	}
	return parts[0]
}

// span gives the first and the last calendar year, local time, that the
// irradiance lies in with more than what local time moved there.
func (y *year) span() (first, last int) {
	c := y.sun
	first = (c.first + rotated) / weather.Hours
	return first, max(first, (c.end()-1-rotated)/weather.Hours)
}

// lack looks at a month, from 0, of a year.
func (y *year) lack(year, month int) lack {
	var hours [24 * 31]float64
	v := hours[:24*weather.MonthDays[month]]
	var worst lack
	for _, c := range [...]*hourly{y.sun, y.air} {
		c.month(year, month, v)
		l := lack{name: c.name, of: len(v)}
		for _, x := range v {
			if x != x {
				l.missing++
			}
		}
		if l.missing > 0 && c == y.sun {
			l = lack{name: c.name, sunlit: true}
			clear := y.sky()[monthStart[month]:]
			for h, x := range v {
				if !clear[h].lit() {
					continue
				}
				l.of++
				if x != x {
					l.missing++
				}
			}
		}
		if worst.name == "" || l.share() > worst.share() {
			worst = l
		}
	}
	return worst
}
