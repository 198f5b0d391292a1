package main

import (
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"stillrow/ingest/repair"
	"stillrow/rank/cost"
	"stillrow/simulate/film"
	"stillrow/simulate/result"
)

// writeText writes the report for a person.
func (r *siteReport) writeText(w io.Writer) error {
	var b strings.Builder
	r.writeHead(&b)
	r.writeBest(&b)
	r.writeMoney(&b)
	r.writeSure(&b)
	r.writeMonths(&b)
	r.writeStrain(&b)
	r.writeCautions(&b)
	r.writeSettings(&b)
	_, err := io.WriteString(w, b.String())
	return err
}

func (r *siteReport) writeHead(b *strings.Builder) {
	s, y := r.place.site, r.place.year
	lowest, highest, mean := y.AirTemperature[0], y.AirTemperature[0], 0.0
	wind := 0.0
	for h, t := range y.AirTemperature {
		lowest, highest = min(lowest, t), max(highest, t)
		mean += float64(t) / float64(len(y.AirTemperature))
		wind += float64(y.Wind[h]) / float64(len(y.Wind))
	}
	fmt.Fprintf(b, "%s  %s, %.0f m  %s\n", s.Name, coordinates(s.Lat, s.Lon), s.Elevation, r.country)
	fmt.Fprintf(b, "weather   %s\n", s.Source)
	fmt.Fprintf(b, "          GHI %.0f, DNI %.0f, DHI %.0f kWh/m² a year; air %.0f to %.0f °C, mean %.1f; wind %.1f m/s\n",
		yearly(y.GHI), yearly(y.DNI), yearly(y.DHI), lowest, highest, mean, wind)
	for _, f := range s.Flags {
		fmt.Fprintf(b, "          %s: %s\n", f, flagText(f))
	}
	rec := r.study.Receiver
	name := r.study.Preset
	if name == "" {
		name = "by its coefficients"
	}
	fmt.Fprintf(b, "receiver  %s: η0b %.3f, c1 %.3g, c2 %.3g, c3 %.3g, c4 %.3g, water %.3g m, %s at night\n",
		name, rec.Eta0b, rec.C1, rec.C2, rec.C3, rec.C4, rec.WaterDepth, rec.Night)
	if r.study.Preset != "" {
		if _, fitted, err := presetFit(r.study.Preset); err == nil {
			fmt.Fprintf(b, "          coefficients fitted to the films' heat balance: error %.0f W/m² RMS (%.1f %% of the mean loss), %+.0f at worst\n",
				fitted.RMS, 100*fitted.RMS/fitted.Mean, fitted.Worst)
		}
	}
	fmt.Fprintf(b, "mirror    reflectance %.3f in the field\n", r.study.Mirror.Rho())
	fmt.Fprintf(b, "prices    cost book %s\n", r.book)
	fmt.Fprintf(b, "gas heat  %.4f %s/kWh\n\n", r.study.Gas.HeatCost(), r.study.Currency)
}

// presetFit gives the preset's films and how well coefficients stand for them.
func presetFit(name string) (film.Stack, film.FitReport, error) {
	_, stack, err := film.Preset(name)
	if err != nil {
		return stack, film.FitReport{}, err
	}
	_, report, err := stack.Fit(film.WorkingRange())
	return stack, report, err
}

func coordinates(lat, lon float64) string {
	ns, ew := "N", "E"
	if lat < 0 {
		ns, lat = "S", -lat
	}
	if lon < 0 {
		ew, lon = "W", -lon
	}
	return fmt.Sprintf("%.2f° %s %.2f° %s", lat, ns, lon, ew)
}

func flagText(flag string) string {
	for _, f := range repair.Flags() {
		if f.Name == flag || strings.HasSuffix(f.Name, "_") && strings.HasPrefix(flag, f.Name) {
			return f.Meaning
		}
	}
	return "set by the source"
}

