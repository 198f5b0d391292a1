package rank

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"

	"stillrow/rank/cost"
	"stillrow/simulate/result"
)

// A Season is a set of months that each site has of its own.
type Season string

// Seasons: the months whose cooling or heating degree days exceed a threshold.
const (
	Cooling Season = "cooling"
	Heating Season = "heating"
)

// A Use is what heat is wanted for. Its months are those of Months or of
// Season, not of both, or all twelve when Demand alone is given. Months and
// Demand are meant for the northern hemisphere and shift by half a year where
// the latitude is below 0; degree days are each site's own.
//
// Without an amount all heat of these months counts. With one, a month's heat
// counts as far as it is wanted in that month: nothing is stored from one month
// for another.
type Use struct {
	Name      string
	Months    [12]bool
	Season    Season  // empty for none
	Threshold float64 // degree days of a month above which it belongs to Season, K·d
	// Demand, unless all zero, leaves out the months whose weight is 0, and
	// parts Amount among the others.
	Demand [12]float64
	// Amount is the heat wanted in a year, delivered, kWh per m² of receiver; 0
	// where all heat is. Where Demand is all zero it is parted among the use's
	// months by their degree days in a season, else evenly.
	Amount float64
}

// Validate returns a *cost.KeyError for the first value out of range; i is the
// place of the use in the study.
func (u *Use) Validate(i int) error {
	key := func(name string) string { return fmt.Sprintf("use[%d].%s", i, name) }
	months := u.Months != [12]bool{}
	demand := u.Demand != [12]float64{}
	switch {
	case u.Name == "":
		return &cost.KeyError{Key: key("name"), Value: "", Want: "a name"}
	case slug(u.Name) == "":
		return &cost.KeyError{Key: key("name"), Value: u.Name, Want: "a letter or digit in it, for the names of its files"}
	case u.Season != "" && u.Season != Cooling && u.Season != Heating:
		return &cost.KeyError{Key: key("season"), Value: string(u.Season), Want: "cooling or heating"}
	case u.Season != "" && months:
		return &cost.KeyError{Key: key("season"), Value: string(u.Season), Want: "either months or a season"}
	case u.Season == "" && !months && !demand:
		return &cost.KeyError{Key: key("months"), Value: []int{}, Want: "at least one month, a season or a demand"}
	case !(u.Threshold >= 0) || math.IsInf(u.Threshold, 1):
		return &cost.KeyError{Key: key("threshold"), Value: u.Threshold, Want: "degree days from 0"}
	case !(u.Amount >= 0) || math.IsInf(u.Amount, 1):
		return &cost.KeyError{Key: key("demand_kwh_m2"), Value: u.Amount, Want: "a number from 0"}
	}
	for _, w := range u.Demand {
		if !(w >= 0) || math.IsInf(w, 1) {
			return &cost.KeyError{Key: key("demand"), Value: u.Demand, Want: "twelve weights from 0"}
		}
	}
	if months && u.window(&result.Site{}) == ([12]bool{}) {
		return &cost.KeyError{Key: key("demand"), Value: u.Demand, Want: "a weight above 0 in a month of the use"}
	}
	return nil
}

// window is the set of calendar months whose heat counts at a site.
func (u *Use) window(s *result.Site) (w [12]bool) {
	for m, v := range u.weights(s) {
		w[m] = v > 0
	}
	return w
}

// weights parts the demand of a year among the calendar months of a site; 0 for
// a month whose heat does not count.
func (u *Use) weights(s *result.Site) (w [12]float64) {
	shift := 0
	if s.Lat < 0 {
		shift = 6
	}
	months := u.Months != [12]bool{}
	demand := u.Demand != [12]float64{}
	for m := range w {
		north := (m + shift) % 12
		wanted := 1.0
		switch {
		case u.Season == Cooling:
			wanted = above0(s.CDD[m], u.Threshold)
		case u.Season == Heating:
			wanted = above0(s.HDD[m], u.Threshold)
		case months && !u.Months[north]:
			wanted = 0
		}
		if demand && wanted > 0 {
			wanted = u.Demand[north]
		}
		w[m] = wanted
	}
	return w
}

