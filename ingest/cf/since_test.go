package cf

import (
	"math"
	"testing"
	"time"
)

func TestSince(t *testing.T) {
	for _, tt := range []struct {
		units, calendar string
		value           float64
		want            string // RFC 3339; empty for an error
	}{
		// CF conventions, section 4.4: the reference time of this example is
		// 15:15:42.5 on 8 October 1992, six hours west: 21:15:42.5 UTC.
		{"seconds since 1992-10-8 15:15:42.5 -6:00", "", 0.5, "1992-10-08T21:15:43Z"},
		{"days since 1850-01-01", "standard", 365, "1851-01-01T00:00:00Z"},
		{"hours since 1900-01-01 00:00:00.0", "gregorian", 997104, "2013-10-01T00:00:00Z"}, // ERA5, October 2013
		{"hours since 1970-01-01T00:00:00Z", "", 1, "1970-01-01T01:00:00Z"},
		{"hours since 1970-01-01 00:00:00 UTC", "", 1, "1970-01-01T01:00:00Z"},
		{"hours since 1970-01-01 00:00 +02:00", "", 2, "1970-01-01T00:00:00Z"},
		{"hours since 1970-01-01 00:00+0200", "", 2, "1970-01-01T00:00:00Z"},
		{"minutes since 1970-1-1 12", "", 90, "1970-01-01T13:30:00Z"},
		{"days since 19700101", "", 1.5, "1970-01-02T12:00:00Z"},
		{"day since 1970-01-01", "", float64(float32(1.0416666)), "1970-01-02T01:00:00Z"},
		{"hour since 2008-01-01", "proleptic_gregorian", 1416, "2008-02-29T00:00:00Z"},
		{"days since 2008-01-01", "noleap", 59, "2008-03-01T00:00:00Z"},
		{"days since 2008-01-01", "365_day", 365, "2009-01-01T00:00:00Z"},
		{"days since 2008-03-01", "noleap", -1, "2008-02-28T00:00:00Z"},
		// The reform: 4 October 1582 was followed by 15 October.
		{"days since 1582-10-04", "standard", 1, "1582-10-15T00:00:00Z"},
		{"days since 1582-10-04", "proleptic_gregorian", 1, "1582-10-05T00:00:00Z"},
		// 1-1-1 of the mixed calendar lies two days before that of the proleptic one.
		{"days since 1-1-1 00:00:0.0", "standard", 719164, "1970-01-01T00:00:00Z"},
		{"days since 0001-01-01", "proleptic_gregorian", 719162, "1970-01-01T00:00:00Z"},
		// Julian 1 January 1900 is 13 January of the civil calendar.
		{"days since 1900-01-01", "julian", 0, "1900-01-13T00:00:00Z"},
		{"hours since 2008-02-30", "", 0, ""},
		{"hours since 2009-02-29", "", 0, ""},
		{"hours since 2008-02-29", "noleap", 0, ""},
		{"hours since 2008-13-01", "", 0, ""},
		{"hours since 1582-10-10", "", 0, ""},
		{"hours since noon", "", 0, ""},
		{"hours since 2008-01-01 25:00", "", 0, ""},
		{"hours since 2008-01-01 00:00 EST", "", 0, ""},
		{"fortnights since 2008-01-01", "", 0, ""},
		{"years since 2008-01-01", "", 0, ""},
		{"Long Term Monthly Averages", "", 0, ""},
		{"hours", "", 0, ""},
		{"days since 2008-01-01", "", math.NaN(), ""},
		{"days since 2008-01-01", "", 1e300, ""},
		{"days since 2008-01-01", "360_day", 0, ""},
		{"days since 2008-01-01", "all_leap", 0, ""},
		{"days since 2008-01-01", "none", 0, ""},
	} {
		var got int64
		c, err := parseCalendar(tt.calendar)
		if err == nil {
			var s since
			if s, err = parseSince(tt.units, c); err == nil {
				got, err = s.at(tt.value)
			}
		}
		if tt.want == "" {
			if err == nil {
				t.Errorf("%q, %q, %v: %v, want an error", tt.units, tt.calendar, tt.value, time.Unix(got, 0).UTC())
			}
			continue
		}
		want, perr := time.Parse(time.RFC3339, tt.want)
		if perr != nil {
			t.Fatal(perr)
		}
		if err != nil || got != want.Unix() {
			t.Errorf("%q, %q, %v: %v, %v, want %v", tt.units, tt.calendar, tt.value, time.Unix(got, 0).UTC(), err, want)
		}
	}
}

// The standard library's calendar is the proleptic Gregorian one.
func TestCivilDay(t *testing.T) {
	for n := int64(-800_000); n < 800_000; n += 37 {
		y, m, d := time.Unix(n*day, 0).UTC().Date()
		want := date{y, int(m), d}
		if got := civilDate(n); got != want {
			t.Fatalf("day %d is %v, want %v", n, got, want)
		}
		if got := civilDay(want); got != n {
			t.Fatalf("%v is day %d, want %d", want, got, n)
		}
	}
}

// Each calendar's date of a day leads back to the day.
func TestDateOf(t *testing.T) {
	for _, c := range []calendar{mixed, gregorian, julian} {
		for n := int64(-800_000); n < 100_000; n += 13 {
			if d := c.dateOf(n * day); c.after(d, 0) != n || !c.holds(d) {
				t.Fatalf("calendar %d: day %d is %v, back to %d", c, n, d, c.after(d, 0))
			}
		}
	}
	if d := mixed.dateOf(reform*day - 1); d != (date{1582, 10, 4}) {
		t.Errorf("the day before the reform is %v", d)
	}
}

func TestMonthsSince(t *testing.T) {
	s, err := parseSince("months since 1979-03-01", mixed)
	if err != nil {
		t.Fatal(err)
	}
	for value, want := range map[float64][2]int{0: {1979, 3}, 0.5: {1979, 3}, 9: {1979, 12}, 10: {1980, 1}, -3: {1978, 12}} {
		if year, month, err := s.month(value); err != nil || year != want[0] || month != want[1] {
			t.Errorf("%v: %d-%d, %v, want %v", value, year, month, err, want)
		}
	}
}

func FuzzParseSince(f *testing.F) {
	for _, s := range []string{"hours since 1900-01-01 00:00:00.0", "seconds since 1992-10-8 15:15:42.5 -6:00",
		"days since 19700101t00z", "months since 0-1", "d since 1-1-1 0600 utc+1"} {
		f.Add(s, 12.5)
	}
	f.Fuzz(func(t *testing.T, text string, value float64) {
		for c := range noLeap + 1 {
			if s, err := parseSince(text, c); err == nil {
				s.at(value)
				if _, m, err := s.month(value); err == nil && (m < 1 || m > 12) {
					t.Errorf("month %d", m)
				}
			}
		}
	})
}
