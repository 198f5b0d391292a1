package cf

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// A since is what the units attribute of a time coordinate says: the length of
// a unit, and the instant they count from.
type since struct {
	unit     float64 // s; 0 where the unit is a month
	origin   date
	second   float64 // of the origin's day, UTC
	calendar calendar
}

var errNoSince = errors.New("no time unit: <unit> since <date>")

var timeUnits = map[string]float64{
	"nanosecond": 1e-9, "ns": 1e-9, "microsecond": 1e-6, "us": 1e-6, "millisecond": 1e-3, "ms": 1e-3, "msec": 1e-3,
	"second": 1, "sec": 1, "s": 1, "minute": 60, "min": 60,
	"hour": 3600, "hr": 3600, "h": 3600, "day": day, "d": day, "week": 7 * day, "month": 0,
}

// parseSince reads a time unit as UDUNITS spells it ("hours since 1992-10-8
// 15:15:42.5 -6:00"). Months are calendar months; years are refused.
func parseSince(text string, c calendar) (since, error) {
	name, rest, ok := strings.Cut(fold(text), " since ")
	if !ok {
		return since{}, errNoSince
	}
	name = strings.TrimSpace(name)
	unit, ok := timeUnits[name]
	if !ok {
		unit, ok = timeUnits[strings.TrimSuffix(name, "s")]
	}
	if !ok {
		return since{}, fmt.Errorf("%q: unknown time unit", name)
	}
	s := since{unit: unit, calendar: c}
	if s.origin, s.second, ok = parseInstant(rest); !ok || !c.holds(s.origin) {
		return since{}, fmt.Errorf("%q is no date of its calendar", rest)
	}
	return s, nil
}

// parseInstant reads a date with an optional clock time and zone, folded.
func parseInstant(text string) (d date, second float64, ok bool) {
	text = strings.TrimSpace(text)
	end := strings.IndexAny(text, " t")
	if end < 0 {
		end = len(text)
	}
	if d, ok = parseDate(text[:end]); !ok {
		return d, 0, false
	}
	text = strings.TrimPrefix(text[end:], "t")
	clock, zone, _ := strings.Cut(strings.TrimSpace(text), " ")
	if i := strings.IndexAny(clock, "z+-u"); i >= 0 {
		clock, zone = clock[:i], clock[i:]+zone
	}
	if clock != "" {
		if second, ok = parseClock(clock, 24); !ok {
			return d, 0, false
		}
	}
	offset, ok := parseZone(strings.TrimSpace(zone))
	return d, second - offset, ok
}

// parseDate reads year-month-day, or eight digits. A missing day is the first.
func parseDate(text string) (date, bool) {
	if len(text) == 8 && !strings.Contains(text, "-") {
		text = text[:4] + "-" + text[4:6] + "-" + text[6:]
	}
	parts := strings.Split(text, "-")
	if len(parts) == 2 {
		parts = append(parts, "1")
	}
	if len(parts) != 3 {
		return date{}, false
	}
	var n [3]int
	for i, p := range parts {
		v, ok := digits(p, 4)
		if !ok {
			return date{}, false
		}
		n[i] = v
	}
	return date{n[0], n[1], n[2]}, true
}

// parseClock reads hours, minutes and seconds, the latter two optional.
func parseClock(text string, most int) (float64, bool) {
	parts := strings.Split(text, ":")
	if len(parts) == 1 && (len(text) == 4 || len(text) == 6) { // 0600, 060000
		parts = []string{text[:2], text[2:4], "0" + text[4:]}
	}
	if len(parts) > 3 {
		return 0, false
	}
	hour, ok := digits(parts[0], 2)
	if !ok || hour > most {
		return 0, false
	}
	second := float64(hour) * 3600
	if len(parts) > 1 {
		minute, ok := digits(parts[1], 2)
		if !ok || minute > 59 {
			return 0, false
		}
		second += float64(minute) * 60
	}
	if len(parts) > 2 {
		whole, fraction, dotted := strings.Cut(parts[2], ".")
		s, ok := digits(strings.TrimPrefix(whole, "0"), 2)
		if whole == "0" || whole == "00" {
			s, ok = 0, true
		}
		if !ok || s > 60 {
			return 0, false
		}
		second += float64(s)
		if dotted && fraction != "" {
			if _, ok := digits(fraction, 18); !ok {
				return 0, false
			}
			f, _ := strconv.ParseFloat("0."+fraction, 64)
			second += f
		}
	}
	return second, true
}

// parseZone reads an offset from UTC in seconds.
func parseZone(text string) (float64, bool) {
	switch text {
	case "", "z", "utc", "gmt", "ut":
		return 0, true
	}
	text = strings.TrimPrefix(strings.TrimPrefix(text, "utc"), "gmt")
	if len(text) < 2 || text[0] != '+' && text[0] != '-' {
		return 0, false
	}
	s, ok := parseClock(text[1:], 14)
	if text[0] == '-' {
		s = -s
	}
	return s, ok
}

// digits reads one to most decimal digits.
func digits(text string, most int) (int, bool) {
	if text == "" || len(text) > most {
		return 0, false
	}
	for _, c := range text {
		if c < '0' || c > '9' {
			return 0, false
		}
	}
	n, _ := strconv.Atoi(text) // digits that fit, as most keeps below 19
	return n, true
}

// longestTime bounds what a time value may count, so that arithmetic on it
// stays exact: some 30 000 years.
const longestTime = 1e12 // s

// at gives the second since 1970, in the civil calendar, of a value of the
// coordinate. Values within 2 s of a whole minute are taken as that: single
// precision and fractions of days miss it so.
func (s since) at(value float64) (int64, error) {
	t := value*s.unit + s.second
	if !(math.Abs(t) < longestTime) {
		return 0, fmt.Errorf("%v is no time", value)
	}
	if minute := math.Round(t/60) * 60; math.Abs(t-minute) <= 2 {
		t = minute
	}
	n, rest := floorDiv(int64(math.Round(t)), day)
	return s.calendar.after(s.origin, n)*day + rest, nil
}

// near gives the second of a value within a day of another one without the 29
// February that the calendar may leave out between them: an interval keeps its
// length.
func (s since) near(value, other float64) (int64, error) {
	at, err := s.at(value)
	if err != nil || s.calendar != noLeap || !(math.Abs(value-other)*s.unit < day) {
		return at, err
	}
	from, err := s.at(other)
	if apart := float64(at - from); math.Abs(apart) >= day {
		at -= int64(math.Copysign(day, apart))
	}
	return at, err
}

// month gives the calendar month, 1 to 12, of a value in months; halves stand
// for the middle of a month.
func (s since) month(value float64) (year, month int, err error) {
	if !(math.Abs(value) < 1e6) {
		return 0, 0, fmt.Errorf("%v is no number of months", value)
	}
	y, m := floorDiv(int64(s.origin.month-1)+int64(math.Floor(value)), 12)
	return s.origin.year + int(y), int(m) + 1, nil
}
