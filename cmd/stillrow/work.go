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
	"stillrow/data/bucket"
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
	blocks bool           // parts hold the heat of all designs
	heat   *result.Writer // of it; nil: not written here
	size   int            // sites of a part
}

// partsFolder is where finished parts lie until the run is complete, in the
// output folder.
const partsFolder = ".unfinished"

// Sites of a part: as many as take a worker a second or so, lest much is lost
// when a run is ended, in whole row groups of the weather table; of a small
// table fewer, lest workers wait for the last one.
const leastParts = 32

// sitesOfPart gives them for so many sites of so many designs and outlets, and
// whether the heat of all is kept beside what it comes to.
func sitesOfPart(sites, designs, outlets int, heat bool) int {
	most := 128
	switch rows := designs * outlets; {
	case heat, rows > 512:
		most = 32
	case rows > 128:
		most = 64
	}
	return max(1, min(most, sites/leastParts))
}

// A piece is what the sites of a part come to.
type piece struct {
	sites  int
	batch  *rank.Batch
	blocks []*result.Block
}

// tableDigest is that of the site table, which names the hours' files by theirs.
func tableDigest(dir string) (string, error) {
	files, err := weather.Files(dir)
	if err != nil {
		return "", err
	}
	sites, err := inputFiles(dir, files[:1])
	if err != nil {
		return "", err
	}
	return sites[0].SHA256, nil
}

// key is the digest of all that decides what is in a part: the build of the
// program, the command with the study as resolved, and the weather.
func (w *work) key(r *runRecord) (partstore.Key, error) {
	program, err := programDigest()
	if err != nil {
		return partstore.Key{}, err
	}
	table, err := tableDigest(w.table.Dir())
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
	}{program, r.Command, table, within, r.Settings, r.Books, w.size, w.blocks})
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
func (w *work) run(e *env, out string, record *runRecord, quiet bool) error {
	w.size = sitesOfPart(len(w.table.Sites), len(w.plan.Designs), len(w.plan.Outlets), w.blocks)
	key, err := w.key(record)
	if err != nil {
		return err
	}
	store := partstore.New(bucket.Folder(filepath.Join(out, partsFolder)), "", key)
	all := make([]int, w.parts())
	for k := range all {
		all[k] = k
	}
	if err := w.tellKept(e, store, out, all, quiet); err != nil {
		return err
	}
	return w.each(e, store, all, quiet, w.take)
}

// each does the parts of a list that are not in the store, puts them there, and
// hands all of them to then, in order.
func (w *work) each(e *env, store *partstore.Store, list []int, quiet bool, then func(*piece) error) error {
	progress, end := e.progress("simulate", quiet)
	defer end()
	total := 0
	for _, k := range list {
		first, end := w.span(k)
		total += end - first
	}
	var mu sync.Mutex
	done := 0
	step := func(sites int) {
		mu.Lock()
		defer mu.Unlock()
		if done += sites; progress != nil {
			progress(done, total)
		}
	}
	return inorder.Run(e.ctx, w.plan.Workers, len(list), func(ctx context.Context, i int) (*piece, error) {
		k := list[i]
		p, err := w.load(ctx, store, k)
		switch {
		case err == nil:
			step(p.sites)
			return p, nil
		case !absent(err):
			return nil, err
		}
		if p, err = w.do(ctx, k, func() { step(1) }); err != nil {
			return nil, err
		}
		return p, w.save(ctx, store, k, p)
	}, func(_ int, p *piece) error { return then(p) })
}

// absent tells that a part has to be done.
func absent(err error) bool {
	return errors.Is(err, partstore.ErrMissing) || errors.Is(err, partstore.ErrDamaged) || errors.Is(err, partstore.ErrOther)
}

// do simulates and ranks the sites of part k.
func (w *work) do(ctx context.Context, k int, step func()) (*piece, error) {
	p := new(piece)
	if w.ranker != nil {
		p.batch = w.ranker.Batch()
	}
	first, end := w.span(k)
	err := w.plan.Sites(ctx, w.table, first, end, func(b *result.Block) error {
		if w.blocks {
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
func (w *work) save(ctx context.Context, store *partstore.Store, k int, p *piece) error {
	var text bytes.Buffer
	for _, b := range p.blocks {
		text.Write(b.AppendPacked(text.AvailableBuffer()))
	}
	if p.batch != nil {
		if err := p.batch.Save(&text); err != nil {
			return err
		}
	}
	if err := store.Save(ctx, k, text.Bytes()); err != nil {
		return fmt.Errorf("keep what is finished: %w", err)
	}
	return nil
}

// load gives part k as it was kept.
func (w *work) load(ctx context.Context, store *partstore.Store, k int) (*piece, error) {
	text, err := store.Load(ctx, k)
	if err != nil {
		return nil, err
	}
	first, end := w.span(k)
	p := &piece{sites: end - first}
	if w.blocks {
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
	if w.ranker == nil {
		return nil
	}
	return w.ranker.Take(p.batch)
}

// tellKept says what of an earlier run there is to go on from.
func (w *work) tellKept(e *env, store *partstore.Store, out string, list []int, quiet bool) error {
	n, err := store.Len(e.ctx)
	if err != nil || n == 0 {
		return err
	}
	notes := e.notes(quiet)
	kept, other := 0, 0
	for _, k := range list {
		switch _, err := store.Load(e.ctx, k); {
		case err == nil:
			kept++
		case !errors.Is(err, partstore.ErrMissing):
			other++
		}
	}
	if kept > 0 {
		fmt.Fprintf(notes, "%s: going on after an earlier run, which finished %d of %s\n", out, kept, count(len(list), "part"))
	}
	if other > 0 {
		fmt.Fprintf(notes, "%s: %s of an earlier run not taken over, being damaged or of another study, other weather or another build of the program\n", out, count(other, "part"))
	}
	return nil
}

// dropParts removes what was kept when the run is complete.
func dropParts(out string) error {
	dir := filepath.Join(out, partsFolder)
	err := partstore.New(bucket.Folder(dir), "", partstore.Key{}).Remove(context.Background())
	os.Remove(dir) // if nothing else is in it
	return err
}
