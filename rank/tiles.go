package rank

import (
	"context"
	"io"
	"strings"

	"stillrow/rank/tile"
)

// TilesFile has all maps as vector tiles.
const TilesFile = "map.pmtiles"

// tiles is the archive of vector tiles; its layers are named as the map files
// are.
func (k *Ranker) tiles(ctx context.Context) file {
	o := tile.Options{Title: k.o.Title, Source: k.o.Source, Dir: k.o.Out, Workers: k.o.Workers, Interrupted: ctx.Err}
	for _, name := range k.names {
		o.Names = append(o.Names, strings.TrimPrefix(strings.TrimSuffix(name, mapSuffix), "map-"))
	}
	return file{TilesFile, func(w io.Writer) error { return tile.Write(w, k.survey, o) }}
}
