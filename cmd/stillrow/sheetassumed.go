package main

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"stillrow/rank/sheet"
	"stillrow/simulate/result"
)

// assumed says the main of what was taken, in sentences.
func (r *siteReport) assumed(res *siteResult, row float64) []string {
	s := r.study
	rec, plan := &s.Receiver, &s.Plan
	g := func(v float64) string { return strconv.FormatFloat(v, 'g', 4, 64) }
	var list []string
	say := func(format string, args ...any) { list = append(list, fmt.Sprintf(format, args...)) }

	if len(r.place.site.Flags) > 0 {
		var flags []string
		for _, f := range r.place.site.Flags {
			flags = append(flags, strings.TrimSuffix(flagText(f), ": 0"))
		}
		say("Weather: %s.", strings.Join(flags, "; "))
	}
	ends := "endless rows"
	if l := res.Design.RowLength; l > 0 {
		ends = g(l) + " m rows"
	}
	say("Heat and cost are those of %s; a row of %s m may differ at its ends.", ends, g(row))
	night := "stays in at night"
	if rec.Night == "drain" {
		night = "is drained at night"
	}
	say("The receiver takes up %.0f %% of the sun's light from straight above and, in still air, loses %.1f W per m² and K at first, more when hotter; its %.0f mm of water %s.", 100*rec.Eta0b, rec.C1, 1000*rec.WaterDepth, night)
	if res.Design.MirrorLength > 0 {
		say("The mirror reflects %.0f %% when clean and is %.0f %% clean, its slope is true to %s mrad.", 100*s.Mirror.Reflectance, 100*s.Mirror.Cleanliness, g(s.Mirror.SlopeError))
	}
	var limits []string
	for _, m := range []struct {
		name  string
		limit float64
	}{{"clear film", rec.SofteningClear}, {"black film", rec.SofteningBlack}, {"foam", rec.FoamLimit}} {
		if !math.IsNaN(m.limit) {
			limits = append(limits, fmt.Sprintf("%s %s °C", m.name, g(m.limit)))
		}
	}
	if limits != nil {
		say("Materials bear: %s.", strings.Join(limits, ", "))
	}
	say("%.0f %% of the receiver's heat reaches the user, %s %% less every year.", 100*plan.DeliveredShare, g(100*plan.Fade))
	say("Costs run over %d years at %s %% real interest; an hour of work costs %s %s.", plan.HorizonYears, g(100*plan.DiscountRate), g(plan.LabourPerH), s.Currency)
	basis := "lower"
	if s.Gas.Basis == "hhv" {
		basis = "higher"
	}
	say("Gas costs %s %s/kWh by its %s heating value, burnt at %.0f %% of the lower.", g(s.Gas.PricePerKWh), s.Currency, basis, 100*s.Gas.BoilerEfficiency)
	if at := r.stress(res.outlet, res.design)(result.UVClear); at > 0 {
		say("A year here gives the clear film %.0f kWh/m² of ultraviolet; films last shorter than their book says where that is more than it counts with.", at)
	}
	return list
}

// parameters gathers all of it by name and source: what the study states of the
// heater and what it leaves open. The items of the book are on the bill; what is
// 0 takes part in nothing.
func (r *siteReport) parameters() []sheet.Group {
	var list []sheet.Group
	add := func(source, text string) {
		i := slices.IndexFunc(list, func(g sheet.Group) bool { return g.Source == source })
		if i < 0 {
			list = append(list, sheet.Group{Source: source, Text: text})
			return
		}
		list[i].Text += ", " + text
	}
	for _, s := range r.study.Settings {
		table, _, _ := strings.Cut(s.Key, ".")
		switch {
		case s.Value == nil, fmt.Sprint(s.Value) == "0", slices.Contains([]string{"designs", "study", "map", "rank"}, table), strings.HasPrefix(s.Key, "cost.item["), strings.HasSuffix(s.Key, ".low"), strings.HasSuffix(s.Key, ".high"):
			continue
		case s.Source == "study" && !slices.Contains([]string{"receiver", "mirror", "ground", "heat", "cost", "gas"}, table):
			continue
		}
		source, why, assumed := strings.Cut(s.Source, ", assumption")
		text := s.Key + "\u00a0" + setting(s.Value)
		if assumed && why != "" {
			text += "*"
		}
		switch source {
		case "study":
			source = "stated by the study"
		case "default":
			source = "defaults"
		}
		add(source, text)
	}
	add("marks", "* is an assumption of its book; reasons stand in the text of stillrow site")
	return list
}

// setting writes a value of the study, of a long list only that it is one.
func setting(v any) string {
	text := fmt.Sprint(v)
	if f, ok := v.(float64); ok {
		text = strconv.FormatFloat(f, 'g', 4, 64)
	}
	if len(text) > 40 {
		return "as listed there"
	}
	return text
}
