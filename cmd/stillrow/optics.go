package main

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"stillrow/cmd/stillrow/study"
	"stillrow/simulate/collector"
	"stillrow/simulate/sun"
)

type opticsCmd struct {
	studyFlag
	designFlag
	Profile string `required:"" help:"Profile angles of the sun, degrees, with commas between." placeholder:"ANGLES"`
	jsonFlag
}

func (*opticsCmd) Help() string {
	return `By profile angle: the fraction of the receiver that sees the sun (f_dir), what the mirror sends to it per unit of beam in the section plane at reflectance 1 (f_mir), the direct reflection of other rows' mirrors, which the heat leaves out (f_spill), the mean path of the reflected rays (m) and the direction of the central one (degrees; 180 to 360 points down). And the receiver's shares of diffuse light: d_sky with the mirror's reflectance in it, d_gnd without.

Example: stillrow optics --design '{"mirror_tilt_deg":75,"mirror_length_m":1}' --profile 20,40,60,80`
}

// An opticsJSON is the optics of one design.
type opticsJSON struct {
	Design collector.Design `json:"design"`
	Rows   []opticsRow      `json:"rows"`
	Sky    float64          `json:"d_sky"`
	Ground float64          `json:"d_gnd"`
}

type opticsRow struct {
	Profile   float64 `json:"profile_deg"`
	Direct    float64 `json:"f_dir"`
	Mirror    float64 `json:"f_mir"`
	Spill     float64 `json:"f_spill"`
	Path      float64 `json:"path_m"`
	Reflected float64 `json:"reflected_deg"`
}

func (c *opticsCmd) Run(e *env) error {
	angles, err := parseAngles(c.Profile)
	if err != nil {
		return err
	}
	s, err := c.load(study.DefaultBook)
	if err != nil {
		return err
	}
	d, err := c.pick(s)
	if err != nil {
		return err
	}
	section := collector.NewSection(d, s.Mirror)
	out := opticsJSON{Design: d}
	out.Sky, out.Ground = section.Diffuse()
	for _, a := range angles {
		f := section.Factors(sun.Angle(a) * sun.Degree)
		out.Rows = append(out.Rows, opticsRow{a, f.Direct, f.Fmir, f.Spill, f.Path, f.Nominal.Degrees()})
	}
	if c.JSON {
		return writeJSON(e.stdout, out)
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n\n%8s %8s %8s %8s %8s %10s\n", describe(d), "profile", "f_dir", "f_mir", "f_spill", "path", "reflected")
	fmt.Fprintf(&b, "%8s %8s %8s %8s %8s %10s\n", "°", "", "", "", "m", "°")
	for _, r := range out.Rows {
		fmt.Fprintf(&b, "%8g %8.4f %8.4f %8.4f %8.3f %10.2f\n", r.Profile, r.Direct, r.Mirror, r.Spill, r.Path, r.Reflected)
	}
	fmt.Fprintf(&b, "\nd_sky %.4f   d_gnd %.4f\n", out.Sky, out.Ground)
	_, err = e.stdout.Write([]byte(b.String()))
	return err
}

func parseAngles(text string) ([]float64, error) {
	var list []float64
	for _, t := range strings.Split(text, ",") {
		v, err := strconv.ParseFloat(strings.TrimSpace(t), 64)
		if err != nil || math.IsNaN(v) || v < -180 || v > 180 {
			return nil, usagef("--profile=%s: %q, want angles of -180 to 180 degrees with commas between", text, t)
		}
		list = append(list, v)
	}
	return list, nil
}

// describe says in words what a design is.
func describe(d collector.Design) string {
	if d.MirrorLength == 0 {
		return fmt.Sprintf("receiver %g m wide, no mirror", d.ReceiverWidth)
	}
	text := fmt.Sprintf("receiver %g m wide, mirror %g m at %g°", d.ReceiverWidth, d.MirrorLength, d.MirrorTilt)
	for _, p := range []struct {
		v      float64
		format string
	}{
		{d.Setback, ", set back %g m"}, {d.Raise, ", raised %g m"}, {d.RowPitch, ", rows every %g m"},
		{d.RowLength, ", rows %g m long"}, {d.RowAzimuth, ", turned %g° to the west"},
	} {
		if p.v != 0 {
			text += fmt.Sprintf(p.format, p.v)
		}
	}
	return text
}
