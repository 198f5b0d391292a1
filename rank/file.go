package rank

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"path/filepath"
	"runtime"
	"sync/atomic"

	"github.com/paulmach/orb"
	"golang.org/x/sync/errgroup"

	"stillrow/data/outfile"
	"stillrow/rank/geojson"
	"stillrow/rank/geoparquet"
	"stillrow/rank/survey"
	"stillrow/simulate/result"
)

// A file is an output and what writes it.
type file struct {
	name  string
	write func(io.Writer) error
}

// files are all outputs.
func (k *Ranker) files(ctx context.Context, s *Summary, bands []Band, rules []TiltRule) (list []file) {
	for i, name := range k.names {
		list = append(list, file{name, func(w io.Writer) error { return writeMap(w, k.survey, i) }})
	}
	if k.o.Pictures {
		list = append(list, k.drawings(bands)...)
	}
	if k.o.Tiles {
		list = append(list, k.tiles(ctx))
	}
	return append(list,
		file{RankingFile, func(w io.Writer) error { return writeRanking(w, k.survey, k.o.Fingerprint) }},
		file{BandsFile, func(w io.Writer) error { return writeSheet(w, bandColumns, bands) }},
		file{TiltsFile, func(w io.Writer) error { return writeSheet(w, ruleColumns, rules) }},
		file{ColumnsFile, func(w io.Writer) error { return writeColumns(w, columns(k.o.Currency, k.o.Tiles, k.o.Columns)) }},
	)
}

// writeAll writes files into a folder, as many at a time as there are workers, of
// which no more than processors are of use. None has its name before all are complete, and none where ctx ends
// before.
func writeAll(ctx context.Context, dir string, files []file, workers int, progress func(done, of int)) error {
	outs := make([]*outfile.File, len(files))
	defer func() {
		for _, out := range outs {
			if out != nil {
				out.Abort()
			}
		}
	}()
	if progress == nil {
		progress = func(int, int) {}
	}
	progress(0, len(files))
	var written atomic.Int64
	group, ctx := errgroup.WithContext(ctx)
	processors := runtime.GOMAXPROCS(0)
	if workers <= 0 || workers > processors {
		workers = processors
	}
	group.SetLimit(workers)
	for i, f := range files {
		group.Go(func() error {
			path := filepath.Join(dir, f.name)
			var err error
			if outs[i], err = outfile.Create(path); err != nil {
				return err
			}
			w := bufio.NewWriterSize(&interruptible{ctx, outs[i]}, 1<<16)
			if err := firstOf(f.write(w), w.Flush); err != nil {
				return fmt.Errorf("%s: %w", path, err)
			}
			progress(int(written.Add(1)), len(files))
			return nil
		})
	}
	if err := group.Wait(); err != nil {
		return err
	}
	for _, out := range outs {
		if err := out.Commit(); err != nil {
			return err
		}
	}
	return nil
}

// An interruptible writer refuses to write when its context has ended.
type interruptible struct {
	ctx context.Context
	io.Writer
}

func (w *interruptible) Write(p []byte) (int, error) {
	if err := w.ctx.Err(); err != nil {
		return 0, err
	}
	return w.Writer.Write(p)
}

// writeMap writes a layer as GeoJSON.
func writeMap(w io.Writer, s *survey.Survey, layer int) error {
	l := &s.Layers[layer]
	m, err := geojson.NewWriter(w, map[string]any{"currency": s.Currency, "use": l.Use, "outlet_c": l.Outlet})
	if err != nil {
		return err
	}
	err = s.Each(layer, func(i int, f *survey.Finding) error {
		p := s.Place(i)
		r := rowOf(s, l, p, f)
		return m.Write(geojson.Feature{ID: p.ID, Geometry: s.Shape(i), Properties: r.mark()})
	})
	return firstOf(err, m.Close)
}

// writeRanking writes all layers as GeoParquet: the places along a curve that
// keeps neighbours together, the rows of a place as the layers come.
func writeRanking(w io.Writer, s *survey.Survey, fingerprint string) error {
	metadata := map[string]string{"stillrow.currency": s.Currency}
	if fingerprint != "" {
		metadata[result.KeyFingerprint] = fingerprint
	}
	out := geoparquet.NewWriter(w, func(r *row) *geoparquet.Shape { return &r.Shape },
		metadata)
	order := geoparquet.Order(s.Len(), func(i int) orb.Point { return orb.Point{s.Place(i).Lon, s.Place(i).Lat} })
	var f survey.Finding
	for _, i := range order {
		p, shape := s.Place(int(i)), s.Shape(int(i))
		for l := range s.Layers {
			if err := s.At(l, int(i), &f); err != nil {
				return err
			}
			if err := out.Write(rowOf(s, &s.Layers[l], p, &f), shape); err != nil {
				return err
			}
		}
	}
	return out.Close()
}

// firstOf gives err, or without one what then comes to.
func firstOf(err error, then func() error) error {
	if err != nil {
		return err
	}
	return then()
}
