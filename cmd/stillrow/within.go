package main

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"path/filepath"

	"stillrow/cmd/stillrow/study"
	"stillrow/data/area"
	"stillrow/ingest"
	"stillrow/rank"
)

// withinFlag says where places must lie.
type withinFlag struct {
	Within string `help:"Keep the places inside the polygons of a GeoJSON file, and the grid cells that reach into them; maps show the part of a cell inside. Instead of the study's [map] within." placeholder:"AREA.geojson"`
}

// A region is where places must lie; nil for anywhere.
type region struct {
	*area.Area
	file string
	text []byte // of the file; nil: as it stands there
}

// region reads the area of the flag, else that of the study, which may be nil.
func (f withinFlag) region(s *study.Study) (*region, error) {
	switch {
	case f.Within != "":
		a, err := area.Read(f.Within)
		if err != nil {
			return nil, usageError{fmt.Errorf("--within: %w", err)}
		}
		return &region{a, f.Within, nil}, nil
	case s == nil || s.Within == nil:
		return nil, nil
	}
	a, err := s.Within.Open()
	if err != nil {
		return nil, err
	}
	return &region{a, s.Within.Path, nil}, nil
}

// keep serves as ingest's Within.
func (r *region) keep() ingest.Within {
	if r == nil {
		return nil
	}
	return r.Overlaps
}

// explain names the file of an area that no place lies in.
func (r *region) explain(err error) error {
	if r != nil && errors.Is(err, rank.ErrOutside) {
		return fmt.Errorf("%s: %w", r.file, err)
	}
	return err
}

// record states the file as inputs are stated.
func (r *region) record() (*tableFile, error) {
	if r == nil {
		return nil, nil
	}
	if r.text != nil {
		sum := sha256.Sum256(r.text)
		return &tableFile{filepath.ToSlash(r.file), int64(len(r.text)), hex.EncodeToString(sum[:])}, nil
	}
	list, err := inputFiles(filepath.Dir(r.file), []string{filepath.Base(r.file)})
	if err != nil {
		return nil, err
	}
	return &list[0], nil
}
