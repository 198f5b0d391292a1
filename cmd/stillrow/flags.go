package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"

	"stillrow/cmd/stillrow/study"
	"stillrow/data"
	"stillrow/ingest"
	"stillrow/simulate/collector"
	"stillrow/simulate/sun"
)

// Flags that several commands share.
type (
	studyFlag struct {
		Study *string `help:"Study file (TOML); without it the built-in study, which 'stillrow example study' prints." placeholder:"FILE"`
	}
	workersFlag struct {
		Workers int `help:"Sites at a time; 0 means one per processor." default:"0"`
	}
	quietFlag struct {
		Quiet bool `help:"No progress and no notes on stderr, only warnings and errors."`
	}
	workFlags struct {
		workersFlag
		quietFlag
		Memory string `help:"Memory to work in, with K, M or G." default:"1G" placeholder:"SIZE"`
	}
	clockFlag struct {
		Clock string `help:"closed: prove each month's clock by GHI = DNI·sz + DHI and shift it where need be; stamped: take the data set's convention." enum:"closed,stamped" default:"closed"`
	}
	jsonFlag struct {
		JSON bool `name:"json" help:"Results as JSON, numbers unrounded."`
	}
	outFlag struct {
		Out string `help:"Output folder." default:"stillrow-out" placeholder:"DIR"`
	}
	tilesFlag struct {
		Tiles bool `help:"Also write map.pmtiles, all maps as vector tiles in one archive."`
	}
	designFlag struct {
		Design string `help:"Design as JSON with the geometry names, e.g. '{\"mirror_tilt_deg\":80}'; what it leaves out comes from the study's first candidate." placeholder:"JSON"`
	}
)

func (w workersFlag) check() error {
	if w.Workers < 0 {
		return usagef("--workers=%d: want 0 or more", w.Workers)
	}
	return nil
}

func (c clockFlag) clock() ingest.Clock {
	if c.Clock == "stamped" {
		return ingest.Stamped
	}
	return ingest.Closed
}

// builtIn is the name of the built-in study in messages and run.json.
const builtIn = "halvane/study.toml"

// load reads the study, or the built-in one; book fills what it leaves out
// unless it names another.
func (s studyFlag) load(book string) (*study.Study, error) {
	file, text, err := s.text()
	if err != nil {
		return nil, err
	}
	return study.Load(file, text, data.FS, book)
}

// text reads the study file, or the built-in one.
func (s studyFlag) text() (file string, text []byte, err error) {
	if s.Study == nil {
		text, err = data.FS.ReadFile(builtIn)
		return "built-in " + builtIn, text, err
	}
	if *s.Study == "" {
		return "", nil, usagef("--study: want the name of a file")
	}
	f, err := os.Open(*s.Study)
	if err == nil {
		defer f.Close() // only read from
		// What is too long is refused by its size, which a pipe does not have.
		if info, err := f.Stat(); err == nil && info.Size() > study.MostText {
			return "", nil, usagef("--study: %s: %d bytes, want at most %d", *s.Study, info.Size(), study.MostText)
		}
		text, err = io.ReadAll(io.LimitReader(f, study.MostText+1))
	}
	if err != nil {
		return "", nil, usageError{fmt.Errorf("--study: %w", err)}
	}
	return *s.Study, text, nil
}

// study names the study file, empty for the built-in study.
func (s studyFlag) study() string {
	if s.Study == nil {
		return ""
	}
	return *s.Study
}

// pick gives the study's first candidate with the values of --design put in.
func (d designFlag) pick(s *study.Study) (collector.Design, error) {
	design := s.Designs[0]
	if d.Design == "" {
		return design, nil
	}
	dec := json.NewDecoder(strings.NewReader(d.Design))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&design); err != nil {
		return design, usagef("--design: %s", jsonProblem(err))
	}
	if _, err := dec.Token(); err != io.EOF {
		return design, usagef("--design: more than one JSON value")
	}
	if err := spelled(d.Design); err != nil {
		return design, err
	}
	if err := design.Validate(); err != nil {
		return design, usagef("--design: %v", err)
	}
	return design, nil
}

// spelled refuses what the JSON decoder lets pass: null, and geometry names in
// capitals.
func spelled(object string) error {
	var given map[string]*float64
	if err := json.Unmarshal([]byte(object), &given); err != nil {
		return usagef("--design: %s", jsonProblem(err))
	}
	if given == nil {
		return usagef("--design: null, want an object such as {\"mirror_tilt_deg\":80}")
	}
	for _, name := range slices.Sorted(maps.Keys(given)) {
		switch {
		case name != strings.ToLower(name):
			return usagef("--design: unknown field %q: is %s meant?", name, strings.ToLower(name))
		case given[name] == nil:
			return usagef("--design: %s = null, want a number", name)
		}
	}
	return nil
}

// jsonProblem says what is wrong with a JSON object of numbers.
func jsonProblem(err error) string {
	var kind *json.UnmarshalTypeError
	switch {
	case errors.As(err, &kind) && kind.Field != "":
		return fmt.Sprintf("%s is a JSON %s, want a number", kind.Field, kind.Value)
	case errors.As(err, &kind):
		return fmt.Sprintf("a JSON %s, want an object such as {\"mirror_tilt_deg\":80}", kind.Value)
	case err == io.EOF, err == io.ErrUnexpectedEOF:
		return "the JSON object has no end"
	}
	return strings.TrimPrefix(err.Error(), "json: ")
}

// An at is a place on the command line, LAT,LON.
type at struct{ lat, lon float64 }

func parseAt(text string) (at, error) {
	lat, lon, ok := strings.Cut(text, ",")
	var p at
	var err1, err2 error
	if ok {
		p.lat, err1 = strconv.ParseFloat(strings.TrimSpace(lat), 64)
		p.lon, err2 = strconv.ParseFloat(strings.TrimSpace(lon), 64)
	}
	switch {
	case !ok || err1 != nil || err2 != nil:
		return p, usagef("--at=%s: want LAT,LON in degrees, such as 35.5,-41", text)
	case !(math.Abs(p.lat) <= 90):
		return p, usagef("--at=%s: latitude %g, want -90 to 90", text, p.lat)
	case !(math.Abs(p.lon) <= 360):
		return p, usagef("--at=%s: longitude %g, want -180 to 180", text, p.lon)
	}
	p.lon = math.Remainder(p.lon, 360)
	return p, nil
}

func (p at) place() sun.Place {
	return sun.NewPlace(sun.Angle(p.lat)*sun.Degree, sun.Angle(p.lon)*sun.Degree)
}

// writeJSON writes one indented value; numbers keep all their digits.
func writeJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}
