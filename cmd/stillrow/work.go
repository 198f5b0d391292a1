package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"

	"stillrow/cmd/stillrow/study"
	"stillrow/data/inorder"
	"stillrow/data/partstore"
	"stillrow/ingest/weather"
	"stillrow/rank"
	"stillrow/simulate"
	"stillrow/simulate/result"
)

// A work is the long part of a run: the sites of a weather table in parts of
// consecutive ones, each simulated, and ranked, by itself. A part that is
// finished is kept in a folder, so that the same run goes on where it was ended.
// How the sites are cut and who computed them makes no difference to results.
type work struct {
	plan   *simulate.Plan
	table  *weather.Table
	ranker *rank.Ranker   // nil: not ranked
	heat   *result.Writer // nil: not written
	store  *partstore.Store
	size   int // sites of a part
}

// partsFolder is where finished parts lie until the run is complete, in the
// output folder.
const partsFolder = ".unfinished"

// Sites of a part: as many as take a worker some seconds, but of a small table
// fewer, lest workers wait for the last one, and fewer where the heat of all
// designs is kept beside what it comes to.
const (
	mostPartSites     = 128
	mostHeatPartSites = 32
	leastParts        = 32
)

func sitesOfPart(sites int, heat bool) int {
	most := mostPartSites
	if heat {
		most = mostHeatPartSites
	}
	return max(1, min(most, sites/leastParts))
}

// A piece is what the sites of a part come to.
type piece struct {
	sites  int
	batch  *rank.Batch
	blocks []*result.Block
}

// key is the digest of all that decides what is in a part: the build of the
// program, the command with the study as resolved, and the weather.
func (w *work) key(r *runRecord) (partstore.Key, error) {
	program, err := programDigest()
	if err != nil {
		return partstore.Key{}, err
	}
	files, err := weather.Files(w.table.Dir())
	if err != nil {
		return partstore.Key{}, err
	}
	// The site table names the hours' files by their digests.
	sites, err := inputFiles(w.table.Dir(), files[:1])
	if err != nil {
		return partstore.Key{}, err
	}
	var within string
	if r.Within != nil {
		within = r.Within.SHA256
	}
	var text bytes.Buffer
	err = writeJSON(&text, struct {
		Program, Command, Weather, Within string
		Settings                          []study.Setting
		Books                             []bookRecord
		Sites                             int // of a part
		Heat                              bool
	}{program, r.Command, sites[0].SHA256, within, r.Settings, r.Books, w.size, w.heat != nil})
	return partstore.Digest(text.Bytes()), err
}

// programDigest tells builds of the program apart: parts of another build might
// differ in a bit.
var programDigest = sync.OnceValues(func() (string, error) {
	path, err := os.Executable()
	if err != nil {
		return "", err
	}
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close() // only read from
	sum := sha256.New()
	if _, err := io.Copy(sum, f); err != nil {
		return "", fmt.Errorf("%s: %w", path, err)
	}
	return fmt.Sprintf("%s %x", version, sum.Sum(nil)), nil
})

// parts is how many parts there are.
func (w *work) parts() int { return (len(w.table.Sites) + w.size - 1) / w.size }

// span gives the sites of part k, from first to before end.
func (w *work) span(k int) (first, end int) {
	return k * w.size, min((k+1)*w.size, len(w.table.Sites))
}

// run does the parts that no earlier run has kept in out, and hands all of them
// on in order.
func (w *work) run(e *env, out string, record *runRecord, f *workFlags) error {
	w.size = sitesOfPart(len(w.table.Sites), w.heat != nil)
	key, err := w.key(record)
	if err != nil {
		return err
	}
	w.store = partstore.Open(filepath.Join(out, partsFolder), key)
	if err := w.tellKept(out, e.notes(f.Quiet)); err != nil {
		return err
	}
	progress, end := e.progress("simulate", f.Quiet)
	defer end()
	var mu sync.Mutex
	done := 0
	step := func(sites int) {
		mu.Lock()
		defer mu.Unlock()
		if done += sites; progress != nil {
			progress(done, len(w.table.Sites))
		}
	}
	return inorder.Run(e.ctx, w.plan.Workers, w.parts(), func(ctx context.Context, k int) (*piece, error) {
		p, err := w.load(k)
		if err != nil {
			return nil, err
		}
		if p != nil {
			step(p.sites)
			return p, nil
		}
		if p, err = w.do(ctx, k, func() { step(1) }); err != nil {
			return nil, err
		}
		return p, w.save(k, p)
	}, func(_ int, p *piece) error { return w.take(p) })
}

