// Package cf tells what the numbers of a NetCDF file mean: which variables are
// weather, in which unit, on which grid and at which times. It follows the
// Climate and Forecast (CF) metadata conventions 1.11, and where data sets do
// not, the spellings they use; what it cannot tell it refuses by name.
//
// Flux densities become W/m²: sums (J m-2) are divided by the length of their
// step, and by the days of the month where the records are months. Where in its
// interval a stamp lies comes from the bounds of the time coordinate, from
// cell_methods, or from what ECMWF documents of its sums; else the field is
// marked Undocumented.
package cf

import (
	"errors"
	"fmt"
	"strings"

	"stillrow/ingest/grid"
	"stillrow/ingest/netcdf"
	"stillrow/ingest/weather"
)

// A reader is one file on its way from netcdf to grid.
type reader struct {
	file  *netcdf.File
	out   *grid.File
	coord coords
	times map[int]*clock // by dimension
}

// Read says what a file holds: its grid and every field that ingest can use,
// with what was taken on trust in Warnings. Size, SHA256 and Close are left to
// the caller. An error is a *weather.FileError that names the variable.
func Read(f *netcdf.File) (*grid.File, error) {
	r := &reader{file: f, out: &grid.File{Name: f.Name, Set: dataSet(f)}, times: map[int]*clock{}}
	if err := r.readCoords(); err != nil {
		return nil, err
	}
	if err := r.readFields(); err != nil {
		return nil, err
	}
	return r.out, nil
}

// fail makes the error of a variable.
func (r *reader) fail(variable, format string, args ...any) error {
	return &weather.FileError{File: r.file.Name, Field: variable, Err: fmt.Errorf(format, args...)}
}

// wrap makes the error of a variable of one that names less.
func (r *reader) wrap(variable string, err error) error {
	var f *weather.FileError
	if errors.As(err, &f) {
		return err
	}
	return &weather.FileError{File: r.file.Name, Field: variable, Err: err}
}

// warn keeps a line for the user.
func (r *reader) warn(variable, format string, args ...any) {
	r.out.Warnings = append(r.out.Warnings, variable+": "+fmt.Sprintf(format, args...))
}

// longestSet bounds the name of a data set in the site table, bytes.
const longestSet = 80

// dataSet gives what the file calls itself, empty where it does not say.
func dataSet(f *netcdf.File) string {
	for _, name := range []string{"title", "Title", "source"} {
		if a := f.Attr(name); a != nil {
			text, _, _ := strings.Cut(strings.TrimSpace(strings.ToValidUTF8(a.Text, "")), "\n")
			if text != "" && len(text) <= longestSet {
				return text
			}
		}
	}
	return ""
}

// ecmwf tells whether the file says that it comes from the European Centre for
// Medium-Range Weather Forecasts.
func ecmwf(f *netcdf.File, v *netcdf.Var) bool {
	for _, name := range []string{"history", "institution", "GRIB_centreDescription"} {
		if a := f.Attr(name); a != nil {
			text := strings.ToLower(a.Text)
			for _, sign := range []string{"ecmwf", "grib_to_netcdf", "european centre for medium"} {
				if strings.Contains(text, sign) {
					return true
				}
			}
		}
	}
	return v.Attr("GRIB_paramId") != nil
}