func (r *siteReport) writeBest(b *strings.Builder) {
	fmt.Fprintf(b, "Best design by use and outlet; heat of the use's months per m² of receiver\n\n")
	fmt.Fprintf(b, "%-14s %6s  %-18s %8s %9s %8s  %s\n", "use", "outlet", "mirror", "heat", "cost", "over gas", "next best")
	fmt.Fprintf(b, "%-14s %6s  %-18s %8s %9s %8s\n", "", "°C", "", "kWh/m²", r.study.Currency+"/kWh", "")
	for i, res := range r.results {
		use := res.Use
		switch k := r.picks[i]; {
		case k.Refused != "":
			fmt.Fprintf(b, "%-14s %6g  not buildable: %s\n", use, res.Outlet, k.Refused)
		case res.Design == nil:
			fmt.Fprintf(b, "%-14s %6g  %s\n", use, res.Outlet, res.Without)
		default:
			next := ""
			if n := res.RunnerUp; n != nil {
				next = fmt.Sprintf("%s %+.1f %%", mirrorOf(r.table.Designs[n.design]), n.Extra)
			}
			fmt.Fprintf(b, "%-14s %6g  %-18s %8.0f %9.4f %8.2f  %s\n", use, res.Outlet, mirrorOf(r.table.Designs[res.design]), res.Heat, *res.LCOH, *res.GasRatio, next)
		}
	}
	b.WriteByte('\n')
}

// mostBars is how many inputs of a tornado are shown.
const mostBars = 10

// writeSure tells how sure the costs are, and for the case that is least sure to
// beat gas or not, which inputs move its cost most.
func (r *siteReport) writeSure(b *strings.Builder) {
	least := -1 // sure of the results
	doubt := func(i int) float64 { return math.Abs(*r.results[i].Spread.BeatsGas - 0.5) }
	for i, res := range r.results {
		if res.Spread.BeatsGas != nil && (least < 0 || doubt(i) < doubt(least)) {
			least = i
		}
	}
	if least < 0 {
		return
	}
	fmt.Fprintf(b, "How sure: cost that one draw of ten, half and nine of ten stay below, %s/kWh; chance to beat gas\n\n", r.study.Currency)
	fmt.Fprintf(b, "%-14s %6s %9s %9s %9s %8s\n", "use", "outlet", "P10", "P50", "P90", "beats")
	fmt.Fprintf(b, "%-14s %6s %9s %9s %9s %8s\n", "", "°C", "", "", "", "gas")
	for _, res := range r.results {
		s := res.Spread
		if s.BeatsGas == nil {
			continue
		}
		fmt.Fprintf(b, "%-14s %6g %9s %9s %9s %6.0f %%\n", res.Use, res.Outlet, costOrNone(s.P10), costOrNone(s.P50), costOrNone(s.P90), 100**s.BeatsGas)
	}
	b.WriteString("\nP50 lies above the cost stated where prices may be higher by more than they may be lower\n")
	res := r.results[least]
	fmt.Fprintf(b, "\nWhat moves the cost of %s at %g °C most, each input alone from its low to its high; it is %.4f %s/kWh\n\n",
		res.Use, res.Outlet, *res.LCOH, r.study.Currency)
	for i, bar := range res.Tornado {
		if i == mostBars {
			fmt.Fprintf(b, "and %s more that move it less\n", count(len(res.Tornado)-mostBars, "input"))
			break
		}
		from, to := strconv.FormatFloat(bar.Low, 'g', 4, 64), strconv.FormatFloat(bar.High, 'g', 4, 64)
		if bar.Relative {
			from, to = fmt.Sprintf("%+.0f %%", 100*bar.Low), fmt.Sprintf("%+.0f %%", 100*bar.High)
		}
		fmt.Fprintf(b, "%-38s %9s to %-9s %9s to %s\n", bar.Input, from, to, costOrNone(bar.AtLow), costOrNone(bar.AtHigh))
	}
	b.WriteByte('\n')
}

// costOrNone writes a cost per kWh, or that there is none for want of heat.
func costOrNone(v *float64) string {
	if v == nil || math.IsInf(*v, 1) {
		return "no heat"
	}
	return fmt.Sprintf("%.4f", *v)
}

