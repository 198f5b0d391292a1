package grid

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"stillrow/ingest/series"
	"stillrow/ingest/weather"
)

// A Stamp says where in its interval the stamp of a mean lies.
type Stamp int

// The readings of a stamp. Unknown means that the file says, or that it is to
// be found out.
const (
	Unknown Stamp = iota
	Begins
	Middle
	Ends
)

// from is the interval's beginning relative to the stamp, s.
func (s Stamp) from(step int64) int64 {
	switch s {
	case Middle:
		return -step / 2
	case Ends:
		return -step
	}
	return 0
}

// Main is the file that has the irradiance.
func (r *Region) Main() *File { return r.irradiance()[0].parts[0].file }

// undocumented gives the fields whose stamps the files do not explain.
func (r *Region) undocumented() (list []*joined) {
	for _, j := range r.fields {
		if j != nil && j.axis != nil && slices.ContainsFunc(j.parts, func(p part) bool { return p.field.Undocumented }) {
			list = append(list, j)
		}
	}
	return list
}

// sampled is how many cells the clock is looked up in: the first that tell,
// whatever bands they come in.
const sampled = 16

// Noons is what the days of some cells say of the stamps: their centre's minutes
// from solar noon, added up, by the reading of the stamp.
type Noons struct {
	off   [Ends + 1]float64
	cells int
}

// Enough says that no more cells are wanted.
func (n *Noons) Enough() bool { return n.cells >= sampled }

// Look takes the cells of a band, in order, until there are enough.
func (r *Region) Look(n *Noons, band *Band) {
	j := r.irradiance()[0]
	flat := &Ground{every: 1}
	for i := range band.cells {
		if n.Enough() {
			return
		}
		if band.Empty(i) {
			continue
		}
		s := r.site(band.cells[i], flat)
		noon, ok := series.Noon(series.Column{Axis: j.axis, Values: band.column(j.quantity, i)}, s.Lat, s.Lon, r.local)
		if !ok {
			continue
		}
		n.cells++
		for k, stamp := range []Stamp{Begins, Middle, Ends} {
			n.off[stamp] += noon[k]
		}
	}
}

// StampUnknown tells whether SetStamp has something to settle.
func (r *Region) StampUnknown() bool { return r.undocumented() != nil && r.stampFlag == "" }

var errDark = errors.New("the file does not say where in its interval a stamp lies, and too few days have sun enough to tell; say it by --stamp")

// SetStamp settles where stamps lie in the fields of files that do not say:
// as given, else by the centre of the days' irradiance against solar noon. Where
// that does not tell, the error asks for the stamp.
func (r *Region) SetStamp(given Stamp, noons *Noons) error {
	flag := FlagStampGiven
	if given == Unknown {
		var err error
		if given, err = r.findStamp(noons); err != nil {
			return &weather.FileError{File: r.Main().Name, Field: r.irradiance()[0].parts[0].field.Variable, Err: err}
		}
		flag = FlagStampFound
	}
	for _, j := range r.undocumented() {
		j.axis.From = given.from(j.axis.Step)
	}
	r.stampFlag = flag
	return nil
}

// findStamp chooses the reading whose days centre on noon.
func (r *Region) findStamp(noons *Noons) (Stamp, error) {
	if noons.cells == 0 {
		return Unknown, errDark
	}
	step := r.irradiance()[0].axis.Step
	off := noons.off
	// Mornings and afternoons are cloudy in different measure: a third of a step
	// is allowed for that, with 20 minutes where steps are short.
	allowed := max(20, float64(step)/60*2/9)
	found := Unknown
	var told []string
	for stamp, name := range map[Stamp]string{Begins: "begins", Middle: "is in the middle of", Ends: "ends"} {
		off[stamp] /= float64(noons.cells)
		told = append(told, fmt.Sprintf("%+.0f min if it %s its interval", off[stamp], name))
		if off[stamp] >= -allowed && off[stamp] <= allowed {
			if found != Unknown {
				found = -1
			} else {
				found = stamp
			}
		}
	}
	if found <= Unknown {
		slices.Sort(told)
		return Unknown, fmt.Errorf("the file does not say where in its interval a stamp lies, and the days' irradiance does not tell (%s from noon); say it by --stamp", strings.Join(told, ", "))
	}
	return found, nil
}
