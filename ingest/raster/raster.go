// Package raster makes a grid file of a raster: bands of numbers on a grid of
// latitudes and longitudes, as GeoTIFF and ESRI ASCII grids hold them. Such
// formats do not say what a number means. It is told from words: those of a
// band's description and unit first, then those of the file's name.
//
// Three things must be told, and none is guessed:
//
//	quantity  ghi, sis, dni, dhi, tas, t2m, wind, ws10m, rh, elevation, dem, …
//	unit      w_m2, kwh_m2_day, mj_m2_day, c, k, m_s, percent, hpa, m, …
//	month     jan … dec or two digits, 01 … 12; twelve bands of one quantity
//	          without a month are January to December; elevation has none
//
// as in ghi_kwh_m2_day_07.tif. Capitals do not matter, nor does what separates
// the words.
package raster

import (
	"errors"
	"fmt"
	"path"
	"strings"

	"stillrow/ingest/grid"
	"stillrow/ingest/weather"
)

// A Raster is what a format's reader found in a file.
type Raster struct {
	Name     string    // of the file, for errors and the words in it
	Lat, Lon []float64 // centres of the cells in the order stored, degrees
	Bands    []Band
	Warnings []string
	Size     int64

	// Read fills dst with rows y to y+ny of some bands, the bands slowest, NaN
	// where missing, in the file's own units. It may be called from several
	// goroutines.
	Read func(dst []float32, bands []int, y, ny int) error

	ChunkRows int // rows of a stored block, 0 where rows can be read one by one
}

// A Band is what the file itself says about a band; either may be empty.
type Band struct{ Description, Unit string }

// A layer is a band that has been understood.
type layer struct {
	band  int
	what  *quantity
	unit  unit
	month int // 0 where it is static or not told
}

// File tells what the bands hold and hands them over as fields, one for each
// quantity. An error is a *weather.FileError that says what was not told.
func (r *Raster) File() (*grid.File, error) {
	fail := func(band int, err error) error {
		e := &weather.FileError{File: r.Name, Err: err}
		if len(r.Bands) > 1 {
			e.Field = fmt.Sprintf("band %d", band+1)
		}
		return e
	}
	file := words(stem(r.Name))
	var quantities []*quantity
	layers := map[*quantity][]layer{}
	for i, b := range r.Bands {
		l, err := understand(b, file)
		if err != nil {
			return nil, fail(i, err)
		}
		l.band = i
		if layers[l.what] == nil {
			quantities = append(quantities, l.what)
		}
		layers[l.what] = append(layers[l.what], l)
	}
	out := &grid.File{Name: r.Name, Lat: r.Lat, Lon: r.Lon, Warnings: r.Warnings, Size: r.Size}
	for _, q := range quantities {
		list := layers[q]
		taken, err := settleMonths(list)
		if err != nil {
			return nil, fail(list[0].band, err)
		}
		if taken {
			out.Warnings = append(out.Warnings, fmt.Sprintf("%s: twelve bands of %s without months are taken as January to December", r.Name, q.words[0]))
		}
		out.Fields = append(out.Fields, r.field(q, list))
	}
	return out, nil
}

// errAnnual is the fate of a single band without a month.
var errAnnual = errors.New("no month: an annual mean cannot be brought to hours; twelve monthly grids are needed")

// settleMonths gives twelve bands without a month theirs, and refuses what
// cannot be a climatology.
func settleMonths(list []layer) (taken bool, err error) {
	if list[0].what.static {
		if len(list) > 1 {
			return false, fmt.Errorf("%d bands of %s, want one", len(list), list[0].what.words[0])
		}
		return false, nil
	}
	var given int
	var seen [13]int
	for _, l := range list {
		if l.month > 0 {
			given++
		}
		if seen[l.month]++; l.month > 0 && seen[l.month] > 1 {
			return false, fmt.Errorf("%d bands of %s for month %d", len(list), l.what.words[0], l.month)
		}
	}
	switch {
	case given == len(list):
	case given > 0:
		return false, fmt.Errorf("some bands of %s say their month and others do not", list[0].what.words[0])
	case len(list) == 12:
		for i := range list {
			list[i].month = i + 1
		}
		taken = true
	case len(list) == 1:
		return false, fmt.Errorf("%s in %s: %w", list[0].what.words[0], list[0].unit.name(), errAnnual)
	default:
		return false, fmt.Errorf("%d bands of %s without months, want twelve, or a month in each description, as in %q",
			len(list), list[0].what.words[0], list[0].what.words[0]+" jan")
	}
	for i := range list {
		if list[i].unit.period == "year" {
			return false, fmt.Errorf("%s is a yearly sum; means or sums of months are needed", list[i].unit.name())
		}
	}
	return taken, nil
}

