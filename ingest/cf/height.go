package cf

import (
	"regexp"
	"strconv"
	"strings"

	"stillrow/ingest/netcdf"
)

// inName finds a height in the name of a variable: t2m, ws10m, u10, si100,
// tmp_2m, 10u.
var inName = regexp.MustCompile(`^(?i:(?:t|d|u|v|q|qv|rh|ws|si|tmp|td|wind|u_|v_|t_|tas|ws_)_?(2|10|50|80|100)m?(?:dew)?|(2|10|100)(?:t|d|u|v|si|m_.*))$`)

// inWords finds a height in a description: "at 2 Meters", "10 metre U wind",
// "2-meter".
var inWords = regexp.MustCompile(`(?i)(?:^|[^0-9.])(\d{1,3}(?:\.\d+)?)[ _-]?(?:m|meters?|metres?)(?:[^a-z0-9]|$)`)

// heightOf gives the height of a variable above ground in metres, from a scalar
// height coordinate, a height attribute, the name or the long_name; 0 where
// the file does not say.
func (r *reader) heightOf(v *netcdf.Var) float64 {
	for _, c := range r.scalars(v) {
		if u, err := parseUnit(c.Text("units")); err == nil && u.dims == metre && !strings.Contains(strings.ToLower(c.Text("positive")), "down") {
			if x, err := r.coordinate(c); err == nil && len(x) == 1 && x[0] > 0 && x[0] <= 500 {
				return x[0] * u.scale
			}
		}
	}
	for _, name := range []string{"height", "Height", "measurement_height", "sensor_height"} {
		if a := v.Attr(name); a != nil {
			if h, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimRight(strings.TrimSpace(a.Text), "metrs ")), 64); err == nil && h > 0 && h <= 500 {
				return h
			}
			if h := v.Number(name); h > 0 && h <= 500 {
				return h
			}
		}
	}
	if m := inName.FindStringSubmatch(v.Name); m != nil {
		h, _ := strconv.ParseFloat(m[1]+m[2], 64) // one of the two is empty, the other digits
		return h
	}
	for _, text := range []string{v.Text("long_name"), v.Text("standard_name")} {
		if m := inWords.FindStringSubmatch(strings.ReplaceAll(text, "_", " ")); m != nil {
			h, err := strconv.ParseFloat(m[1], 64)
			if err == nil && h > 0 && h <= 500 {
				return h
			}
		}
	}
	return 0
}

// pressureLevel gives the variable of a single pressure level that v lies on,
// nil where it lies at the surface.
func (r *reader) pressureLevel(v *netcdf.Var) *netcdf.Var {
	for _, c := range r.scalars(v) {
		if u, err := parseUnit(c.Text("units")); err == nil && u.dims == pascal {
			return c
		}
	}
	return nil
}

// scalars gives the coordinates of v with one value: variables without
// dimension named by its coordinates attribute, and those of dimensions of
// length 1.
func (r *reader) scalars(v *netcdf.Var) []*netcdf.Var {
	var all []*netcdf.Var
	for _, name := range strings.Fields(v.Text("coordinates")) {
		if c := r.file.Var(name); c != nil && c != v && (len(c.Dims) == 0 || len(c.Dims) == 1 && r.file.Dims[c.Dims[0]].Len == 1) {
			all = append(all, c)
		}
	}
	for _, d := range v.Dims {
		if dim := r.file.Dims[d]; dim.Len == 1 && d != r.coord.lat && d != r.coord.lon {
			if c := r.file.Var(dim.Name); c != nil && c != v && len(c.Dims) <= 1 {
				all = append(all, c)
			}
		}
	}
	return all
}
