package main

import (
	"fmt"
	"time"

	"stillrow/simulate/sun"
)

type sunCmd struct {
	At   string `required:"" help:"Latitude and longitude, degrees." placeholder:"LAT,LON"`
	Time string `required:"" help:"Instant, RFC 3339." placeholder:"TIME"`
	jsonFlag
}

func (*sunCmd) Help() string {
	return `Altitude and azimuth of the sun's centre, without refraction, and the profile angle for a row that runs east-west.

Example: stillrow sun --at 39.742476,-105.1786 --time 2003-10-17T12:30:30-07:00`
}

// A sunJSON is where the sun stands, degrees.
type sunJSON struct {
	Altitude float64 `json:"altitude_deg"`
	Azimuth  float64 `json:"azimuth_deg"` // clockwise from north
	Profile  float64 `json:"profile_deg"`
}

func (c *sunCmd) Run(e *env) error {
	where, err := parseAt(c.At)
	if err != nil {
		return err
	}
	t, err := time.Parse(time.RFC3339, c.Time)
	if err != nil {
		return usagef("--time=%s: want RFC 3339, such as 2026-06-21T12:00:00Z", c.Time)
	}
	t = t.UTC()
	if t.Year() < 1950 || t.Year() > 2050 {
		fmt.Fprintln(e.stderr, "warning: the sun's place is exact to 0.01° from 1950 to 2050 only")
	}
	hour := float64(t.Hour()) + float64(t.Minute())/60 + (float64(t.Second())+float64(t.Nanosecond())/1e9)/3600
	place := where.place()
	v := place.Sun(sun.JulianDate(t.Year(), int(t.Month()), t.Day(), hour))
	sx, _, sz := v.Row(0)
	s := sunJSON{v.Altitude().Degrees(), place.Azimuth(v).Degrees(), sun.Profile(sx, sz).Degrees()}
	if c.JSON {
		return writeJSON(e.stdout, s)
	}
	_, err = fmt.Fprintf(e.stdout, "altitude       %9.4f°  unrefracted\nazimuth        %9.4f°  clockwise from north\nprofile angle  %9.4f°  0 at the equatorward horizon, 90 overhead\n",
		s.Altitude, s.Azimuth, s.Profile)
	return err
}
