package simulate

import (
	"fmt"
	"slices"

	"stillrow/ingest/weather"
	"stillrow/simulate/collector"
	"stillrow/simulate/kernel"
	"stillrow/simulate/result"
)

// The light of a picked lane is worked out as it is and with each input that
// changes it lower and higher.
const (
	plainLight = iota
	dimEta0b
	brightEta0b
	dimMirror
	brightMirror
	dimSun
	brightSun
	lights
)

// A change is one of the years a pick is simulated for again.
type change struct {
	param result.Param
	high  bool
	light int // the receiver absorbs
}

func (c change) of(s *result.Sensitivity) *[12]float32 {
	if c.high {
		return &s.High[c.param]
	}
	return &s.Low[c.param]
}

// sensitivities takes the picks through the year again, with each input
// changed either way. The order is that of the picks.
func (r *run) sensitivities(picks []result.Pick) ([]result.Sensitivity, error) {
	p := r.plan
	list := make([]result.Sensitivity, len(picks))
	seen := make(map[result.Pick]bool, len(picks))
	for i, k := range picks {
		if k.Design < 0 || k.Design >= len(p.Designs) || k.Outlet < 0 || k.Outlet >= len(p.Outlets) {
			return nil, fmt.Errorf("pick %d: design %d at outlet %d, want one of %d designs and %d outlets", i, k.Design, k.Outlet, len(p.Designs), len(p.Outlets))
		}
		if seen[k] {
			return nil, fmt.Errorf("pick %d: design %d at outlet %d is picked twice", i, k.Design, k.Outlet)
		}
		seen[k] = true
		list[i].Pick = k
	}
	if len(list) == 0 {
		return nil, nil
	}
	dim, bright := r.scaled(-result.Steps[result.Irradiance]), r.scaled(result.Steps[result.Irradiance])
	lines := make([]kernel.Line, weather.Hours)
	for g := range p.groups {
		at := r.newReplay(g, list, dim, bright)
		if at == nil {
			continue
		}
		for o := range p.Outlets {
			at.outlet(o, list, dim, bright, lines)
		}
	}
	return list, nil
}

// scaled is the site's year with all its irradiance changed by a share.
func (sy *siteYear) scaled(change float64) *siteYear {
	times := func(from []float32) []float32 {
		to := make([]float32, len(from))
		for i, v := range from {
			to[i] = float32(float64(v) * (1 + change))
		}
		return to
	}
	y := *sy.year
	y.GHI, y.DNI, y.DHI = times(y.GHI), times(y.DNI), times(y.DHI)
	other := *sy
	other.year = &y
	return &other
}

// A replay is what the picks of a group need to go through the year again.
type replay struct {
	*run
	number   int       // of the group
	picked   []int     // its lanes
	absorbed []float32 // W/m²: hour, light, picked lane
}

// newReplay works out the light of the picks in a group; nil: there are none.
func (r *run) newReplay(group int, picks []result.Sensitivity, dim, bright *siteYear) *replay {
	at := &replay{run: r, number: group}
	for i := range picks {
		l := r.plan.lanes[picks[i].Design]
		if l.group == group && !slices.Contains(at.picked, l.lane) {
			at.picked = append(at.picked, l.lane)
		}
	}
	if at.picked == nil {
		return nil
	}
	g := &r.plan.groups[group]
	r.kernelHours(r.hours, g.azimuth, &r.plan.Options)
	field := at.narrow(g, r.hours)
	n := len(at.picked)
	at.absorbed = make([]float32, weather.Hours*lights*n)
	of := func(h, light int) []float32 { return at.absorbed[(h*lights+light)*n:][:n] }
	mirrors := make([]float32, 3*n)
	for h := range r.hours {
		field.Light(mirrors, 0, &r.hours[h])
		copy(of(h, plainLight), mirrors)
		copy(of(h, dimMirror), mirrors[n:])
		copy(of(h, brightMirror), mirrors[2*n:])
		for i, s := range of(h, plainLight) {
			of(h, dimEta0b)[i] = s * float32(1-result.Steps[result.Eta0b])
			of(h, brightEta0b)[i] = s * float32(1+result.Steps[result.Eta0b])
		}
	}
	hours := make([]kernel.Hour, weather.Hours)
	for _, other := range []struct {
		year  *siteYear
		light int
	}{{dim, dimSun}, {bright, brightSun}} {
		other.year.kernelHours(hours, g.azimuth, &r.plan.Options)
		for h := range hours {
			hours[h].Row = r.hours[h].Row // the sun stands where it stood
			field.Light(of(h, other.light), 0, &hours[h])
		}
	}
	return at
}

