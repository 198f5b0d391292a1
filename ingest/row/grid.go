package row

import (
	"fmt"
	"math"
	"slices"

	"stillrow/ingest/weather"
)

// longestHole is the number of hours without a row that a year may have in one
// place: a day. More means that the year is not all there.
const longestHole = 24

// A Grid puts the values of rows on the hours of a year: leap days dropped,
// several rows an hour averaged, rows out of order refused.
type Grid struct {
	perHour int
	all     []float64   // hours of column after column
	sum     [][]float64 // by column, of all
	n       [][]uint16  // values in sum; nil with one row an hour, when sum is the value or NaN
	rows    [weather.Hours]uint16
	years   [12]map[int]int // rows of each year of a month, but for those of same
	same    Stamp           // year and month of the last rows
	inSame  int             // rows of these not counted in years
	last    int             // hour of the row put last, −1 before the first
	leap    int             // rows of a leap day
	inLeap  int             // rows of the leap hour being read
	leapAt  int
}

// NewGrid makes a grid for a number of columns with perHour rows to the hour.
func NewGrid(columns, perHour int) *Grid {
	g := &Grid{perHour: perHour, last: -1, leapAt: -1, sum: make([][]float64, columns)}
	if perHour > 1 {
		g.n = make([][]uint16, columns)
	}
	// In one piece the columns do not all start at the start of a memory page,
	// where one row's values would fall on the same few lines of the cache.
	g.all = make([]float64, columns*weather.Hours)
	for c := range columns {
		g.sum[c] = g.all[c*weather.Hours:][:weather.Hours:weather.Hours]
		if perHour > 1 {
			g.n[c] = make([]uint16, weather.Hours)
		}
	}
	return g
}

// A Stamp is the time of a row: hour 0 to 23 of a day in local standard time.
type Stamp struct{ Year, Month, Day, Hour int }

// Put gives the hour of the year that a row belongs to, or −1 for a row of a
// leap day, which is dropped. A row before the one put last, one too many in an
// hour, or one after a hole of over a day is an error.
func (g *Grid) Put(h Header, t Stamp) (int, error) {
	if t.Month == 2 && t.Day == 29 {
		return -1, g.putLeap(h, t)
	}
	at := monthStart[t.Month-1] + 24*(t.Day-1) + t.Hour
	switch {
	case at < g.last:
		return 0, h.Errorf("", "row of %s after %s: rows must follow the calendar", hourName(at), hourName(g.last))
	case at == g.last && int(g.rows[at]) == g.perHour:
		return 0, h.Errorf("", "the hour %s comes twice", hourName(at))
	case g.last < 0 && at > longestHole:
		return 0, h.Errorf("", "incomplete year: the rows start with %s", hourName(at))
	case at > g.last+1+longestHole:
		return 0, h.Errorf("", "incomplete year: no rows for the %d hours before %s", at-g.last-1, hourName(at))
	}
	if at > g.last+1 && g.n == nil {
		for _, column := range g.sum {
			for hour := g.last + 1; hour < at; hour++ {
				column[hour] = math.NaN()
			}
		}
	}
	g.last = at
	g.rows[at]++
	if t.Year != g.same.Year || t.Month != g.same.Month {
		g.countYears()
		g.same = t
	}
	g.inSame++
	return at, nil
}

// countYears adds the last rows to years.
func (g *Grid) countYears() {
	if g.inSame == 0 {
		return
	}
	m := g.same.Month - 1
	if g.years[m] == nil {
		g.years[m] = make(map[int]int, 1)
	}
	g.years[m][g.same.Year] += g.inSame
	g.inSame = 0
}

// monthStart gives the first hour of each month.
var monthStart = func() (start [12]int) {
	for m := range 11 {
		start[m+1] = start[m] + 24*weather.MonthDays[m]
	}
	return start
}()

