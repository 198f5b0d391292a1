package series

import (
	"fmt"
	"slices"
	"time"

	"stillrow/ingest/weather"
)

// maxStep is the longest step that is brought to hours; a day has to be whole
// steps, so that each day has the same ones.
const maxStep = 6 * 3600

// The first record lies between these, s.
const (
	earliest = (1600 - 1970) * 365 * daySeconds
	latest   = (2600 - 1970) * 365 * daySeconds
)

// longest is the most hours between the first and the last record: 200 years.
const longest = 200 * 8784

const daySeconds = 86400

// A track is an axis laid on hours of local standard time.
//
// Hours are counted on from the first, as if no calendar left out a 29 February:
// where the stamps skip one, the day after follows at once. That keeps the hours
// whole when the local day is not the day of the stamps: of a year in UTC that
// skips it, the evening of 28 February would else be lost west of Greenwich, and
// the night of 1 March east of it.
type track struct {
	axis   *Axis
	runs   []run
	middle int64     // s from a stamp to the middle of what it stands for
	hours  int       // from the first to the last that a record reaches
	first  int       // hour of the calendar without leap days that the first one is
	leap   []leapDay // those the hours hold
}

// A run is records one step apart.
type run struct {
	from, to int   // records from to to−1
	start    int64 // s from the beginning of the first hour to the stamp of from
}

// A leapDay is a 29 February.
type leapDay struct {
	year, at int // at is its first hour, counted from the first of the track; may be outside
}

// step refuses steps that do not make hours.
func (a *Axis) step() error {
	switch {
	case len(a.Stamp) == 0:
		return fmt.Errorf("no records")
	case a.Step <= 0 || a.Step > maxStep || 3600%a.Step != 0 && (a.Step%3600 != 0 || daySeconds%a.Step != 0):
		return fmt.Errorf("records of %s: want hours, equal parts of one, or 2, 3, 4 or 6", time.Duration(a.Step)*time.Second)
	case a.Instant && a.From != 0:
		return fmt.Errorf("instants with an interval from %d s on", a.From)
	case a.From < -maxStep || a.From > maxStep:
		return fmt.Errorf("intervals that begin %d s after their stamp", a.From)
	case a.Stamp[0] < earliest || a.Stamp[0] > latest:
		return fmt.Errorf("the first record is stamped %d s from 1970, want years 1600 to 2600", a.Stamp[0])
	}
	return nil
}

// same tells whether two axes have the same times.
func (a *Axis) same(b *Axis) bool {
	return a == b || a.Step == b.Step && a.From == b.From && a.Instant == b.Instant && slices.Equal(a.Stamp, b.Stamp)
}

// newTrack lays an axis on local time, offset s ahead of its stamps.
func newTrack(a *Axis, offset int64) (*track, error) {
	if err := a.step(); err != nil {
		return nil, err
	}
	t := &track{axis: a}
	if !a.Instant {
		t.middle = a.From + a.Step/2
	}
	before, after := t.reach()
	lo := floorDiv(a.Stamp[0]+offset+before, 3600) // local hour since 1970
	base := lo*3600 - offset                       // its beginning, by the clock of the stamps
	open := run{start: a.Stamp[0] - base}
	var skipped []int
	for i := 1; i < len(a.Stamp); i++ {
		d := a.Stamp[i] - a.Stamp[i-1]
		switch {
		case d == a.Step:
			continue
		case d <= 0 || d%a.Step != 0:
			return nil, fmt.Errorf("record %d is stamped %s, %s after the one before: want %s or a multiple", i+1,
				stampText(a.Stamp[i]), time.Duration(d)*time.Second, time.Duration(a.Step)*time.Second)
		case a.Stamp[i]-a.Stamp[0] > longest*3600 || d > longest*3600:
			return nil, fmt.Errorf("%d hours from the first record to %s, at most %d are read", (a.Stamp[i]-a.Stamp[0])/3600, stampText(a.Stamp[i]), longest)
		case d == a.Step+daySeconds:
			if gap := time.Unix(a.Stamp[i-1]+d/2, 0).UTC(); gap.Month() == time.February && gap.Day() == 29 {
				skipped = append(skipped, gap.Year())
				base += daySeconds
				continue
			}
		}
		open.to = i
		t.runs = append(t.runs, open)
		open = run{from: i, start: a.Stamp[i] - base}
	}
	open.to = len(a.Stamp)
	t.runs = append(t.runs, open)
	t.hours = int(floorDiv(open.start+int64(open.to-open.from-1)*a.Step+after, 3600)) + 1
	t.lay(lo, skipped)
	return t, nil
}

// reach gives the seconds from a stamp to the instants whose hours are the first
// and the last that a record at it reaches.
func (t *track) reach() (first, last int64) {
	a := t.axis
	switch {
	case a.Step <= 3600:
		return t.middle, t.middle
	case a.Instant:
		return 0, a.Step - 1
	}
	return a.From, a.From + a.Step - 1
}

// lay finds the first hour, given in local hours since 1970, in the calendar
// without leap days, and the leap days that the hours hold.
func (t *track) lay(lo int64, skipped []int) {
	date := time.Unix(lo*3600, 0).UTC()
	year, hour := date.Year(), 24*(date.YearDay()-1)+date.Hour()
	for y, start := year, -hour; start < t.hours; y++ {
		length := weather.Hours
		if leapYear(y) && !slices.Contains(skipped, y) {
			if at := start + leapHour; at+24 > 0 && at < t.hours {
				t.leap = append(t.leap, leapDay{y, at})
			}
			length += 24
			if y == year && hour >= leapHour {
				hour = max(leapHour, hour-24)
			}
		}
		start += length
	}
	t.first = weather.Hours*year + hour
}

// leapHour is the first hour of 29 February in its year, or of 1 March in a year
// without.
const leapHour = 24 * (31 + 28)

func leapYear(y int) bool { return y%4 == 0 && (y%100 != 0 || y%400 == 0) }

// cut takes the leap days out of values of the track's hours.
func (t *track) cut(v []float64) []float64 {
	for i := len(t.leap) - 1; i >= 0; i-- {
		lo, hi := max(t.leap[i].at, 0), min(t.leap[i].at+24, len(v))
		v = append(v[:lo], v[hi:]...)
	}
	return v
}

// hoursOfYear gives the hour of the year of each of the track's hours; a 29
// February has those of the day before.
func (t *track) hoursOfYear() []int {
	of := make([]int, t.hours)
	h, leap := t.first%weather.Hours, t.leap
	for i := range of {
		if len(leap) > 0 && i >= leap[0].at {
			if i < leap[0].at+24 {
				of[i] = leapHour - 24 + i - leap[0].at
				continue
			}
			leap = leap[1:]
		}
		of[i] = h
		if h++; h == weather.Hours {
			h = 0
		}
	}
	return of
}

func stampText(s int64) string { return time.Unix(s, 0).UTC().Format("2006-01-02 15:04") }

// floorDiv divides towards minus infinity, b > 0.
func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

func floorMod(a, b int64) int64 { return a - b*floorDiv(a, b) }
