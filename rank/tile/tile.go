// Package tile writes a survey as an archive of vector tiles, for mapping tools
// that fetch the part of a map they show.
//
// An archive has one tile layer for every layer of the survey, and zooms from 0
// to that at which the finest cells are 8 to 16 of a tile's 256 pixels wide, or
// deeper where a tile would have too many of them. There every place is a
// feature: a cell its outline, a station a point. At each zoom before, squares of
// twice the size take the place of the cells in them; a square is as large as its
// cells reach, and stations in it are one point at their mean position. What its
// properties then mean says Properties.
//
// Tiles are in web Mercator, which ends at 85.0511° of latitude: cells are cut
// there, and what lies beyond is in no tile. The same survey gives the same
// bytes, whatever the number of workers.
package tile

import (
	"fmt"
	"io"
	"runtime"

	"stillrow/rank/pmtiles"
	"stillrow/rank/survey"
)

// Options say how to write an archive.
type Options struct {
	Title  string   // the study's name
	Source string   // one line: where the weather comes from
	Names  []string // of the tile layers, one for each layer of the survey; different ones
	Dir    string   // folder of the scratch files, which are gone in the end

	Workers     int          // at most so many layers at a time; 0: as many as processors
	Interrupted func() error // asked often, an error ends the work; may be nil
}

// Write writes the archive. Memory grows with the number of places, some 150
// bytes each and 100 for every worker, and not with that of layers, whose tiles
// wait in a scratch file.
func Write(w io.Writer, s *survey.Survey, o Options) error {
	if err := write(w, s, o); err != nil {
		return fmt.Errorf("tiles: %w", err)
	}
	return nil
}

func write(w io.Writer, s *survey.Survey, o Options) error {
	if len(o.Names) != len(s.Layers) {
		return fmt.Errorf("%d names, want one for each of %d layers", len(o.Names), len(s.Layers))
	}
	if o.Workers <= 0 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	if o.Interrupted == nil {
		o.Interrupted = func() error { return nil }
	}
	p := newPyramid(s)
	scratch, err := newParts(o.Dir, len(s.Layers), p.tiles())
	if err != nil {
		return err
	}
	defer scratch.close()
	if err := p.encode(s, &o, scratch); err != nil {
		return err
	}
	archive, err := pmtiles.NewWriter(o.Dir)
	if err != nil {
		return err
	}
	defer archive.Close()
	if err := p.join(&o, scratch, archive); err != nil {
		return err
	}
	return archive.Finish(w, p.info(s, &o))
}
