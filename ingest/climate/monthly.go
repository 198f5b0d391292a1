package climate

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"stillrow/ingest/weather"
)

// A monthlyColumn is one of a long table: a value a line, that of one month.
type monthlyColumn struct {
	name   string
	factor float64
	offset float64
	sum    bool // over the month; the others are means
	at     func(*Cell) *[12]float64
}

var (
	toGHI  = func(c *Cell) *[12]float64 { return &c.GHI }
	toAir  = func(c *Cell) *[12]float64 { return &c.AirTemperature }
	toWind = func(c *Cell) *[12]float64 { return &c.Wind }
	toRH   = func(c *Cell) *[12]float64 { return &c.RelHumidity }
)

// monthlyColumns are in groups of one quantity, of which a table has one.
var monthlyColumns = []monthlyColumn{
	{name: "ghi_w_m2", factor: 1, at: toGHI},
	{name: "ghi_kwh_m2_day", factor: 1000.0 / 24, at: toGHI},
	{name: "ghi_mj_m2_day", factor: 1e6 / 86400, at: toGHI},
	{name: "ghi_kj_m2_day", factor: 1e3 / 86400, at: toGHI},
	{name: "ghi_kwh_m2_month", factor: 1000.0 / 24, sum: true, at: toGHI},
	{name: "ghi_mj_m2_month", factor: 1e6 / 86400, sum: true, at: toGHI},
	{name: "air_temperature_c", factor: 1, at: toAir},
	{name: "air_temperature_k", factor: 1, offset: -273.15, at: toAir},
	{name: "wind_speed_m_s", factor: 1, at: toWind},
	{name: "relative_humidity_percent", factor: 1, at: toRH},
}

// placeColumns are those that all lines of a place share, in this order in a
// line's texts.
var placeColumns = []string{"site_id", "name", "country", "lat", "lon", "elevation_m", "cell_deg"}

// ReadMonthly reads a long table of monthly means: a line for each month of each
// place, in any order, under one line of column names in any order, parted by
// commas, semicolons or tabs. Lines that start with # are comments.
//
//	lat, lon                   degrees, north and east positive
//	month                      1 to 12, or the English name or its first three letters
//	ghi_w_m2                   mean over day and night; or ghi_kwh_m2_day, ghi_mj_m2_day,
//	                           ghi_kj_m2_day, ghi_kwh_m2_month, ghi_mj_m2_month
//	air_temperature_c          or air_temperature_k
//	wind_speed_m_s             at 10 m; optional
//	relative_humidity_percent  optional
//	site_id, name, country     optional; without site_id the place makes one
//	elevation_m                optional, 0 where the table has none
//	cell_deg                   edge of a grid cell, degrees; optional
//
// February's sums are over 28 days. Without cell_deg, places that fill a regular
// grid of equal steps become its cells, others points. A column of another name
// is refused.
//
// Every good place is returned in the order of first lines, also when the error
// is not nil: it joins one *weather.CellError or *weather.FileError for each bad
// line and each place that lacks a month, the first of them in full and the rest
// by number. A place with a bad line is left out. Memory grows with the places,
// not with the lines.
func ReadMonthly(r io.Reader, name string) ([]Cell, error) {
	m := &monthly{table: table{file: name, bound: bound{r: r, left: mostLine, line: 1}}, places: map[string]int{}, ids: map[string]int{}}
	in := bufio.NewReader(&m.bound)
	if bom, _ := in.Peek(3); string(bom) == "\ufeff" {
		in.Discard(3)
	}
	head, _ := in.Peek(4096)
	m.csv = csv.NewReader(in)
	m.csv.Comma = separator(head)
	m.csv.Comment, m.csv.FieldsPerRecord, m.csv.ReuseRecord = '#', -1, true
	if err := m.header(); err != nil {
		return nil, err
	}
	for {
		fields, err := m.next()
		if errors.Is(err, io.EOF) {
			break
		}
		var broken *csv.ParseError
		switch {
		case errors.As(err, &broken):
			m.report(&weather.FileError{File: name, Line: broken.StartLine, Err: broken.Err})
			continue
		case err != nil:
			m.report(m.broken(err))
			return m.cells(), m.err()
		}
		if err := m.line(fields); err != nil {
			m.report(err)
		}
	}
	if len(m.list) == 0 && m.bad == 0 {
		return nil, &weather.FileError{File: name, Err: errors.New("no line of data")}
	}
	cells := m.cells()
	return cells, m.err()
}