// narrow cuts a group's field down to the picked lanes and the rows that hours
// look up, and gives the hours the numbers of the rows left. The field has the
// picked lanes three times: as they are, with the mirror's reflectance lower,
// with it higher.
func (at *replay) narrow(g *group, hours []kernel.Hour) *kernel.Field {
	step, rho := float32(result.Steps[result.Reflectance]), float32(at.plan.Mirror.Rho())
	n, all := len(at.picked), g.field.Lanes
	f := &kernel.Field{Lanes: 3 * n, Sky: make([]float32, 3*n), Ground: make([]float32, 3*n)}
	spread := func(to []float32, i int, whole, mirrored float32) {
		to[i], to[n+i], to[2*n+i] = whole, whole-step*mirrored, whole+step*mirrored
	}
	for i, l := range at.picked {
		spread(f.Sky, i, g.field.Sky[l], rho*float32(g.heaters[l].Mirrored))
		spread(f.Ground, i, g.field.Ground[l], g.field.Ground[l])
	}
	numbers := make([]int32, collector.Rows) // of the rows left, from 1
	left := int32(0)
	for h := range hours {
		for k := range hours[h].N {
			row := int(hours[h].Row[k])
			if numbers[row] == 0 {
				left++
				numbers[row] = left
				f.Beam = append(f.Beam, make([]float32, 3*n)...)
				to := f.Beam[len(f.Beam)-3*n:]
				for i, l := range at.picked {
					whole := g.field.Beam[row*all+l]
					direct := float32(at.plan.gain[row] * g.direct[row/collector.S2Bins*all+l])
					spread(to, i, whole, max(0, whole-direct))
				}
			}
			hours[h].Row[k] = numbers[row] - 1
		}
	}
	return f
}

// outlet simulates the group's picks at one outlet. lines is scratch space.
func (at *replay) outlet(o int, list []result.Sensitivity, dim, bright *siteYear, lines []kernel.Line) {
	var here []int // numbers of the picks
	for i := range list {
		if list[i].Outlet == o && at.plan.lanes[list[i].Design].group == at.number {
			here = append(here, i)
		}
	}
	if here == nil {
		return
	}
	p := at.plan
	out := p.Outlets[o]
	asTheyAre := []change{
		{result.Eta0b, false, dimEta0b}, {result.Eta0b, true, brightEta0b},
		{result.Reflectance, false, dimMirror}, {result.Reflectance, true, brightMirror},
	}
	dimmed, brightened := change{result.Irradiance, false, dimSun}, change{result.Irradiance, true, brightSun}
	if p.Receiver.C6 == 0 { // the sun then has no part in the losses
		asTheyAre = append(asTheyAre, dimmed, brightened)
	} else {
		dim.kernelLines(lines, out, &p.Receiver)
		at.again(o, list, here, lines, dimmed)
		bright.kernelLines(lines, out, &p.Receiver)
		at.again(o, list, here, lines, brightened)
	}
	at.again(o, list, here, at.lines[o], asTheyAre...)
	for _, c := range []change{{result.C1, false, plainLight}, {result.C1, true, plainLight}} {
		r := p.Receiver
		r.C1 *= 1 - result.Steps[result.C1]
		if c.high {
			r.C1 = p.Receiver.C1 * (1 + result.Steps[result.C1])
		}
		at.kernelLines(lines, out, &r)
		at.again(o, list, here, lines, c)
	}
}

// again takes the picks here through the year once for each change.
func (at *replay) again(o int, list []result.Sensitivity, here []int, lines []kernel.Line, changes ...change) {
	n := len(at.picked)
	var from []int // in the light of an hour, for each lane of the bank
	var to []*[12]float32
	for _, i := range here {
		lane := slices.Index(at.picked, at.plan.lanes[list[i].Design].lane)
		for _, c := range changes {
			from = append(from, c.light*n+lane)
			to = append(to, c.of(&list[i]))
		}
	}
	bank := kernel.NewBank(len(from))
	bank.Start(&at.regimes[o])
	s := make([]float32, len(from))
	for h := range at.hours {
		light := at.absorbed[h*lights*n:][:lights*n]
		for i, f := range from {
			s[i] = light[f]
		}
		bank.Advance(s, &at.regimes[o], &at.hours[h], &lines[h])
		if h == len(at.hours)-1 || at.month[h+1] != at.month[h] {
			for i, q := range bank.Heat {
				to[i][at.month[h]] = q / 1000
				bank.Heat[i] = 0
			}
		}
	}
}
