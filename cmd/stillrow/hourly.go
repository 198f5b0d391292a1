package main

import (
	"bufio"
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"
	"time"

	"stillrow/data/outfile"
	"stillrow/simulate"
)

// outletIndex finds an outlet of the study; 0 stands for the first.
func outletIndex(outlets []float64, t float64) (int, error) {
	if t == 0 {
		return 0, nil
	}
	i := slices.Index(outlets, t)
	if i < 0 {
		return 0, usagef("--outlet=%g: the study has the outlets %v", t, outlets)
	}
	return i, nil
}

// hourlyColumns are those of --hourly, with what each holds.
var hourlyColumns = []struct {
	name string
	at   func(s *simulate.Step) float64
}{
	{"ghi_w_m2", func(s *simulate.Step) float64 { return s.Air.GHI }},
	{"dni_w_m2", func(s *simulate.Step) float64 { return s.DNI }},
	{"dhi_w_m2", func(s *simulate.Step) float64 { return s.DHI }},
	{"air_temperature_c", func(s *simulate.Step) float64 { return s.Air.AirTemperature }},
	{"wind_speed_m_s", func(s *simulate.Step) float64 { return s.Air.Wind }},
	{"sunlit_share", func(s *simulate.Step) float64 { return s.Sky.Fraction }},
	{"absorbed_w_m2", func(s *simulate.Step) float64 { return s.Absorbed }},
	{"receiver_c", func(s *simulate.Step) float64 { return s.After.T }},
	{"lost_wh_m2", func(s *simulate.Step) float64 { return s.Ledger.Lost }},
	{"stored_wh_m2", func(s *simulate.Step) float64 { return s.Ledger.Stored }},
	{"heat_wh_m2", func(s *simulate.Step) float64 { return s.Ledger.Delivered }},
}

// hourly writes every hour of one design and outlet.
func (c *siteCmd) hourly(e *env, plan *simulate.Plan, r *siteReport) error {
	design, outlet := 0, 0
	if c.Design != "" { // the only one there is, whatever it gives
		if err := c.known(r); err != nil {
			return err
		}
		outlet, _ = outletIndex(r.table.Outlets, c.Outlet)
	} else {
		res, err := c.subject(r, "--hourly")
		if err != nil {
			return fmt.Errorf("%w; say which one by --design", err)
		}
		design, outlet = res.design, res.outlet
	}
	steps, err := plan.Hourly(r.place.site, r.place.year, design, outlet)
	if err != nil {
		return err
	}
	err = outfile.Write(c.Hourly, func(w io.Writer) error {
		buf := bufio.NewWriter(w)
		out := csv.NewWriter(buf)
		line := []string{"hour_start"}
		for _, col := range hourlyColumns {
			line = append(line, col.name)
		}
		if err := out.Write(line); err != nil {
			return err
		}
		for s := range steps {
			if s.Hour%24 == 0 && e.ctx.Err() != nil {
				return e.ctx.Err()
			}
			line = append(line[:0], hourName(s.Hour))
			for _, col := range hourlyColumns {
				line = append(line, strconv.FormatFloat(col.at(s), 'g', 6, 64))
			}
			if err := out.Write(line); err != nil {
				return err
			}
		}
		out.Flush()
		if err := out.Error(); err != nil {
			return err
		}
		return buf.Flush()
	})
	if err == nil {
		fmt.Fprintf(e.notes(c.Quiet), "%s: %s, outlet %g °C\n", c.Hourly, describe(r.study.Designs[design]), r.table.Outlets[outlet])
	}
	return err
}

// hourName writes an hour of the weather year as month-day and clock, local
// standard time.
func hourName(h int) string {
	return time.Date(2001, 1, 1, h, 0, 0, 0, time.UTC).Format("01-02T15:04")
}