// writeMoney tells what the heat of the best designs saves, and what its cost is
// made of.
func (r *siteReport) writeMoney(b *strings.Builder) {
	fmt.Fprintf(b, "Against gas, per m² of receiver and year; gas price at which both cost the same\n\n")
	fmt.Fprintf(b, "%-14s %6s %9s %8s %8s %6s %11s\n", "use", "outlet", "saving", "payback", "CO2", "used", "gas price")
	fmt.Fprintf(b, "%-14s %6s %9s %8s %8s %6s %11s\n", "", "°C", r.study.Currency+"/m²", "years", "kg/m²", "%", r.study.Currency+"/kWh")
	for _, res := range r.results {
		if res.LCOH == nil {
			continue
		}
		payback := "never"
		if res.Payback != nil {
			payback = fmt.Sprintf("%.1f", *res.Payback)
		}
		fmt.Fprintf(b, "%-14s %6g %9.2f %8s %8.0f %6.0f %11.4f\n", res.Use, res.Outlet, *res.Saving, payback, *res.CO2, 100**res.UsedShare, *res.BreakEven)
	}
	fmt.Fprintf(b, "\nused: share of the months' heat that the demand takes; gas price on the basis %q\n\n", r.study.Gas.Basis)
	b.WriteString("What the cost of heat is made of, per cent\n\n")
	for _, res := range r.results {
		if res.LCOH == nil {
			continue
		}
		var parts []string
		for _, p := range res.Split {
			if share := 100 * p.PerKWh / *res.LCOH; share >= 0.5 {
				parts = append(parts, fmt.Sprintf("%s %.0f", p.Item, share))
			}
		}
		fold(b, fmt.Sprintf("%-14s %6g  ", res.Use, res.Outlet), strings.Join(parts, ", "), 100)
	}
	b.WriteByte('\n')
}

// mirrorOf says in short what mirror a design has.
func mirrorOf(d result.Design) string {
	if d.MirrorLength == 0 {
		return "none"
	}
	return fmt.Sprintf("%g m at %g°", d.MirrorLength, d.MirrorTilt)
}

// shown lists one result for each distinct design and outlet: a design may be the
// best for several uses.
func (r *siteReport) shown() (list []siteResult) {
	for _, res := range r.results {
		if res.Design == nil {
			continue
		}
		if !slices.ContainsFunc(list, func(o siteResult) bool { return o.outlet == res.outlet && o.design == res.design }) {
			list = append(list, res)
		}
	}
	return list
}

func (r *siteReport) writeMonths(b *strings.Builder) {
	fmt.Fprintf(b, "Heat by month, kWh per m² of receiver, gross at the receiver\n\n%6s  %-14s", "outlet", "mirror")
	for _, m := range []string{"Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec", "year"} {
		fmt.Fprintf(b, " %4s", m)
	}
	b.WriteByte('\n')
	plain := slices.IndexFunc(r.table.Designs, func(d result.Design) bool { return d.MirrorLength == 0 })
	last := -1
	line := func(outlet, design int) {
		fmt.Fprintf(b, "%6g  %-14s", r.table.Outlets[outlet], mirrorOf(r.table.Designs[design]))
		sum := 0.0
		for _, q := range r.block.Months(&r.table, outlet, design) {
			fmt.Fprintf(b, " %4.0f", q)
			sum += float64(q)
		}
		fmt.Fprintf(b, " %4.0f\n", sum)
	}
	for _, res := range r.shown() {
		if res.outlet != last && plain >= 0 {
			line(res.outlet, plain)
		}
		last = res.outlet
		if plain < 0 || r.table.Designs[res.design].MirrorLength > 0 {
			line(res.outlet, res.design)
		}
	}
	b.WriteByte('\n')
}

