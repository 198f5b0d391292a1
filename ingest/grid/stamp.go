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

// sampled is how many cells of a band the clock is looked up in.
const sampled = 16

// StampUnknown tells whether SetStamp has something to settle.
func (r *Region) StampUnknown() bool { return r.undocumented() != nil && r.stampFlag == "" }

// ErrDark means that a band has too little sun to tell where its stamps lie.
var ErrDark = errors.New("the file does not say where in its interval a stamp lies, and too few days have sun enough to tell; say it by --stamp")

// SetStamp settles where stamps lie in the fields of files that do not say:
// as given, else by the centre of the days' irradiance in the cells of a band
// against solar noon. Where that does not tell, the error asks for the stamp; it
// is ErrDark where another band may tell.
func (r *Region) SetStamp(given Stamp, band *Band) error {
	flag := FlagStampGiven
	if given == Unknown {
		var err error
		if given, err = r.findStamp(band); err != nil {
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

// Full gives the cells that are not empty.
func (b *Band) Full() (list []int) {
	for i := range b.cells {
		if !b.Empty(i) {
			list = append(list, i)
		}
	}
	return list
}

// findStamp chooses the reading whose days centre on noon.
func (r *Region) findStamp(band *Band) (Stamp, error) {
	j := r.irradiance()[0]
	flat := &Ground{every: 1}
	var off [Ends + 1]float64 // minutes from noon, mean over cells
	cells := 0
	full := band.Full()
	for k := 0; k < len(full) && cells < sampled; k += max(1, len(full)/sampled) {
		i := full[k]
		s := r.site(band.cells[i], flat)
		noon, ok := series.Noon(series.Column{Axis: j.axis, Values: band.column(j.quantity, i)}, s.Lat, s.Lon, r.local)
		if !ok {
			continue
		}
		cells++
		for k, stamp := range []Stamp{Begins, Middle, Ends} {
			off[stamp] += noon[k]
		}
	}
	if cells == 0 {
		return Unknown, ErrDark
	}
	// Mornings and afternoons are cloudy in different measure: a third of a step
	// is allowed for that, with 20 minutes where steps are short.
	allowed := max(20, float64(j.axis.Step)/60*2/9)
	found := Unknown
	var told []string
	for stamp, name := range map[Stamp]string{Begins: "begins", Middle: "is in the middle of", Ends: "ends"} {
		off[stamp] /= float64(cells)
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
