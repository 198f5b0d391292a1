package fit

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
)

// A column of the test file. Numbers have a field and a range, which open
// excludes the lower end of; words have neither.
type column struct {
	name     string
	optional bool
	field    func(*Point) *float64
	min, max float64
	open     bool
}

var columns = []column{
	{name: "time", optional: true},
	{name: "set", optional: true},
	{name: "beam_w_m2", field: func(p *Point) *float64 { return &p.Beam }, max: 1500},
	{name: "diffuse_w_m2", field: func(p *Point) *float64 { return &p.Diffuse }, max: 1500},
	{name: "incidence_deg", field: func(p *Point) *float64 { return &p.Incidence }, max: maxIncidence},
	{name: "air_temperature_c", field: func(p *Point) *float64 { return &p.AirTemperature }, min: -60, max: 60},
	{name: "wind_speed_m_s", field: func(p *Point) *float64 { return &p.WindSpeed }, max: 50},
	{name: "inlet_c", field: func(p *Point) *float64 { return &p.Inlet }, max: 100},
	{name: "outlet_c", field: func(p *Point) *float64 { return &p.Outlet }, max: 100},
	{name: "mass_flow_kg_s", field: func(p *Point) *float64 { return &p.MassFlow }, max: 1000, open: true},
	{name: "receiver_area_m2", field: func(p *Point) *float64 { return &p.Area }, max: 1e5, open: true},
	{name: "sky_infrared_w_m2", optional: true, field: func(p *Point) *float64 { return &p.SkyInfrared }, min: 50, max: 700},
	{name: "uncertainty_w_m2", optional: true, field: func(p *Point) *float64 { return &p.Uncertainty }, max: 1000, open: true},
}

// maxErrors is how many faults of a file are named before the rest is counted.
const maxErrors = 10

// Read reads test points from CSV: a header with the names that Template shows,
// in any order, then one point a line; lines that begin with # are comments.
// name is the file's, for messages.
//
// An unknown, missing or doubled column ends the reading. Faults in cells are
// gathered, each on a line with file, line, field and value, and returned
// together (errors.Join); points are returned only when there are none.
func Read(r io.Reader, name string) ([]Point, error) {
	in := bufio.NewReader(&bound{r, mostText})
	if mark, _ := in.Peek(3); string(mark) == "\uFEFF" { // spreadsheets put it there
		in.Discard(3)
	}
	cr := csv.NewReader(in)
	cr.Comment = '#'
	cr.TrimLeadingSpace = true
	cr.FieldsPerRecord = -1
	cr.ReuseRecord = true

	header, err := cr.Read()
	if err == io.EOF {
		return nil, fmt.Errorf("%s: empty, want a header line and test points", name)
	}
	if err != nil {
		return nil, csvError(name, err)
	}
	line, _ := cr.FieldPos(0)
	order, err := readHeader(header)
	if err != nil {
		return nil, fmt.Errorf("%s:%d: %w", name, line, err)
	}

	var points []Point
	var faults []error
	for {
		cells, err := cr.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, errors.Join(append(faults, csvError(name, err))...)
		}
		p := Point{File: name, SkyInfrared: math.NaN(), Uncertainty: math.NaN()}
		p.Line, _ = cr.FieldPos(0)
		if err := p.read(cells, order); err != nil {
			faults = append(faults, p.locate(err))
		}
		points = append(points, p)
	}
	if n := len(faults); n > maxErrors {
		faults = append(faults[:maxErrors:maxErrors], fmt.Errorf("%s: %d more lines are wrong", name, n-maxErrors))
	}
	if err := errors.Join(faults...); err != nil {
		return nil, err
	}
	if len(points) == 0 {
		return nil, fmt.Errorf("%s: no test points below the header", name)
	}
	return points, nil
}

// mostText bounds a file, bytes: a point every ten seconds for a month.
const mostText = 32 << 20

// A bound is a reader that fails once left bytes have been read.
type bound struct {
	r    io.Reader
	left int
}

func (b *bound) Read(p []byte) (int, error) {
	if b.left <= 0 {
		return 0, fmt.Errorf("over %d bytes, want at most that of test points", mostText)
	}
	n, err := b.r.Read(p)
	b.left -= n
	return n, err
}

// readHeader returns for each field of a record the column it belongs to.
func readHeader(header []string) ([]*column, error) {
	if len(header) == 1 && strings.Contains(header[0], ";") {
		return nil, errors.New("header: semicolons between the columns, want commas and decimal points")
	}
	order := make([]*column, len(header))
	for i, h := range header {
		h = strings.TrimSpace(h)
		k := slices.IndexFunc(columns, func(c column) bool { return c.name == h })
		if k < 0 {
			return nil, fmt.Errorf("header: unknown column %q, want %s", h, columnNames())
		}
		if slices.Contains(order, &columns[k]) {
			return nil, fmt.Errorf("header: column %q twice", h)
		}
		order[i] = &columns[k]
	}
	for i := range columns {
		if c := &columns[i]; !c.optional && !slices.Contains(order, c) {
			return nil, fmt.Errorf("header: column %q is missing", c.name)
		}
	}
	return order, nil
}

func columnNames() string {
	var names []string
	for _, c := range columns {
		names = append(names, c.name)
	}
	return strings.Join(names, ", ")
}

// read fills the point from the cells of its line and validates it. An error
// names the first field at fault.
func (p *Point) read(cells []string, order []*column) error {
	if len(cells) != len(order) {
		return fmt.Errorf("%d fields, the header has %d", len(cells), len(order))
	}
	for i, c := range order {
		cell := strings.TrimSpace(cells[i])
		switch {
		case c.name == "time":
			p.Time = cell
		case cell == "":
			return fmt.Errorf("%s: empty", c.name)
		case c.name == "set":
			p.Set = cell
		default:
			x, err := strconv.ParseFloat(cell, 64)
			if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
				return fmt.Errorf("%s: %q is not a number", c.name, cell)
			}
			*c.field(p) = x
		}
	}
	return p.Validate()
}

// csvError puts file and line first, as in every other message.
func csvError(name string, err error) error {
	var pe *csv.ParseError
	if errors.As(err, &pe) {
		return fmt.Errorf("%s:%d: column %d: %w", name, pe.Line, pe.Column, pe.Err)
	}
	return fmt.Errorf("%s: %w", name, err)
}
