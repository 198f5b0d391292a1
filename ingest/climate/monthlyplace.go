package climate

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"stillrow/ingest/weather"
)

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
