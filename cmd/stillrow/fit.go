package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"stillrow/data/outfile"
	"stillrow/simulate/fit"
)

type fitCmd struct {
	File    string   `arg:"" name:"F.csv" help:"Outdoor test points; 'stillrow example fit' prints a template."`
	Hold    []string `help:"Hold a coefficient at a known value, such as b0=0.1." placeholder:"NAME=VALUE"`
	Picture string   `help:"Also draw the residuals to this file." placeholder:"F.png"`
	Day     string   `help:"Measured points of a day, in the same columns, to replay against the fitted receiver; goes with --day-picture." placeholder:"DAY.csv"`
	DayPic  string   `name:"day-picture" help:"Draw the replayed day to this file." placeholder:"F.png"`
	jsonFlag
}

func (*fitCmd) Help() string {
	return `Receiver coefficients from outdoor test points by weighted least squares after ISO 9806, with standard errors, and a block for the study file.

Example: stillrow fit points.csv --picture residuals.png`
}

func (c *fitCmd) Run(e *env) error {
	if (c.Day == "") != (c.DayPic == "") {
		return usagef("--day and --day-picture go together")
	}
	points, err := readPoints(c.File)
	if err != nil {
		return err
	}
	o := fit.Options{Hold: make(map[string]float64)}
	for _, h := range c.Hold {
		name, value, ok := strings.Cut(h, "=")
		v, err := strconv.ParseFloat(value, 64)
		if !ok || err != nil {
			return usagef("--hold=%s: want NAME=VALUE, such as b0=0.1", h)
		}
		o.Hold[name] = v
	}
	r, err := fit.Fit(points, o)
	if err != nil {
		return fmt.Errorf("%s: %w", c.File, err)
	}
	if c.Picture != "" {
		if err := outfile.Write(c.Picture, r.Plot); err != nil {
			return err
		}
	}
	if err := c.replay(e, r); err != nil {
		return err
	}
	if c.JSON {
		return writeJSON(e.stdout, r)
	}
	if err := r.WriteText(e.stdout); err != nil {
		return err
	}
	_, err = io.WriteString(e.stdout, "\n"+r.StudyBlock())
	return err
}

func readPoints(path string) ([]fit.Point, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, usageError{err}
	}
	defer f.Close()
	return fit.Read(f, path)
}

// replay draws a measured day against what the fitted receiver gives.
func (c *fitCmd) replay(e *env, r *fit.Result) error {
	if c.Day == "" {
		return nil
	}
	points, err := readPoints(c.Day)
	if err != nil {
		return err
	}
	day, err := r.Replay(filepath.Base(c.Day)+" against "+filepath.Base(c.File), points)
	if err != nil {
		return err
	}
	if err := outfile.Write(c.DayPic, func(w io.Writer) error { return fit.PlotDay(w, day) }); err != nil {
		return err
	}
	var measured, modelled float64
	for i := range day.Measured {
		measured += day.Measured[i] / float64(len(points))
		modelled += day.Modelled[i] / float64(len(points))
	}
	_, err = fmt.Fprintf(e.stderr, "%s: mean of %d points measured %.1f, modelled %.1f W/m²\n", c.DayPic, len(points), measured, modelled)
	return err
}
