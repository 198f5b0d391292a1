package ingest

import (
	"bufio"
	"bytes"
	"errors"
	"io"
	"strings"

	"stillrow/ingest/asciigrid"
	"stillrow/ingest/cf"
	"stillrow/ingest/climate"
	"stillrow/ingest/epw"
	"stillrow/ingest/geotiff"
	"stillrow/ingest/grid"
	"stillrow/ingest/netcdf"
	"stillrow/ingest/power"
	"stillrow/ingest/psm"
	"stillrow/ingest/series"
	"stillrow/ingest/tmy3"
	"stillrow/ingest/weather"
)

// A format is a file format: how the first bytes of a file look,
// and its parser, one of these, or why such a file is not read.
type format struct {
	is     func(head []byte) bool
	year   func(name string, r io.Reader) (*weather.Raw, error)
	series func(name string, r io.Reader) (*series.Series, error)
	cells  func(r io.Reader, name string) ([]climate.Cell, error)
	grid   func(r io.ReaderAt, size int64, name string) (*grid.File, error)
	why    string
}

// sniff is how many bytes of a file are looked at to tell its format.
const sniff = 4096

// endings are the file endings taken from folders and globs, in lower case. A
// file named outright is read whatever its ending.
var endings = []string{".epw", ".csv", ".tmy3", ".nc", ".nc4", ".cdf", ".tif", ".tiff", ".asc"}

// formats lists the formats in the order they are tried; the known ones that
// are not read are named so that the reason says what the file is.
func formats() []format {
	starts := func(magic ...string) func([]byte) bool {
		return func(head []byte) bool {
			for _, m := range magic {
				if len(head) >= len(m) && bytes.EqualFold(head[:len(m)], []byte(m)) {
					return true
				}
			}
			return false
		}
	}
	return []format{
		{is: starts("LOCATION,"), year: epw.Parse},
		{is: isTMY3, year: tmy3.Parse},
		{is: starts("Source,Location ID,"), series: psm.Parse},
		{is: starts("-BEGIN HEADER-", "YEAR,MO,DY,HR"), series: power.Parse},
		{is: starts("CDF\x01", "CDF\x02", "CDF\x05", "\x89HDF\r\n\x1a\n"), grid: readNetCDF},
		{is: starts("II*\x00", "MM\x00*", "II+\x00", "MM\x00+"), grid: geotiff.Read},
		{is: starts("ncols", "nrows"), grid: asciigrid.Read},
		{is: hasColumns("lat", "lon", "month"), cells: climate.ReadMonthly},
		{is: hasColumns("site_id", "lat", "lon"), cells: climate.Read},
		{is: starts("\x1f\x8b"), why: "compressed (gzip); unpack it first"},
		{is: starts("PK\x03\x04"), why: "a zip archive or spreadsheet; unpack it or save it as CSV first"},
		{is: starts("\xd0\xcf\x11\xe0"), why: "an old spreadsheet; save it as CSV first"},
		{is: starts("GRIB"), why: "a GRIB file; turn it into NetCDF first: grib_to_netcdf -o out.nc in.grib"},
		{is: starts("\x0e\x03\x13\x01"), why: "an HDF4 file; turn it into NetCDF first"},
		{is: starts("PAR1"), why: "a Parquet file; a finished weather table goes to simulate as its folder"},
		{is: starts("<!DOCTYPE", "<html", "<?xml"), why: "a web page or XML, no weather table; a failed download?"},
		{is: starts("\xff\xfe", "\xfe\xff"), why: "text in UTF-16; save it as UTF-8"},
		{is: isBinary, why: "binary content of an unknown format"},
	}
}

func readNetCDF(r io.ReaderAt, size int64, name string) (*grid.File, error) {
	f, err := netcdf.Open(r, size, name)
	if err != nil {
		return nil, err
	}
	return cf.Read(f)
}

// hasColumns looks for the names in the first line that is no comment.
func hasColumns(names ...string) func([]byte) bool {
	return func(head []byte) bool {
		for line := range strings.Lines(strings.ToLower(string(head))) {
			if strings.HasPrefix(line, "#") {
				continue
			}
			fields := strings.FieldsFunc(line, func(r rune) bool { return strings.ContainsRune(",;\t\r\n\" ", r) })
			for _, n := range names {
				found := false
				for _, f := range fields {
					found = found || f == n
				}
				if !found {
					return false
				}
			}
			return true
		}
		return false
	}
}

// isTMY3 looks for the line of column names, the second of the file.
func isTMY3(head []byte) bool {
	_, second, _ := bytes.Cut(head, []byte("\n"))
	names, _, _ := bytes.Cut(bytes.ToLower(second), []byte("\n"))
	return bytes.Contains(names, []byte("date (mm/dd/yyyy)")) && bytes.Contains(names, []byte("time (hh:mm)"))
}

// isBinary looks for bytes that text does not have.
func isBinary(head []byte) bool {
	return bytes.ContainsFunc(head, func(r rune) bool { return r < ' ' && r != '\t' && r != '\r' && r != '\n' && r != '\f' })
}

// recognise tells the format of a file by its first bytes.
func recognise(name string, r *bufio.Reader) (format, error) {
	head, err := r.Peek(sniff)
	if err != nil && err != io.EOF {
		return format{}, &weather.FileError{File: name, Err: err}
	}
	bare := bytes.TrimPrefix(head, []byte("\xef\xbb\xbf"))
	for _, f := range formats() {
		if !f.is(bare) {
			continue
		}
		if f.why != "" {
			return f, &weather.FileError{File: name, Err: errors.New(f.why)}
		}
		return f, nil
	}
	return format{}, &weather.FileError{File: name, Line: 1, Err: errUnknown}
}

var errUnknown = errors.New("unknown format: no EPW, TMY3, PSM or POWER header, no grid, and no line of columns with lat, lon and month")
