package main

import (
	"io"

	"stillrow/data"
	"stillrow/simulate/fit"
)

type exampleCmd struct {
	What string `arg:"" enum:"study,fit" help:"study: a complete, commented study file; fit: a template of outdoor test points."`
}

func (*exampleCmd) Help() string {
	return `Example: stillrow example study > mine.toml`
}

func (c *exampleCmd) Run(e *env) error {
	if c.What == "fit" {
		_, err := io.WriteString(e.stdout, fit.Template())
		return err
	}
	text, err := data.FS.ReadFile(builtIn)
	if err != nil {
		return err
	}
	_, err = e.stdout.Write(text)
	return err
}