// writeStrain tells how the films of the best designs fare.
func (r *siteReport) writeStrain(b *strings.Builder) {
	b.WriteString("What the year does to the films; lives in years, shorter than rated where the doses are greater\n\n")
	fmt.Fprintf(b, "%6s  %-14s %6s %6s %6s  %5s %5s %5s  %5s %5s %5s %6s %6s\n", "outlet", "mirror", "dry", "peak", "edge", "UV", "UV", "UV", "clear", "black", "mirr.", "below", "glare")
	fmt.Fprintf(b, "%6s  %-14s %6s %6s %6s  %5s %5s %5s  %5s %5s %5s %6s %6s\n", "°C", "", "°C", "W/m²", "W/m²", "clear", "black", "mirr.", "life", "life", "life", "0 °C h", "h")
	for _, res := range r.shown() {
		at := func(s result.Stress) float32 { return r.block.Strain(&r.table, res.outlet, res.design, s) }
		fmt.Fprintf(b, "%6g  %-14s %6.0f %6.0f %6.0f  %5.0f %5.0f", res.Outlet, mirrorOf(r.table.Designs[res.design]),
			at(result.DryStagnation), at(result.PeakIrradiance), at(result.PeakEdge), at(result.UVClear), at(result.UVBlack))
		mirror := r.table.Designs[res.design].MirrorLength > 0
		if mirror {
			fmt.Fprintf(b, " %5.0f ", at(result.UVMirror))
		} else {
			fmt.Fprintf(b, " %5s ", "–")
		}
		strain := r.study.Lives.Strain(r.block, &r.table, res.outlet, res.design)
		for _, f := range []cost.Film{cost.ClearFilm, cost.BlackFilm, cost.MirrorFilm} {
			life := r.life(f, strain[f])
			if life == 0 || f == cost.MirrorFilm && !mirror {
				fmt.Fprintf(b, " %5s", "–")
			} else {
				fmt.Fprintf(b, " %5.1f", life)
			}
		}
		fmt.Fprintf(b, " %6.0f %6.0f\n", at(result.FreezingHours), at(result.GlareHours))
	}
	b.WriteString("\ndry: 99.9th percentile of the dry receiver's stagnation; peak, edge: greatest hourly irradiance on the\nreceiver and on its edges with the mirror's spot; UV: yearly dose, kWh/m².\n\n")
}

// life gives the years between replacements of a film, 0 where no cost item is
// tied to it.
func (r *siteReport) life(f cost.Film, strain float64) float64 {
	for _, it := range r.study.Plan.Items {
		if it.Film == f {
			return it.LifeYears / max(1, strain)
		}
	}
	return 0
}

// writeCautions gives the heaviest caution of each topic, the general one last.
func (r *siteReport) writeCautions(b *strings.Builder) {
	var all []caution
	for _, res := range r.results {
		all = append(all, res.cautions...)
	}
	b.WriteString("Cautions, each as the design it concerns most calls for\n\n")
	for _, c := range worst(all) {
		fold(b, "- ", c.text, 100)
	}
	b.WriteByte('\n')
}

// worst keeps the heaviest caution of each topic, in the order of the topics and
// the general one, which has none, last.
func worst(all []caution) (list []caution) {
	heaviest := make(map[string]caution)
	for _, c := range all {
		if old, ok := heaviest[c.topic]; !ok || c.weight > old.weight {
			heaviest[c.topic] = c
		}
	}
	for _, t := range slices.Sorted(maps.Keys(heaviest)) {
		if t != "" {
			list = append(list, heaviest[t])
		}
	}
	if general, ok := heaviest[""]; ok {
		list = append(list, general)
	}
	return list
}

// fold writes text in lines of at most width columns, the first with a mark.
func fold(b *strings.Builder, mark, text string, width int) {
	indent := strings.Repeat(" ", len(mark))
	line := mark
	for i, word := range strings.Fields(text) {
		if i > 0 && len([]rune(line))+1+len([]rune(word)) > width {
			b.WriteString(strings.TrimRight(line, " ") + "\n")
			line = indent
		} else if i > 0 {
			line += " "
		}
		line += word
	}
	b.WriteString(line + "\n")
}

func (r *siteReport) writeSettings(b *strings.Builder) {
	b.WriteString("What the study leaves open, and what was taken instead\n\n")
	for _, s := range r.study.Settings {
		if s.Source == "study" || s.Value == nil {
			continue
		}
		value := fmt.Sprint(s.Value)
		if v, ok := s.Value.(float64); ok {
			value = strconv.FormatFloat(v, 'g', 5, 64)
		}
		fmt.Fprintf(b, "%-34s %-24s %s\n", s.Key, value, s.Source)
	}
}
