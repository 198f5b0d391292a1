package main

import (
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"

	"stillrow/data/outfile"
	"stillrow/simulate/fit"
)

type fitCmd struct {
	File    string   `arg:"" name:"F.csv" help:"Outdoor test points; 'stillrow example fit' prints a template."`
	Hold    []string `help:"Hold a coefficient at a known value, such as b0=0.1." placeholder:"NAME=VALUE"`
	Picture string   `help:"Also draw the residuals to this file." placeholder:"F.png"`
	jsonFlag
}

func (*fitCmd) Help() string {
	return `Receiver coefficients from outdoor test points by weighted least squares after ISO 9806, with standard errors, and a block for the study file.

Example: stillrow fit points.csv --picture residuals.png`
}

func (c *fitCmd) Run(e *env) error {
	f, err := os.Open(c.File)
	if err != nil {
		return usageError{err}
	}
	defer f.Close()
	points, err := fit.Read(f, c.File)
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
	if c.JSON {
		return writeJSON(e.stdout, r)
	}
	if err := r.WriteText(e.stdout); err != nil {
		return err
	}
	_, err = io.WriteString(e.stdout, "\n"+r.StudyBlock())
	return err
}
