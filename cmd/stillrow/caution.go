package main

import (
	"fmt"
	"math"

	"stillrow/rank"
	"stillrow/simulate/result"
)

// cautions are those that apply to design d of a pick, -1 for none: what the
// outlet, the films, the mirror and the weather of the place call for.
func (r *siteReport) cautions(k *rank.Pick, d int) []string {
	var list []string
	say := func(format string, args ...any) { list = append(list, fmt.Sprintf(format, args...)) }
	outlet := r.table.Outlets[k.Outlet]
	if k.Refused != "" {
		say("Not buildable with these materials: %s and the outlet is at %g °C.", k.Refused, outlet)
	}
	if outlet >= 45 {
		say("Scald: water of %g °C burns skin; mix it down before any tap that people use, and guard hot surfaces.", outlet)
	}
	if outlet >= 25 && outlet <= 45 {
		say("Hygiene: legionella and other germs grow in water kept between 25 and 45 °C; receiver water is not drinking water: keep it apart by a heat exchanger and follow the water-hygiene code of the place.")
	}
	if d >= 0 {
		list = append(list, r.strainCautions(k.Outlet, d)...)
	}
	return append(list, "This is a screening estimate from one typical year, no design, permit or guarantee: local codes and licensed practice decide.")
}

func (r *siteReport) strainCautions(outlet, d int) []string {
	var list []string
	say := func(format string, args ...any) { list = append(list, fmt.Sprintf(format, args...)) }
	at := func(s result.Stress) float64 { return float64(r.block.Strain(&r.table, outlet, d, s)) }
	rec, design := &r.study.Receiver, r.study.Designs[d]
	for _, m := range []struct {
		name  string
		limit float64
		hours result.Stress
	}{
		{"clear film softens", rec.SofteningClear, result.OverClear},
		{"black film softens", rec.SofteningBlack, result.OverBlack},
		{"foam fails", rec.FoamLimit, result.OverFoam},
	} {
		if h := at(m.hours); h > 0 {
			say("Dry receiver: without water it reaches %.0f °C; the %s above %g °C, %.0f h a year. Never leave it dry under the sun: keep water in, cover the mirror or lay it down, and vent steam freely.",
				at(result.DryStagnation), m.name, m.limit, h)
		}
	}
	if design.MirrorLength > 0 {
		say("Mirror: a film that sags inwards can focus sunlight and start a fire; keep it taut, keep the ground clear, cover it during work, never look into the beam.")
		if h := at(result.WindHours); h > 0 {
			say("Wind: %.0f h a year above the mirror's limit of %g m/s, greatest hourly mean %.0f m/s with gusts well above: lower the mirror in time, and have frame and ballast designed to the wind code.",
				h, r.study.Mirror.WindLimit, at(result.WindMax))
		} else {
			say("Wind: the greatest hourly mean is %.0f m/s, gusts are well above: have frame and ballast designed to the wind code.", at(result.WindMax))
		}
		if h := at(result.GlareHours); h >= 1 {
			say("Glare: for about %.0f sunlit hours a year part of the mirror's beam leaves the field, mostly towards %s; look what lies there (roads, neighbours, aircraft).",
				h, sector(at(result.GlareAzimuth)))
		}
	}
	if h := at(result.FreezingHours); h > 0 {
		say("Frost: for about %.0f h a year the water stands below 0 °C; ice tears films and pipes, and is not modelled here: drain, circulate or set frost_lock_c.", h)
	}
	if h := at(result.LockedDays); h > 0 {
		say("Frost: the receiver is kept empty on %.0f days.", h)
	}
	return list
}

// sector names a direction, degrees clockwise from north.
func sector(azimuth float64) string {
	if math.IsNaN(azimuth) {
		return "no direction"
	}
	return [...]string{"north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"}[int(azimuth/45+0.5)%8]
}