func (g *Grid) putLeap(h Header, t Stamp) error {
	switch {
	case g.last > februaryEnd:
		return h.Errorf("", "row of 29 February after %s: rows must follow the calendar", hourName(g.last))
	case t.Hour < g.leapAt || (t.Hour == g.leapAt && g.inLeap == g.perHour):
		return h.Errorf("", "the hour 02-29 %02d:00–%02d:00 comes twice", t.Hour, t.Hour+1)
	case t.Hour > g.leapAt:
		g.leapAt, g.inLeap = t.Hour, 0
	}
	g.inLeap++
	g.leap++
	return nil
}

// februaryEnd is the last hour of 28 February.
const februaryEnd = 24*(31+28) - 1

// AddRow adds a row's value of every column to an hour that Put gave; NaN is no
// value.
func (g *Grid) AddRow(hour int, values []float64) {
	if g.n == nil {
		for _, v := range values {
			g.all[hour] = v
			hour += weather.Hours
		}
		return
	}
	for c, v := range values {
		g.Add(c, hour, v)
	}
}

// Add adds a value to one column, as it is to be done with every column of the
// hour; NaN is no value.
func (g *Grid) Add(column, hour int, v float64) {
	switch {
	case g.n == nil:
		g.sum[column][hour] = v
	case v == v:
		g.sum[column][hour] += v
		g.n[column][hour]++
	}
}

// Finish checks, after the last row, that the year came to its end.
func (g *Grid) Finish(h Header) error {
	if g.last < 0 {
		return h.Errorf("", "no rows")
	}
	if g.last < weather.Hours-1 {
		return h.Errorf("", "incomplete year: the rows end with %s; hours missing: %d",
			hourName(g.last), weather.Hours-1-g.last)
	}
	return nil
}

// Column gives the hourly means of a column, NaN where less than half of an
// hour's rows have a value; nil when there is none at all.
func (g *Grid) Column(column int) []float64 {
	v := g.sum[column]
	if g.n != nil {
		for h := range v {
			if n := g.n[column][h]; 2*int(n) < g.perHour {
				v[h] = math.NaN()
			} else {
				v[h] /= float64(n)
			}
		}
	}
	if !slices.ContainsFunc(v, func(x float64) bool { return x == x }) {
		return nil
	}
	return v
}

// LeapHours gives the number of hours dropped with a leap day.
func (g *Grid) LeapHours() int { return g.leap / g.perHour }

// Rows gives the number of rows put on the grid.
func (g *Grid) Rows() int {
	n := 0
	for _, r := range g.rows {
		n += int(r)
	}
	return n
}

// Years gives the year that most rows of each month have, the earlier one on a
// tie, 0 for a month without rows.
func (g *Grid) Years() [12]int {
	g.countYears()
	var best [12]int
	for m, count := range g.years {
		for y, n := range count {
			if b := count[best[m]]; n > b || (n == b && y < best[m]) {
				best[m] = y
			}
		}
	}
	return best
}

// Check gives an error for a stamp outside the calendar; hour 0 to 23.
func (t Stamp) Check(h Header) error {
	switch {
	case t.Year < 1900 || t.Year > 2100:
		return h.Errorf("year", "%d is outside 1900 to 2100", t.Year)
	case t.Month < 1 || t.Month > 12:
		return h.Errorf("month", "%d is outside 1 to 12", t.Month)
	case t.Day < 1 || t.Day > weather.MonthDays[t.Month-1] && !(t.Month == 2 && t.Day == 29):
		return h.Errorf("day", "%d is no day of month %d", t.Day, t.Month)
	}
	return nil
}

// LeapYear reports whether a year of the Gregorian calendar has a 29 February.
func LeapYear(year int) bool { return year%4 == 0 && (year%100 != 0 || year%400 == 0) }

// hourName names an hour of the year: "03-09 13:00–14:00".
func hourName(h int) string {
	if h < 0 {
		return "the start of the year"
	}
	day, hour := h/24, h%24
	m := 0
	for day >= weather.MonthDays[m] {
		day -= weather.MonthDays[m]
		m++
	}
	return fmt.Sprintf("%02d-%02d %02d:00–%02d:00", m+1, day+1, hour, hour+1)
}
