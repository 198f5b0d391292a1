package climate

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"stillrow/ingest/weather"
)

// Ranges of monthly clearness: what the ten classes of daily sequences reach by
// scaling, and a little more than any place on earth has: high deserts come to
// 0.80 in their clearest month (common practice, no source).
const (
	leastMonth, mostMonth = 0.05, 0.84
	// dimMonth is a mean horizontal irradiance above the air, W/m², under which
	// a month near the poles is too dim for its clearness to be checked.
	dimMonth = 5
)

// A column of the table holds one number of a Cell.
type column struct {
	name      string
	low, high float64
	optional  bool
	at        func(*Cell) *float64
}

// columns are those of numbers, in the order the table is usually written in.
var columns = func() []column {
	all := []column{
		{"lat", -90, 90, false, func(c *Cell) *float64 { return &c.Lat }},
		{"lon", -180, 180, false, func(c *Cell) *float64 { return &c.Lon }},
		{"elevation_m", -500, 9000, false, func(c *Cell) *float64 { return &c.Elevation }},
		{"cell_deg", 0, 30, true, func(c *Cell) *float64 { return &c.CellDeg }},
	}
	for _, monthly := range []struct {
		name      string
		low, high float64
		optional  bool
		at        func(*Cell) *[12]float64
	}{
		{"ghi_w_m2", 0, 600, false, func(c *Cell) *[12]float64 { return &c.GHI }},
		{"air_temperature_c", -80, 60, false, func(c *Cell) *[12]float64 { return &c.AirTemperature }},
		{"wind_speed_m_s", 0, 40, true, func(c *Cell) *[12]float64 { return &c.Wind }},
		{"relative_humidity_percent", 1, 100, true, func(c *Cell) *[12]float64 { return &c.RelHumidity }},
	} {
		for m := range 12 {
			all = append(all, column{
				fmt.Sprintf("%s_%02d", monthly.name, m+1), monthly.low, monthly.high, monthly.optional,
				func(c *Cell) *float64 { return &monthly.at(c)[m] },
			})
		}
	}
	return all
}()

// Validate returns an error that names the first column out of range, as the
// table spells it, and its value.
func (c *Cell) Validate() error {
	if name, err := c.check(); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}

// check finds the first column out of range.
func (c *Cell) check() (name string, err error) {
	if c.ID == "" {
		return "site_id", weather.ErrNoData
	}
	for _, col := range columns {
		v := *col.at(c)
		if col.optional && math.IsNaN(v) {
			continue
		}
		if !(col.low <= v && v <= col.high) { // NaN lands here too
			return col.name, fmt.Errorf("%g, want %g to %g", v, col.low, col.high)
		}
	}
	for _, part := range []struct {
		name   string
		months *[12]float64
	}{{"wind_speed_m_s", &c.Wind}, {"relative_humidity_percent", &c.RelHumidity}} {
		for m, v := range part.months {
			if math.IsNaN(v) == given(part.months) {
				return fmt.Sprintf("%s_%02d", part.name, m+1), errors.New("some months are missing and some are not")
			}
		}
	}
	for m, above := range aboveAir(c.Lat) {
		name, ghi := fmt.Sprintf("ghi_w_m2_%02d", m+1), c.GHI[m]
		switch {
		case above < dimMonth && ghi > above+1:
			return name, fmt.Errorf("%g W/m², but the sun gives %.1f above the air at this latitude", ghi, above)
		case above >= dimMonth && (ghi < leastMonth*above || ghi > mostMonth*above):
			return name, fmt.Errorf("%g W/m² is %.2f of the %.0f above the air at this latitude, want %.2f to %.2f",
				ghi, ghi/above, above, leastMonth, mostMonth)
		}
	}
	return "", nil
}

// Read reads a table of monthly means: comma-separated values, a line per place,
// under one line of column names in any order. Lines that start with # are
// comments.
//
//	site_id                                         unique in the table
//	name, country                                   optional
//	lat, lon                                        degrees, north and east positive
//	elevation_m                                     m above sea level
//	cell_deg                                        edge of a grid cell, degrees; optional, 0 for a point
//	ghi_w_m2_01 … _12                               mean over day and night, W/m²
//	air_temperature_c_01 … _12                      °C
//	wind_speed_m_s_01 … _12                         at 10 m, m/s; optional
//	relative_humidity_percent_01 … _12              %; optional
//
// 1 kWh/m² a day is 41.667 W/m². A column of another name is refused: it could
// be one of these misspelt.
//
// Every good line is returned, also when the error is not nil: then it joins
// one *weather.CellError for each bad line, the first of them in full and the
// rest by number. A header that cannot be used gives a *weather.FileError. The
// name is the file's, for errors and Cell.Source.
func Read(r io.Reader, name string) ([]Cell, error) {
	t := table{file: name, seen: map[string]int{}, bound: bound{r: r, left: mostLine, line: 1}}
	in := bufio.NewReader(&t.bound)
	if bom, _ := in.Peek(3); string(bom) == "\ufeff" {
		in.Discard(3)
	}
	t.csv = csv.NewReader(in)
	t.csv.Comment, t.csv.FieldsPerRecord, t.csv.ReuseRecord = '#', -1, true
	if err := t.header(); err != nil {
		return nil, err
	}
	var cells []Cell
	for {
		fields, err := t.next()
		if errors.Is(err, io.EOF) {
			break
		}
		var broken *csv.ParseError
		switch {
		case errors.As(err, &broken):
			t.report(&weather.FileError{File: name, Line: broken.StartLine, Err: broken.Err})
			continue
		case err != nil:
			t.report(t.broken(err))
			return cells, t.err()
		}
		if c, err := t.cell(fields); err != nil {
			t.report(err)
		} else {
			cells = append(cells, c)
		}
	}
	if len(cells) == 0 && t.bad == 0 {
		return nil, &weather.FileError{File: name, Err: errors.New("no line of data")}
	}
	return cells, t.err()
}

