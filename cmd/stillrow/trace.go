package main

import (
	"fmt"
	"math"
	"strings"

	"stillrow/ingest/weather"
	"stillrow/simulate"
	"stillrow/simulate/collector"
	"stillrow/simulate/sun"
)

type traceCmd struct {
	placeFlags
	Hour   int     `required:"" help:"Hour of the weather year, 0 to 8759; hour 0 is the first of 1 January, local standard time." placeholder:"H"`
	Outlet float64 `help:"Outlet temperature, °C; by default the study's first." placeholder:"T"`
	studyFlag
	designFlag
	outFlag
	workFlags
}

func (*traceCmd) Help() string {
	return `Every step from the weather of one hour to the heat of one design, with units: the year is marched up to that hour by the code that every run uses.

Example: stillrow trace --at 36.5,-42 --hour 4284 --outlet 60 --design '{"mirror_length_m":1.2,"mirror_tilt_deg":75}'`
}

func (c *traceCmd) Run(e *env) error {
	if err := c.check(); err != nil {
		return err
	}
	if c.Hour < 0 || c.Hour >= weather.Hours {
		return usagef("--hour=%d: want 0 to %d", c.Hour, weather.Hours-1)
	}
	p, err := c.find(e, c.Out, e.notes(c.Quiet))
	if err != nil {
		return err
	}
	m, err := c.markets(resultSites([]weather.Site{p.site}))
	if err != nil {
		return err
	}
	s := m.study()
	d, err := c.pick(s)
	if err != nil {
		return err
	}
	s.Designs = []collector.Design{d}
	plan, err := prepare(e.ctx, s, &c.workFlags)
	if err != nil {
		return err
	}
	table := plan.Table()
	outlet, err := outletIndex(table.Outlets, c.Outlet)
	if err != nil {
		return err
	}
	steps, err := plan.Hourly(p.site, p.year, 0, outlet)
	if err != nil {
		return err
	}
	for step := range steps {
		if step.Hour == c.Hour {
			_, err = e.stdout.Write([]byte(traceText(plan, p, step, plan.Outlets[outlet])))
			return err
		}
	}
	return nil
}

// A tracer lines up names, values, units and explanations.
type tracer struct{ strings.Builder }

func (t *tracer) head(text string) { fmt.Fprintf(t, "\n%s\n", text) }

func (t *tracer) line(name string, v float64, unit, note string) {
	fmt.Fprintf(t, "  %-26s %12.5g %-8s %s\n", name, v, unit, note)
}

