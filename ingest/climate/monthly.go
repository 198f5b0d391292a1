package climate

import (
	"bufio"
	"bytes"
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
	m := &monthly{table: table{file: name}, places: map[string]int{}, ids: map[string]int{}}
	in := bufio.NewReader(r)
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
		fields, err := m.csv.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		var broken *csv.ParseError
		switch {
		case errors.As(err, &broken):
			m.report(&weather.FileError{File: name, Line: broken.StartLine, Err: broken.Err})
			continue
		case err != nil:
			m.report(&weather.FileError{File: name, Err: err})
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
	fields, err := m.csv.Read()
	var broken *csv.ParseError
	switch {
	case errors.Is(err, io.EOF):
		return &weather.FileError{File: m.file, Err: errors.New("no line of column names")}
	case errors.As(err, &broken):
		return &weather.FileError{File: m.file, Line: broken.StartLine, Err: broken.Err}
	case err != nil:
		return &weather.FileError{File: m.file, Err: err}
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

// line reads the month of a place. A fault of a line whose place is known
// spoils the place.
func (m *monthly) line(fields []string) error {
	line, _ := m.csv.FieldPos(0)
	if len(fields) != len(m.names) {
		return &weather.FileError{File: m.file, Line: line,
			Err: fmt.Errorf("%d fields, the line of column names has %d", len(fields), len(m.names))}
	}
	fail := func(column, value string, err error) error {
		return &weather.CellError{File: m.file, Line: line, Column: column, Value: value, Err: err}
	}
	number := func(column string, i int, low, high float64) (float64, error) {
		s := strings.TrimSpace(fields[i])
		v, err := strconv.ParseFloat(s, 64)
		switch {
		case s == "":
			return 0, fail(column, s, weather.ErrNoData)
		case err != nil || math.IsNaN(v):
			return 0, fail(column, s, errors.New("not a number"))
		case v < low || v > high:
			return 0, fail(column, s, fmt.Errorf("%g, want %g to %g", v, low, high))
		}
		return v, nil
	}
	text := func(column string) string {
		if i, ok := m.place[column]; ok {
			return strings.TrimSpace(fields[i])
		}
		return ""
	}
	lat, err := number("lat", m.place["lat"], -90, 90)
	if err != nil {
		return err
	}
	lon, err := number("lon", m.place["lon"], -180, 360)
	if err != nil {
		return err
	}
	if lon > 180 {
		lon -= 360
	}
	at := m.find(lat, lon, line)
	p := &m.list[at]
	spoil := func(err error) error {
		p.bad = true
		return err
	}
	if _, ok := m.place["site_id"]; ok {
		id := text("site_id")
		other, known := m.ids[id]
		switch {
		case id == "":
			return spoil(fail("site_id", id, weather.ErrNoData))
		case known && other != at:
			return spoil(fail("site_id", id, fmt.Errorf("on line %d of another place", m.list[other].first)))
		case p.cell.ID != "" && p.cell.ID != id:
			return spoil(fail("site_id", id, fmt.Errorf("%q on line %d of the same place", p.cell.ID, p.first)))
		}
		p.cell.ID, m.ids[id] = id, at
	}
	for column, to := range map[string]*string{"name": &p.cell.Name, "country": &p.cell.Country} {
		if *to == "" {
			*to = text(column)
		}
	}
	for _, c := range []struct {
		name      string
		low, high float64
		to        *float64
	}{{"elevation_m", -500, 9000, &p.cell.Elevation}, {"cell_deg", 0, 30, &p.cell.CellDeg}} {
		i, ok := m.place[c.name]
		if !ok {
			continue
		}
		v, err := number(c.name, i, c.low, c.high)
		if err != nil {
			return spoil(err)
		}
		if line != p.first && v != *c.to {
			return spoil(fail(c.name, text(c.name), fmt.Errorf("%g on line %d of the same place", *c.to, p.first)))
		}
		*c.to = v
	}
	month, ok := monthOf(fields[m.month])
	if !ok {
		return spoil(fail("month", strings.TrimSpace(fields[m.month]), errors.New("want 1 to 12 or a name such as jan")))
	}
	if before := p.lines[month-1]; before > 0 {
		return spoil(fail("month", strings.TrimSpace(fields[m.month]), fmt.Errorf("already on line %d for this place", before)))
	}
	p.lines[month-1] = line
	for _, v := range m.values {
		x, err := number(v.col.name, v.field, math.Inf(-1), math.Inf(1))
		if err != nil {
			return spoil(err)
		}
		if v.col.sum {
			x /= float64(weather.MonthDays[month-1])
		}
		v.col.at(&p.cell)[month-1] = x*v.col.factor + v.col.offset
	}
	return nil
}

// find gives the index of a place, new or known.
func (m *monthly) find(lat, lon float64, line int) int {
	key := strconv.FormatFloat(lat+0, 'g', -1, 64) + " " + strconv.FormatFloat(lon+0, 'g', -1, 64)
	at, known := m.places[key]
	if known {
		return at
	}
	p := place{first: line}
	p.cell.Lat, p.cell.Lon, p.cell.Source = lat, lon, "monthly means, "+m.file
	for i := range 12 {
		p.cell.Wind[i], p.cell.RelHumidity[i] = math.NaN(), math.NaN()
	}
	m.list = append(m.list, p)
	m.places[key] = len(m.list) - 1
	return len(m.list) - 1
}

// monthOf reads a month.
func monthOf(s string) (int, bool) {
	s = strings.ToLower(strings.TrimSpace(s))
	if n, err := strconv.Atoi(s); err == nil {
		return n, n >= 1 && n <= 12
	}
	for i, name := range [12]string{"january", "february", "march", "april", "may", "june", "july",
		"august", "september", "october", "november", "december"} {
		if s == name || s == name[:3] {
			return i + 1, true
		}
	}
	return 0, false
}

// cells gives the good places and reports the others.
func (m *monthly) cells() []Cell {
	var cells []Cell
	var north, east float64
	if _, ok := m.place["cell_deg"]; !ok {
		north, east = spacing(m.list)
	}
	_, height := m.place["elevation_m"]
	for i := range m.list {
		p := &m.list[i]
		if p.bad {
			continue
		}
		fail := func(field string, err error) {
			m.report(&weather.FileError{File: m.file, Line: p.first, Field: field, Err: err})
		}
		c := &p.cell
		if north > 0 {
			c.CellDeg, c.CellLonDeg = north, east
		}
		if !height {
			c.Flags = []string{flagHeightAbsent}
		}
		if c.ID == "" {
			c.ID = degrees(c.Lat, "n", "s") + degrees(c.Lon, "e", "w")
			if other, twice := m.ids[c.ID]; twice {
				fail("lat", fmt.Errorf("place %s is nearer than 0.0001° to that of line %d", c.ID, m.list[other].first))
				continue
			}
			m.ids[c.ID] = i
		}
		var lacking []string
		for k, line := range p.lines {
			if line == 0 {
				lacking = append(lacking, strconv.Itoa(k+1))
			}
		}
		if lacking != nil {
			fail("month", fmt.Errorf("%s missing for the place at %g, %g, which begins here", strings.Join(lacking, ", "), c.Lat, c.Lon))
			continue
		}
		if name, err := c.check(); err != nil {
			month := 0
			if n := len(name); n > 3 && name[n-3] == '_' {
				month, _ = strconv.Atoi(name[n-2:])
			}
			if month > 0 {
				m.report(&weather.FileError{File: m.file, Line: p.lines[month-1], Field: name[:len(name)-3], Err: err})
			} else {
				fail(name, err)
			}
			continue
		}
		cells = append(cells, *c)
	}
	return cells
}

// flagHeightAbsent marks a place at sea level for want of an elevation, as
// package grid does.
const flagHeightAbsent = "elevation_absent"

// degrees writes a coordinate with up to four decimals, as in n31.7188.
func degrees(v float64, plus, minus string) string {
	v = math.Round(v*1e4) / 1e4
	if v < 0 {
		plus = minus
	}
	return plus + strconv.FormatFloat(math.Abs(v), 'f', -1, 64)
}

// spacing gives the steps of the regular grid that places lie on, degrees, east
// being 0 where it is like north; both are 0 where they lie on none. Every place
// must have a neighbour one step away, and none may lie between.
func spacing(list []place) (north, east float64) {
	if len(list) == 0 {
		return 0, 0
	}
	lats, lons := make([]float64, len(list)), make([]float64, len(list))
	for i := range list {
		lats[i], lons[i] = list[i].cell.Lat, list[i].cell.Lon
	}
	const slack = 0.01 // of a step
	north, east = least(lats), least(lons)
	if north == 0 || east == 0 {
		return 0, 0
	}
	south, west := slices.Min(lats), slices.Min(lons)
	type node struct{ y, x int }
	at := make(map[node]bool, len(list))
	for i := range lats {
		y, x := (lats[i]-south)/north, (lons[i]-west)/east
		n := node{int(math.Round(y)), int(math.Round(x))}
		// Rounded coordinates drift from the multiples of a rounded step.
		drift := min(slack*(1+max(y, x)), 0.25)
		if math.Abs(y-float64(n.y)) > drift || math.Abs(x-float64(n.x)) > drift {
			return 0, 0
		}
		at[n] = true
	}
	for n := range at {
		if !at[node{n.y + 1, n.x}] && !at[node{n.y - 1, n.x}] && !at[node{n.y, n.x + 1}] && !at[node{n.y, n.x - 1}] {
			return 0, 0
		}
	}
	north, east = math.Round(north*1e6)/1e6, math.Round(east*1e6)/1e6
	if math.Abs(east-north) <= slack*north {
		east = 0
	}
	return north, east
}

// least gives the least distance of two different values, 0 where all are one.
func least(v []float64) float64 {
	v = slices.Clone(v)
	slices.Sort(v)
	step := 0.0
	for i := 1; i < len(v); i++ {
		if d := v[i] - v[i-1]; d > 1e-6 && (step == 0 || d < step) {
			step = d
		}
	}
	return step
}