// A table is a file being read.
type table struct {
	file  string
	bound bound
	csv   *csv.Reader
	names []string
	place map[string]int // field of each column
	seen  map[string]int // line of each site_id
	errs  []error        // the first of the bad lines
	bad   int            // all of them
}

// header reads the column names.
func (t *table) header() error {
	fields, err := t.next()
	fail := func(field string, err error) error {
		line := 0
		if len(fields) > 0 {
			line, _ = t.csv.FieldPos(0)
		}
		return &weather.FileError{File: t.file, Line: line, Field: field, Err: err}
	}
	if errors.Is(err, io.EOF) {
		return fail("", errors.New("no line of column names"))
	}
	var broken *csv.ParseError
	if errors.As(err, &broken) {
		return &weather.FileError{File: t.file, Line: broken.StartLine, Err: broken.Err}
	}
	if err != nil {
		return t.broken(err)
	}
	t.place = map[string]int{}
	for i, f := range fields {
		f = strings.TrimSpace(f)
		if _, twice := t.place[f]; twice {
			return fail(f, errors.New("column given twice"))
		}
		t.place[f] = i
		t.names = append(t.names, f)
	}
	known := []string{"site_id", "name", "country"}
	for _, col := range columns {
		known = append(known, col.name)
		if _, ok := t.place[col.name]; ok || col.optional && !t.partOfGroup(col.name) {
			continue
		}
		return fail(col.name, errors.New("column missing"))
	}
	if _, ok := t.place["site_id"]; !ok {
		return fail("site_id", errors.New("column missing"))
	}
	for _, f := range t.names {
		if !slices.Contains(known, f) {
			return fail(f, errors.New("unknown column"))
		}
	}
	return nil
}

// partOfGroup tells whether another month of a monthly column is there.
func (t *table) partOfGroup(name string) bool {
	group := strings.TrimRight(name, "0123456789")
	if group == name {
		return false
	}
	return slices.ContainsFunc(t.names, func(n string) bool { return strings.HasPrefix(n, group) })
}

// cell reads one line.
func (t *table) cell(fields []string) (Cell, error) {
	line, _ := t.csv.FieldPos(0)
	fail := func(column, value string, err error) error {
		return &weather.CellError{File: t.file, Line: line, Column: column, Value: value, Err: err}
	}
	if len(fields) != len(t.names) {
		return Cell{}, &weather.FileError{File: t.file, Line: line,
			Err: fmt.Errorf("%d fields, the line of column names has %d", len(fields), len(t.names))}
	}
	text := func(column string) string {
		if i, ok := t.place[column]; ok {
			return strings.TrimSpace(fields[i])
		}
		return ""
	}
	c := Cell{ID: text("site_id"), Name: text("name"), Country: text("country"), Source: "monthly means, " + t.file}
	for _, col := range columns {
		to := col.at(&c)
		s := text(col.name)
		if _, ok := t.place[col.name]; !ok {
			if col.name != "cell_deg" {
				*to = math.NaN()
			}
			continue
		}
		if s == "" {
			return Cell{}, fail(col.name, s, weather.ErrNoData)
		}
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			return Cell{}, fail(col.name, s, errors.New("not a number"))
		}
		*to = v
		if math.IsNaN(v) {
			return Cell{}, fail(col.name, s, errors.New("not a number"))
		}
	}
	if name, err := c.check(); err != nil {
		return Cell{}, fail(name, text(name), err)
	}
	if first, twice := t.seen[c.ID]; twice {
		return Cell{}, fail("site_id", c.ID, fmt.Errorf("already on line %d", first))
	}
	t.seen[c.ID] = line
	return c, nil
}

// report keeps the first few errors and counts all.
func (t *table) report(err error) {
	const kept = 20
	if t.bad++; t.bad <= kept {
		t.errs = append(t.errs, err)
	}
}

// err joins what was reported.
func (t *table) err() error {
	errs := t.errs
	if more := t.bad - len(errs); more > 0 {
		errs = append(errs, &weather.FileError{File: t.file, Err: fmt.Errorf("%d more lines cannot be used", more)})
	}
	return errors.Join(errs...)
}