// do simulates and ranks the sites of part k.
func (w *work) do(ctx context.Context, k int, step func()) (*piece, error) {
	p := new(piece)
	if w.ranker != nil {
		p.batch = w.ranker.Batch()
	}
	first, end := w.span(k)
	err := w.plan.Sites(ctx, w.table, first, end, func(b *result.Block) error {
		if w.heat != nil {
			p.blocks = append(p.blocks, b)
		}
		p.sites++
		step()
		if p.batch == nil {
			return nil
		}
		return p.batch.Add(b)
	})
	return p, err
}

// save keeps part k.
func (w *work) save(k int, p *piece) error {
	var text bytes.Buffer
	for _, b := range p.blocks {
		text.Write(b.AppendPacked(text.AvailableBuffer()))
	}
	if p.batch != nil {
		if err := p.batch.Save(&text); err != nil {
			return err
		}
	}
	if err := w.store.Save(k, text.Bytes()); err != nil {
		return fmt.Errorf("keep what is finished: %w", err)
	}
	return nil
}

// load gives part k as it was kept, nil where it has to be done.
func (w *work) load(k int) (*piece, error) {
	text, err := w.store.Load(k)
	switch {
	case errors.Is(err, partstore.ErrMissing), errors.Is(err, partstore.ErrDamaged), errors.Is(err, partstore.ErrOther):
		return nil, nil
	case err != nil:
		return nil, err
	}
	first, end := w.span(k)
	p := &piece{sites: end - first}
	if w.heat != nil {
		t := w.plan.Table()
		for i := first; i < end; i++ {
			b := &result.Block{Site: result.Site(w.table.Sites[i])}
			if text, err = b.Unpack(text, &t); err != nil {
				return nil, fmt.Errorf("part %d of what is finished: %w", k, err)
			}
			p.blocks = append(p.blocks, b)
		}
	}
	if w.ranker != nil {
		if p.batch, err = w.ranker.Load(bytes.NewReader(text)); err != nil {
			return nil, fmt.Errorf("part %d of what is finished: %w", k, err)
		}
	}
	return p, nil
}

// take hands a part on.
func (w *work) take(p *piece) error {
	for _, b := range p.blocks {
		if err := w.heat.Append(b); err != nil {
			return err
		}
	}
	if p.batch == nil {
		return nil
	}
	return w.ranker.Take(p.batch)
}

// tellKept says what of an earlier run there is to go on from.
func (w *work) tellKept(out string, notes io.Writer) error {
	n, err := w.store.Len()
	if err != nil || n == 0 {
		return err
	}
	kept, other := 0, 0
	for k := range w.parts() {
		switch _, err := w.store.Load(k); {
		case err == nil:
			kept++
		case !errors.Is(err, partstore.ErrMissing):
			other++
		}
	}
	if kept > 0 {
		fmt.Fprintf(notes, "%s: going on after an earlier run, which finished %d of %s\n", out, kept, count(w.parts(), "part"))
	}
	if other > 0 {
		fmt.Fprintf(notes, "%s: %s of an earlier run not taken over, being damaged or of another study, other weather or another build of the program\n", out, count(other, "part"))
	}
	return nil
}

// dropParts removes what was kept when the run is complete.
func dropParts(out string) error {
	return partstore.Open(filepath.Join(out, partsFolder), partstore.Key{}).Remove()
}
