package main

import (
	"fmt"
	"math"
	"strings"

	"stillrow/rank"
	"stillrow/simulate/result"
)

// A caution is a sentence or two for whoever builds. Of the cautions of one
// topic the heaviest stands for the others where there is room for one only.
type caution struct {
	topic, text string
	weight      float64 // hours, °C or m/s, whatever the topic is measured by
}

// A cautioner gathers cautions.
type cautioner []caution

func (c *cautioner) say(topic string, weight float64, format string, args ...any) {
	*c = append(*c, caution{topic, fmt.Sprintf(format, args...), weight})
}

// cautions are those that apply to design d of a pick, -1 for none: what the
// outlet, the films, the mirror and the weather of the place call for.
func (r *siteReport) cautions(k *rank.Pick, d int) []caution {
	var c cautioner
	outlet := r.table.Outlets[k.Outlet]
	if k.Refused != "" {
		c.say("Not buildable", outlet, "Not buildable with these materials: %s and the outlet is at %g °C.", k.Refused, outlet)
	}
	if outlet >= 45 {
		c.say("Scald", outlet, "Scald: water of %g °C burns skin; mix it down before any tap that people use, and guard hot surfaces.", outlet)
	}
	if outlet >= 25 && outlet <= 45 {
		c.say("Hygiene", 0, "Hygiene: legionella and other germs grow in water kept between 25 and 45 °C; receiver water is not drinking water: keep it apart by a heat exchanger and follow the water-hygiene code of the place.")
	}
	if d >= 0 {
		r.dryCautions(&c, k.Outlet, d)
		c.say("Fire", 0, "Fire: films and foam burn; keep flames and sparks away, and store and discard them by the fire and waste codes of the place.")
		if r.study.Designs[d].MirrorLength > 0 {
			r.mirrorCautions(&c, k.Outlet, d)
		}
		r.frostCautions(&c, k.Outlet, d)
	}
	c.say("", 0, "This is a screening estimate from one typical year, no design, permit or guarantee: local codes and licensed practice decide.")
	return c
}

func (r *siteReport) stress(outlet, d int) func(result.Stress) float64 {
	return func(s result.Stress) float64 { return float64(r.block.Strain(&r.table, outlet, d, s)) }
}

func (r *siteReport) dryCautions(c *cautioner, outlet, d int) {
	at, rec := r.stress(outlet, d), &r.study.Receiver
	var fails []string
	for _, m := range []struct {
		name  string
		limit float64
		hours result.Stress
	}{
		{"clear film", rec.SofteningClear, result.OverClear},
		{"black film", rec.SofteningBlack, result.OverBlack},
		{"foam", rec.FoamLimit, result.OverFoam},
	} {
		if h := at(m.hours); h > 0 {
			fails = append(fails, fmt.Sprintf("%s %g °C, passed for %.0f h a year", m.name, m.limit, h))
		}
	}
	if len(fails) > 0 {
		hot := at(result.DryStagnation)
		c.say("Dry receiver", hot, "Dry receiver: without water it reaches %.0f °C; its materials bear less (%s). Never leave it dry under the sun: keep water in, cover the mirror or lay it down, and vent steam freely.",
			hot, strings.Join(fails, "; "))
	}
}

func (r *siteReport) mirrorCautions(c *cautioner, outlet, d int) {
	at := r.stress(outlet, d)
	c.say("Mirror", 0, "Mirror: a film that sags inwards can focus sunlight and start a fire; keep it taut, keep the ground clear, cover it during work, never look into the beam. Its metal conducts: keep loose film off power lines.")
	if h := at(result.WindHours); h > 0 {
		c.say("Wind", h, "Wind: %.0f h a year above the mirror's limit of %g m/s, greatest hourly mean %.0f m/s with gusts well above: lower the mirror in time, and have frame and ballast designed to the wind code.",
			h, r.study.Mirror.WindLimit, at(result.WindMax))
	} else {
		c.say("Wind", h, "Wind: the greatest hourly mean is %.0f m/s, gusts are well above: have frame and ballast designed to the wind code.", at(result.WindMax))
	}
	if h := at(result.GlareHours); h >= 1 {
		c.say("Glare", h, "Glare: for about %.0f sunlit hours a year part of the mirror's beam leaves the field, mostly towards %s; look what lies there (roads, neighbours, aircraft).",
			h, sector(at(result.GlareAzimuth)))
	}
}

func (r *siteReport) frostCautions(c *cautioner, outlet, d int) {
	at := r.stress(outlet, d)
	if h := at(result.FreezingHours); h > 0 {
		c.say("Frost, freezing", h, "Frost: for about %.0f h a year the water stands below 0 °C; ice tears films and pipes, and is not modelled here: drain, circulate or set frost_lock_c.", h)
	}
	if n := at(result.LockedDays); n > 0 {
		c.say("Frost, locked", n, "Frost: the receiver is kept empty on %.0f days.", n)
	}
}

// sector names a direction, degrees clockwise from north.
func sector(azimuth float64) string {
	if math.IsNaN(azimuth) {
		return "no direction"
	}
	return [...]string{"north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"}[int(azimuth/45+0.5)%8]
}
