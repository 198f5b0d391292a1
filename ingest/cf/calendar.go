package cf

import (
	"fmt"
	"strings"
)

const day = 86400

// A calendar counts days between a reference date and a date. A day number is
// days since 1970-01-01 in the proleptic Gregorian calendar.
type calendar int

const (
	mixed     calendar = iota // Julian before 15 October 1582: the default of the CF conventions
	gregorian                 // proleptic
	julian
	noLeap
)

// parseCalendar reads a calendar attribute.
func parseCalendar(text string) (calendar, error) {
	switch strings.ToLower(strings.TrimSpace(text)) {
	case "", "standard", "gregorian":
		return mixed, nil
	case "proleptic_gregorian":
		return gregorian, nil
	case "julian":
		return julian, nil
	case "noleap", "365_day":
		return noLeap, nil
	}
	return 0, fmt.Errorf("calendar %q has dates that no civil year has; standard, proleptic_gregorian, julian and noleap can be read", text)
}

// A date is a day of a calendar; years count from 0 as astronomers do.
type date struct{ year, month, day int }

var monthDays = [13]int{0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}

// leap tells whether the calendar's year has a 29 February.
func (c calendar) leap(year int) bool {
	switch {
	case c == noLeap:
		return false
	case c == julian, c == mixed && year <= 1582:
		return year%4 == 0
	}
	return year%4 == 0 && (year%100 != 0 || year%400 == 0)
}

// holds tells whether the calendar has the date.
func (c calendar) holds(d date) bool {
	if d.month < 1 || d.month > 12 || d.day < 1 {
		return false
	}
	last := monthDays[d.month]
	if d.month == 2 && c.leap(d.year) {
		last++
	}
	if c == mixed && d.year == 1582 && d.month == 10 && d.day > 4 && d.day < 15 {
		return false // the days the reform left out
	}
	return d.day <= last
}

// after gives the civil (proleptic Gregorian) day number of the day that lies n
// days of the calendar after d. Days of a noleap calendar keep their date.
func (c calendar) after(d date, n int64) int64 {
	switch {
	case c == noLeap:
		t := int64(d.year)*365 + int64(yearDay(d.month, d.day)) + n
		year, rest := floorDiv(t, 365)
		month := 1
		for ; rest >= int64(monthDays[month]); month++ {
			rest -= int64(monthDays[month])
		}
		return civilDay(date{int(year), month, int(rest) + 1})
	case c == julian, c == mixed && before1582(d):
		return julianDay(d) + n
	}
	return civilDay(d) + n
}

func before1582(d date) bool {
	return d.year < 1582 || d.year == 1582 && (d.month < 10 || d.month == 10 && d.day < 15)
}

// yearDay is the number of days of a common year before the date.
func yearDay(month, day int) int {
	n := day - 1
	for m := 1; m < month; m++ {
		n += monthDays[m]
	}
	return n
}

// civilDay gives the day number of a proleptic Gregorian date. Years start in
// March, so that the leap day is the last of its year.
func civilDay(d date) int64 {
	y, m := marchYear(d)
	century, _ := floorDiv(y, 100)
	fourth, _ := floorDiv(y, 400)
	leaps, _ := floorDiv(y, 4)
	return 365*y + leaps - century + fourth + (153*m+2)/5 + int64(d.day) - 1 - 719468
}

// julianDay gives the day number of a Julian date.
func julianDay(d date) int64 {
	y, m := marchYear(d)
	leaps, _ := floorDiv(y, 4)
	return 365*y + leaps + (153*m+2)/5 + int64(d.day) - 1 - 719470
}

// marchYear gives the year that starts in March and the months since.
func marchYear(d date) (year, month int64) {
	year, month = int64(d.year), int64(d.month-3)
	if month < 0 {
		year, month = year-1, month+12
	}
	return year, month
}

// civilDate gives the proleptic Gregorian date of a day number.
func civilDate(n int64) date {
	n += 719468
	era, rest := floorDiv(n, 146097) // of 400 years
	y := (rest - rest/1460 + rest/36524 - rest/146096) / 365
	rest -= 365*y + y/4 - y/100
	return marchDate(y+400*era, rest)
}

// marchDate gives the date of a day of a year that starts in March.
func marchDate(year, rest int64) date {
	m := (5*rest + 2) / 153
	d := date{int(year), int(m + 3), int(rest-(153*m+2)/5) + 1}
	if d.month > 12 {
		d.year, d.month = d.year+1, d.month-12
	}
	return d
}

// dateOf gives the date that the calendar has for a second since 1970. Days of
// a noleap calendar were brought to their civil date before.
func (c calendar) dateOf(second int64) date {
	n, _ := floorDiv(second, day)
	if c == julian || c == mixed && n < reform {
		return julianDate(n)
	}
	return civilDate(n)
}

// reform is the day number of 15 October 1582.
const reform = -141427

// julianDate gives the Julian date of a day number.
func julianDate(n int64) date {
	era, rest := floorDiv(n+719470, 1461) // of four years
	y := (rest - rest/1460) / 365
	return marchDate(y+4*era, rest-365*y)
}

func floorDiv(a, b int64) (quotient, rest int64) {
	quotient, rest = a/b, a%b
	if rest < 0 {
		quotient, rest = quotient-1, rest+b
	}
	return quotient, rest
}
