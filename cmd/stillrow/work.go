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
	return w.each(e, store, out, all, quiet, w.take)
}

// each does the parts of a list that are not in the store, puts them there, and
// hands all of them to then, in order. It says of the work, by its name, what an
// earlier run left of it.
func (w *work) each(e *env, store *partstore.Store, name string, list []int, quiet bool, then func(*piece) error) error {
	progress, end := e.progress("simulate", quiet)
	defer end()
	earlier, err := newLeftovers(e.ctx, store, list)
	if err != nil {
		return err
	}
	notes := e.notes(quiet)
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
		if earlier.seen(k, err) {
			earlier.tell(notes, name, len(list))
		}
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

// leftovers are what an earlier run left: parts that are taken over, and others.
// They are counted as they are loaded, so that each is read once.
type leftovers struct {
	mu          sync.Mutex
	unseen      map[int]bool
	kept, other int
}

// newLeftovers finds the parts of a list that are there before any is done.
func newLeftovers(ctx context.Context, store *partstore.Store, list []int) (*leftovers, error) {
	numbers, err := store.Numbers(ctx)
	there := make(map[int]bool)
	for _, k := range numbers {
		there[k] = true
	}
	l := &leftovers{unseen: make(map[int]bool)}
	for _, k := range list {
		if there[k] {
			l.unseen[k] = true
		}
	}
	return l, err
}

// seen notes what came of loading part k, and tells whether it was the last one
// that there was to see.
func (l *leftovers) seen(k int, err error) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if !l.unseen[k] {
		return false
	}
	delete(l.unseen, k)
	switch {
	case err == nil:
		l.kept++
	case !errors.Is(err, partstore.ErrMissing):
		l.other++
	}
	return len(l.unseen) == 0
}

// tell says what there was to go on from, of so many parts.
func (l *leftovers) tell(notes io.Writer, name string, parts int) {
	if l.kept > 0 {
		fmt.Fprintf(notes, "%s: going on after an earlier run, which finished %d of %s\n", name, l.kept, count(parts, "part"))
	}
	if l.other > 0 {
		fmt.Fprintf(notes, "%s: %s of an earlier run not taken over, being damaged or of another study, other weather or another build of the program\n", name, count(l.other, "part"))
	}
}

// dropParts removes what was kept when the run is complete.
func dropParts(out string) error {
	dir := filepath.Join(out, partsFolder)
	err := partstore.New(bucket.Folder(dir), "", partstore.Key{}).Remove(context.Background())
	os.Remove(dir) // if nothing else is in it
	return err
}
