package main

import (
	"fmt"
	"strings"

	"stillrow/cmd/stillrow/study"
	"stillrow/rank/cost"
	"stillrow/simulate/result"
)

type costCmd struct {
	studyFlag
	designFlag
	Heat float64 `required:"" help:"Heat of the first year, kWh per m² of receiver, gross at the receiver." placeholder:"KWH"`
	jsonFlag
}

func (*costCmd) Help() string {
	return `The levelised cost of heat of one design that gives so much heat a year, with its cash flow per m² of receiver: undiscounted, one entry per date, the credit for what the last purchases have left negative at the horizon.

Example: stillrow cost --heat 500 --design '{"mirror_length_m":1}'`
}

func (c *costCmd) Run(e *env) error {
	if !(c.Heat > 0) || c.Heat > 1e9 {
		return usagef("--heat=%g: want above 0", c.Heat)
	}
	s, err := c.load(study.DefaultBook)
	if err != nil {
		return err
	}
	e.warn(s.Warnings)
	d, err := c.pick(s)
	if err != nil {
		return err
	}
	l, err := s.Plan.Levelise(result.Design(d), c.Heat)
	if err != nil {
		return err
	}
	if c.JSON {
		return writeJSON(e.stdout, l)
	}
	return writeCost(e, s, describe(d), l)
}

func writeCost(e *env, s *study.Study, design string, l cost.Levelised) error {
	var b strings.Builder
	gas := s.Gas.HeatCost()
	fmt.Fprintf(&b, "%s\n\n", design)
	fmt.Fprintf(&b, "levelised cost of heat   %10.5f %s/kWh\n", *l.LCOH, s.Currency)
	fmt.Fprintf(&b, "heat from gas            %10.5f %s/kWh   ratio %.3f\n", gas, s.Currency, *l.LCOH/gas)
	fmt.Fprintf(&b, "present value of cost    %10.3f %s/m²\n", l.PVCost, s.Currency)
	fmt.Fprintf(&b, "present value of heat    %10.2f kWh/m²\n\n", l.PVHeat)
	fmt.Fprintf(&b, "%8s %12s %12s\n%8s %12s %12s\n", "year", "cost", "heat", "", s.Currency+"/m²", "kWh/m²")
	for _, p := range l.CashFlow {
		fmt.Fprintf(&b, "%8.4g %12.3f %12.2f\n", p.Year, p.Cost, p.Heat)
	}
	_, err := e.stdout.Write([]byte(b.String()))
	return err
}
