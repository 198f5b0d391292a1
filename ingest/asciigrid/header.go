package asciigrid

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"stillrow/ingest/weather"
)

// header reads the keys and their values up to the first value of the grid.
func (g *Raster) header(s *scanner) error {
	keys := map[string]float64{}
	for {
		w, err := s.peek()
		if err == io.EOF {
			break
		}
		if err != nil {
			return err
		}
		if c := w[0]; !(c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z') || isNaN(w) {
			break
		}
		key := strings.ToLower(string(w))
		s.next() // what peek has seen
		switch key {
		case "xllcentre", "yllcentre":
			key = key[:3] + "center"
		case "ncols", "nrows", "xllcorner", "yllcorner", "xllcenter", "yllcenter", "cellsize", "dx", "dy", "nodata_value":
		default:
			return s.fail(clip(w), errors.New("not a key of an ESRI ASCII grid"))
		}
		if _, twice := keys[key]; twice {
			return s.fail(key, errors.New("given twice"))
		}
		v, err := s.next()
		if err == io.EOF {
			return s.fail(key, errors.New("no value"))
		}
		if err != nil {
			return err
		}
		n, err := s.number(v)
		if err != nil {
			var broken *weather.FileError
			if errors.As(err, &broken) {
				broken.Field = key
			}
			return err
		}
		keys[key] = n
	}
	missing := func(key string) error {
		return &weather.FileError{File: g.Name, Field: key, Err: errors.New("missing in the header")}
	}
	for key, to := range map[string]*int{"ncols": &g.Width, "nrows": &g.Height} {
		v, ok := keys[key]
		if !ok {
			return missing(key)
		}
		if v != math.Trunc(v) || v < 1 || v > Most {
			return &weather.FileError{File: g.Name, Field: key, Err: fmt.Errorf("%g, want a whole number from 1 to %d", v, Most)}
		}
		*to = int(v)
	}
	if v, ok := keys["nodata_value"]; ok {
		g.noData = v
	}
	step := func(key string) (float64, error) {
		v, ok := keys[key]
		if !ok {
			key = "cellsize"
			v, ok = keys[key]
		}
		switch {
		case !ok:
			return 0, missing(key)
		case !(v > 0) || math.IsInf(v, 0):
			return 0, &weather.FileError{File: g.Name, Field: key, Err: fmt.Errorf("%g, want above 0", v)}
		}
		return v, nil
	}
	dx, err := step("dx")
	if err != nil {
		return err
	}
	dy, err := step("dy")
	if err != nil {
		return err
	}
	centre := func(axis string, step float64) (float64, error) {
		corner, isCorner := keys[axis+"llcorner"]
		at, isCentre := keys[axis+"llcenter"]
		switch {
		case isCorner && isCentre:
			return 0, &weather.FileError{File: g.Name, Field: axis + "llcenter", Err: errors.New("given beside " + axis + "llcorner")}
		case isCorner:
			return corner + step/2, nil
		case isCentre:
			return at, nil
		}
		return 0, missing(axis + "llcorner")
	}
	x, err := centre("x", dx)
	if err != nil {
		return err
	}
	y, err := centre("y", dy)
	if err != nil {
		return err
	}
	return g.centres(x, y, dx, dy)
}