// above0 gives degree days where they exceed a threshold, else 0.
func above0(degreeDays, threshold float64) float64 {
	if degreeDays > threshold {
		return degreeDays
	}
	return 0
}

// caps gives the most heat at the receiver, kWh/m², that counts in each
// calendar month at a site: 0 outside the use, +Inf where no amount is stated.
// share is the part of the receiver's heat that is delivered.
func (u *Use) caps(s *result.Site, share float64) (c [12]float64) {
	c = u.weights(s)
	sum := 0.0
	for _, w := range c {
		sum += w
	}
	for m, w := range c {
		switch {
		case w == 0:
		case u.Amount == 0:
			c[m] = math.Inf(1)
		default:
			c[m] = u.Amount * (w / sum) / share
		}
	}
	return c
}

// counted sums what counts of twelve months of heat.
func counted(months []float32, caps *[12]float64) (sum float64) {
	for m, h := range months {
		sum += min(float64(h), caps[m])
	}
	return sum
}

// wanted sums the heat of the months in which some counts.
func wanted(months []float32, caps *[12]float64) (sum float64) {
	for m, h := range months {
		if caps[m] > 0 {
			sum += float64(h)
		}
	}
	return sum
}

// slug is a use's name as part of a file name: letters, digits and ._- stay,
// anything else becomes one hyphen, and long names are cut.
func slug(name string) string {
	var b strings.Builder
	for _, r := range norm.NFC.String(name) {
		switch {
		case b.Len() > 80:
		case r != utf8.RuneError && (unicode.IsLetter(r) || unicode.IsDigit(r) || unicode.IsMark(r)) || r == '_' || r == '.':
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
	}
	return strings.Trim(b.String(), "-.")
}

const mapSuffix = ".geojson"

// mapNames gives the file of each outlet and use, in the order
// [outlet·len(Uses)+use], and refuses names that some file system takes for
// the same.
func mapNames(outlets []float64, uses []Use) ([]string, error) {
	var names, folded []string
	for _, c := range outlets {
		for i, u := range uses {
			name := fmt.Sprintf("map-%s-%s%s", slug(u.Name), strconv.FormatFloat(c, 'f', -1, 64), mapSuffix)
			if k := slices.Index(folded, strings.ToLower(name)); k >= 0 {
				return nil, &cost.KeyError{
					Key: fmt.Sprintf("use[%d].name", i), Value: u.Name,
					Want: fmt.Sprintf("another name or outlet: %s is already that of %q at %g °C", names[k], uses[k%len(uses)].Name, outlets[k/len(uses)]),
				}
			}
			names, folded = append(names, name), append(folded, strings.ToLower(name))
		}
	}
	return names, nil
}

// when says which months count in the hemispheres that have places.
func (u *Use) when(inNorth, inSouth bool) string {
	switch u.Season {
	case Cooling, Heating:
		return fmt.Sprintf("months over %s K·d of %s", short(u.Threshold), u.Season)
	}
	north := u.northern()
	if !slices.Contains(north[:], false) {
		return "all year"
	}
	var south [12]bool
	for m := range south {
		south[m] = north[(m+6)%12]
	}
	switch {
	case !inSouth:
		return spans(north)
	case !inNorth:
		return spans(south)
	}
	return fmt.Sprintf("%s; southern hemisphere %s", spans(north), spans(south))
}

// northern is the set of months that count in the north; none where a season
// gives each site its own.
func (u *Use) northern() [12]bool {
	if u.Season != "" {
		return [12]bool{}
	}
	return u.window(&result.Site{})
}

// spans names runs of months, one over the turn of the year as one.
func spans(months [12]bool) string {
	var list []string
	for m := range months {
		if !months[m] || months[(m+11)%12] {
			continue
		}
		end := m
		for months[(end+1)%12] {
			end++
		}
		name := monthNames[m]
		if end > m {
			name += "–" + monthNames[end%12]
		}
		list = append(list, name)
	}
	return strings.Join(list, ", ")
}

var monthNames = [12]string{"Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"}