// field joins the bands of one quantity.
func (r *Raster) field(q *quantity, list []layer) grid.Field {
	f := grid.Field{Quantity: q.is, Variable: q.words[0], Height: q.height, ChunkRows: r.ChunkRows}
	if len(r.Bands) > 1 && r.Bands[list[0].band].Description != "" {
		f.Variable = r.Bands[list[0].band].Description
	}
	if !q.static {
		for _, l := range list {
			f.Months = append(f.Months, l.month)
		}
	}
	width := len(r.Lon)
	f.Read = func(dst []float32, t, nt, y, ny int) error {
		bands := make([]int, nt)
		for i := range bands {
			bands[i] = list[t+i].band
		}
		if err := r.Read(dst, bands, y, ny); err != nil {
			return err
		}
		for i := range bands {
			u := list[t+i].unit
			scale, offset := u.scale(list[t+i].month), u.offset
			part := dst[i*ny*width : (i+1)*ny*width]
			for k, v := range part {
				part[k] = float32(float64(v)*scale + offset)
			}
		}
		return nil
	}
	return f
}

// understand tells a band's quantity, unit and month: each from the band's own
// words where they have it, else from the file's name.
func understand(b Band, file []string) (l layer, err error) {
	own := words(b.Description)
	named, fileRest, nameErr := findQuantity(file)
	if named == nil {
		fileRest = file
	}
	var ownRest []string
	if l.what, ownRest, err = findQuantity(own); err == nil && l.what == nil {
		l.what, ownRest, err = named, own, nameErr
	}
	switch {
	case err != nil:
		return l, err
	case l.what == nil:
		return l, fmt.Errorf("what is it? %s no quantity; put one of %s in it, as in ghi_kwh_m2_day_07",
			told(b.Description, file), quantityWords())
	}
	var ok bool
	if strings.TrimSpace(b.Unit) != "" {
		if l.unit, ok = unitOf(b.Unit, l.what); !ok {
			return l, fmt.Errorf("unit %q of %s is not known, want one of %s", b.Unit, l.what.words[0], l.what.unitNames())
		}
	} else {
		if l.unit, ok, err = findUnit(ownRest, l.what); err == nil && !ok {
			l.unit, ok, err = findUnit(fileRest, l.what)
		}
		switch {
		case err != nil:
			return l, err
		case !ok:
			return l, fmt.Errorf("%s in what unit? %s none of %s; put it in, as in %s",
				l.what.words[0], told(b.Description, file), l.what.unitNames(), l.what.example())
		}
	}
	if l.what.static {
		return l, nil
	}
	if l.month, err = findMonth(own); err == nil && l.month == 0 {
		l.month, err = findMonth(file)
	}
	return l, err
}

// told says which words were looked at.
func told(description string, file []string) string {
	if description != "" {
		return fmt.Sprintf("the band's description %q and the file's name have", description)
	}
	return fmt.Sprintf("the name's words %q have", strings.Join(file, " "))
}

// stem is a file's name without folder and endings.
func stem(name string) string {
	base := path.Base(strings.ReplaceAll(name, `\`, "/"))
	for {
		ext := path.Ext(base)
		switch strings.ToLower(ext) {
		case ".tif", ".tiff", ".gtiff", ".asc", ".txt", ".grd", ".agr":
			base = strings.TrimSuffix(base, ext)
			continue
		}
		return base
	}
}
