package ingest

import (
	"bufio"
	"bytes"
	"errors"
	"io"

	"stillrow/ingest/epw"
	"stillrow/ingest/tmy3"
	"stillrow/ingest/weather"
)

// A format is a file format: how its first bytes look, and its parser, or why
// such a file is not read.
type format struct {
	is    func(head []byte) bool
	parse func(name string, r io.Reader) (*weather.Raw, error)
	why   string
}

// sniff is how many bytes of a file are looked at to tell its format.
const sniff = 4096

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
		{is: starts("LOCATION,"), parse: epw.Parse},
		{is: isTMY3, parse: tmy3.Parse},
		{is: starts("\x1f\x8b"), why: "compressed (gzip); unpack it first"},
		{is: starts("PK\x03\x04"), why: "a zip archive or spreadsheet; unpack it or save it as CSV first"},
		{is: starts("\xd0\xcf\x11\xe0"), why: "an old spreadsheet; save it as CSV first"},
		{is: starts("CDF\x01", "CDF\x02", "CDF\x05", "\x89HDF"), why: "a NetCDF or HDF5 grid, which is not read"},
		{is: starts("PAR1"), why: "a Parquet file; a finished weather table goes to simulate as its folder"},
		{is: starts("-BEGIN HEADER-", "YEAR,MO,DY,HR"), why: "a NASA POWER table, which is not read"},
		{is: starts("Source,Location ID,"), why: "an NSRDB PSM table, which is not read"},
		{is: starts("<!DOCTYPE", "<html", "<?xml"), why: "a web page or XML, no weather table; a failed download?"},
		{is: starts("\xff\xfe", "\xfe\xff"), why: "text in UTF-16; save it as UTF-8"},
		{is: isBinary, why: "binary content of an unknown format"},
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

// parse recognises the format of a file and reads it.
func parse(name string, r *bufio.Reader) (*weather.Raw, error) {
	head, err := r.Peek(sniff)
	if err != nil && err != io.EOF {
		return nil, &weather.FileError{File: name, Err: err}
	}
	bare := bytes.TrimPrefix(head, []byte("\xef\xbb\xbf"))
	for _, f := range formats() {
		if !f.is(bare) {
			continue
		}
		if f.parse == nil {
			return nil, &weather.FileError{File: name, Err: errors.New(f.why)}
		}
		return f.parse(name, r)
	}
	return nil, &weather.FileError{File: name, Line: 1, Err: errUnknown}
}

var errUnknown = errors.New("unknown format: neither EPW's LOCATION line nor a TMY3 station line with the column names below it")