// separator is what parts most fields of the line of column names.
func separator(head []byte) rune {
	for len(head) > 0 && (head[0] == '#' || head[0] == '\n' || head[0] == '\r') {
		_, head, _ = bytes.Cut(head, []byte("\n"))
	}
	head, _, _ = bytes.Cut(head, []byte("\n"))
	best, most := ',', bytes.Count(head, []byte(","))
	for _, s := range ";\t" {
		if n := bytes.Count(head, []byte(string(s))); n > most {
			best, most = s, n
		}
	}
	return best
}

// A monthly is a long table being read.
type monthly struct {
	table
	month  int // field of the month
	values []monthlyField
	list   []place
	places map[string]int // place of each latitude and longitude, as numbers
	ids    map[string]int // place of each site_id
}

// A monthlyField is a column of the table that holds values.
type monthlyField struct {
	field int
	col   *monthlyColumn
}

// A place is what was read of it so far.
type place struct {
	cell  Cell
	first int     // line
	lines [12]int // of each month
	bad   bool
}

// header reads the column names.
func (m *monthly) header() error {
	fields, err := m.next()
	var broken *csv.ParseError
	switch {
	case errors.Is(err, io.EOF):
		return &weather.FileError{File: m.file, Err: errors.New("no line of column names")}
	case errors.As(err, &broken):
		return &weather.FileError{File: m.file, Line: broken.StartLine, Err: broken.Err}
	case err != nil:
		return m.broken(err)
	}
	line, _ := m.csv.FieldPos(0)
	fail := func(field, format string, args ...any) error {
		return &weather.FileError{File: m.file, Line: line, Field: field, Err: fmt.Errorf(format, args...)}
	}
	m.place, m.month = map[string]int{}, -1
	for i, f := range fields {
		f = strings.ToLower(strings.TrimSpace(f))
		if slices.Contains(m.names, f) {
			return fail(f, "column given twice")
		}
		m.names = append(m.names, f)
		k := slices.IndexFunc(monthlyColumns, func(c monthlyColumn) bool { return c.name == f })
		switch {
		case f == "month":
			m.month = i
		case slices.Contains(placeColumns, f):
			m.place[f] = i
		case k < 0:
			return fail(f, "unknown column, want %s, month, %s", strings.Join(placeColumns, ", "), columnNames())
		default:
			m.values = append(m.values, monthlyField{i, &monthlyColumns[k]})
		}
	}
	for _, f := range []string{"lat", "lon"} {
		if _, ok := m.place[f]; !ok {
			return fail(f, "column missing")
		}
	}
	if m.month < 0 {
		return fail("month", "column missing")
	}
	var c Cell
	has := map[*[12]float64]string{}
	for _, v := range m.values {
		if before, twice := has[v.col.at(&c)]; twice {
			return fail(v.col.name, "given beside %s", before)
		}
		has[v.col.at(&c)] = v.col.name
	}
	if has[&c.GHI] == "" {
		return fail("ghi_w_m2", "column missing (or ghi_kwh_m2_day, ghi_mj_m2_day, ghi_kj_m2_day, ghi_kwh_m2_month, ghi_mj_m2_month)")
	}
	if has[&c.AirTemperature] == "" {
		return fail("air_temperature_c", "column missing (or air_temperature_k)")
	}
	return nil
}

func columnNames() string {
	var names []string
	for _, c := range monthlyColumns {
		names = append(names, c.name)
	}
	return strings.Join(names, ", ")
}
