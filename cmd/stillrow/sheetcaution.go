package main

import (
	"fmt"
	"slices"
)

// dangers are the topics of cautions in the order of the sheet: those to life and
// health first, then those to the neighbours and to the heater.
var dangers = []string{"Not buildable", "Scald", "Hygiene", "Fire", "Mirror", "Glare", "Wind", "Dry receiver", "Frost, freezing", "Frost, locked"}

// buildCautions gives one caution a topic for whoever builds a result, the general
// one last: in a builder's words and not a study's, and hygiene and glare whatever
// the outlet and the hours, since water cools and neighbours move in.
func (r *siteReport) buildCautions(res *siteResult) []string {
	list := worst(res.cautions)
	put := func(topic, text string) {
		if i := slices.IndexFunc(list, func(c caution) bool { return c.topic == topic }); i >= 0 {
			list[i].text = text
			return
		}
		list = append(list, caution{topic: topic, text: text})
	}
	// Range of growth: common practice, as in the caution of the site's text.
	put("Hygiene", "Hygiene: legionella and other germs grow between 25 and 45 °C, and this water passes there as it warms, cools at night, stands in pipes or is mixed down. It is not drinking water: keep it apart by a heat exchanger, avoid spray, follow the water-hygiene code of the place.")
	if res.Design.MirrorLength > 0 && !slices.ContainsFunc(list, func(c caution) bool { return c.topic == "Glare" }) {
		put("Glare", "Glare: the mirror can dazzle neighbours, traffic and aircraft. In the hours counted hardly any of its beam leaves the field, yet a film that sags, or stands at another angle, sends it out: look from there once it stands, and ask the authorities near roads and airfields.")
	}
	for i := range list {
		switch c := &list[i]; c.topic {
		case "Frost, freezing":
			c.text = fmt.Sprintf("Frost: for about %.0f h a year the water stands below 0 °C; ice tears films and pipes, which is not counted here: drain the row before frost, or keep the water moving.", c.weight)
		case "Dry receiver":
			c.text += " The hours are those of a receiver left dry all year."
		}
	}
	slices.SortStableFunc(list, func(a, b caution) int { return standing(a.topic) - standing(b.topic) })
	texts := make([]string, len(list))
	for i, c := range list {
		texts[i] = c.text
	}
	return texts
}

// standing is where a topic stands on the sheet, the general one last.
func standing(topic string) int {
	if i := slices.Index(dangers, topic); i >= 0 {
		return i
	}
	return len(dangers)
}