func traceText(plan *simulate.Plan, p *place, s *simulate.Step, out collector.Outlet) string {
	var t tracer
	r, h := &plan.Receiver, plan.Heater(0)
	fmt.Fprintf(&t, "%s  %s  hour %d, %s to the next, local standard time (UTC%+g)\n", p.site.Name, coordinates(p.site.Lat, p.site.Lon), s.Hour, hourName(s.Hour), p.site.UTCOffset)
	fmt.Fprintf(&t, "%s; outlet %g °C, inlet %g °C\n", describe(plan.Designs[0]), out.Out, out.In)

	t.head("weather of the hour (the weather table)")
	t.line("GHI", s.Air.GHI, "W/m²", "")
	t.line("DNI", s.DNI, "W/m²", "")
	t.line("DHI", s.DHI, "W/m²", "")
	t.line("air temperature", s.Air.AirTemperature, "°C", "")
	t.line("wind at 10 m", s.Air.Wind, "m/s", "")
	t.line("sky infrared", s.Air.SkyInfrared, "W/m²", "")

	t.head(fmt.Sprintf("sun of %d, interval moved %d min (Meeus 1998, chapter 25)", p.site.Year[s.Month], p.site.ClockMin[s.Month]))
	t.line("sunlit share", s.Sky.Fraction, "", "of the hour, altitude above 0")
	t.line("sun's distance", s.Sky.Distance, "au", "")
	t.line("anisotropy index", s.Light.Ai, "", "DNI over what it is above the air (Hay and Davies 1980)")
	t.line("isotropic light", s.Light.Isotropic, "W/m²", "(1 − index)·DHI")
	t.line("light from the ground", s.Light.Ground, "W/m²", "albedo·GHI")

	t.head("beam at the instants that stand for the hour")
	fmt.Fprintf(&t, "  %8s %8s %8s %7s %8s %8s %8s %9s %9s\n", "altitude", "azimuth", "profile", "s2", "f_dir", "f_mir", "path m", "DNI' W/m²", "absorbed")
	for i, ray := range s.Light.Rays {
		f := h.Factors(ray.Psi)
		one := collector.Light{Rays: s.Light.Rays[i : i+1]}
		fmt.Fprintf(&t, "  %7.2f° %7.2f° %7.2f° %7.4f %8.4f %8.4f %8.3f %9.1f %9.1f\n", s.Sky.Altitude[i], s.Sky.Azimuth[i],
			ray.Psi.Degrees(), ray.S2, f.Direct, f.Fmir, f.Path, ray.DNI*float64(len(s.Light.Rays)), h.Absorbed(one)*float64(len(s.Light.Rays)))
	}
	if len(s.Light.Rays) == 0 {
		t.WriteString("  the sun is down all hour: beam counts 0\n")
	} else {
		mid := s.Light.Rays[len(s.Light.Rays)/2]
		zenith := sun.Angle(math.Acos(mid.S2 * math.Sin(float64(mid.Psi))))
		t.line("Kb of the sun, mid hour", r.Kb.At(zenith), "", "incidence angle modifier")
	}

	t.head("absorbed by the receiver, per m²")
	t.line("sky share d_sky", h.Sky, "", "with the mirror's reflectance")
	t.line("ground share d_gnd", h.Ground, "", "without it")
	t.line("η0b", r.Eta0b, "", "")
	t.line("Kd", r.Kd, "", "")
	t.line("absorbed S", s.Absorbed, "W/m²", "η0b·[beam + Kd·(d_sky·isotropic + d_gnd·ρ·ground)]")

	t.head("loss, linear about the mean of inlet and outlet (ISO 9806:2013)")
	t.line("running temperature", s.Line.Run, "°C", "")
	t.line("loss there", s.Line.At, "W/m²", "")
	t.line("slope U", s.Line.U, "W/m²K", "")
	steady := s.Line.Steady(s.Absorbed)
	t.line("steady temperature Ts", steady, "°C", "at which the loss equals S")
	if steady > out.Out {
		t.line("mean of the plug flow Tm", steady-collector.PlugMean(steady-out.Out, out.Out-out.In), "°C", "Hottel and Whillier 1958")
	} else {
		t.WriteString("  Ts is not above the outlet: no flow in this hour\n")
	}

	t.head("state")
	t.line("receiver at the start", s.Before.T, "°C", water(s.Before))
	if e := events(s.Event); e != "" {
		fmt.Fprintf(&t, "  %s\n", e)
	}
	t.line("receiver at the end", s.After.T, "°C", water(s.After))

	t.head("energy of the hour, per m²")
	t.line("absorbed", s.Ledger.Absorbed, "Wh/m²", "")
	t.line("lost", s.Ledger.Lost, "Wh/m²", "")
	t.line("stored", s.Ledger.Stored, "Wh/m²", "")
	t.line("left over", s.Ledger.Balance(), "Wh/m²", "absorbed less delivered, lost and stored: rounding")
	t.line("heat delivered", s.Ledger.Delivered, "Wh/m²", "double precision, optics at each instant")
	t.line("heat in the run", s.KernelHeat, "Wh/m²", "single precision, tabulated optics")
	return t.String()
}

func water(s collector.State) string {
	if s.Out {
		return fmt.Sprintf("dry; the water waits at %.2f °C", s.Store)
	}
	return "water in"
}

func events(e collector.Event) string {
	var list []string
	if e.Leave {
		list = append(list, "the water leaves at the start of the hour")
	}
	if e.Return {
		list = append(list, "the water comes back at the start of the hour")
	}
	if e.Refill {
		list = append(list, "water that is out comes back once the dry receiver is warm")
	}
	return strings.Join(list, "; ")
}
