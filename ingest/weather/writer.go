package weather

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"golang.org/x/sync/errgroup"

	"stillrow/data/outfile"
)

// A Writer makes or changes a weather table, site by site. It is not safe for
// concurrent use.
//
// The hours lie in part files of up to PartSites sites, in row groups of up to 32,
// float32 values as dictionaries while these are small, all compressed with
// zstd. A page ends where a site does, so that reading a site reads no other;
// site_id has bounds, so that any reader after one site skips the other row
// groups. A part is named by the SHA-256 of its bytes and never changes. The
// site table names the parts, so replacing that one file makes the new table out
// of the old: before it the old table is whole, after it the new one, and parts
// that neither needs are swept up by the same or the next write.
//
// Values are rounded to 0.1 of their unit, which is ten times finer than weather
// files give irradiance and what they give the rest; without it, computed
// columns would take three times the space. Identical sites in identical order
// give identical bytes, whatever the number of processors.
type Writer struct {
	Fingerprint string // of what made the table, for the site table's metadata; empty for none

	dir     string
	columns []siteColumn
	old     *Table // that Update adds to, nil for none
	gone    map[string]bool
	found   os.FileInfo // the site table there was, nil for none

	sites []entry // appended; places count through all parts until Close
	ids   map[string]bool

	filling *rowGroup
	written int         // sites handed to filling
	part    *partWriter // of the row group to come
	groups  int         // of part, sent to be encoded
	spare   chan *rowGroup
	queue   chan *rowGroup // in the order of the file
	work    errgroup.Group // writes what comes out of queue
	broken  atomic.Bool    // work has failed
	adopted int            // sites whose hours lie in parts of an earlier run

	mu    sync.Mutex
	names []string // of the parts written
	made  []string // those of them that go with Abort

	failed error // nothing can follow it
}

// Create starts a table in dir, making the folder if need be. A table that is
// there stays until Close replaces it.
func Create(dir string) (*Writer, error) {
	return newWriter(dir, nil)
}

// Update opens the table in dir to add sites to it or replace them by site_id;
// where none is, it does what Create does. Parts that hold no replaced site stay
// as they are; the other sites of those that do are copied into new ones. The
// sites that stay come first, in their order, then those appended.
func Update(dir string) (*Writer, error) {
	if _, err := os.Lstat(filepath.Join(dir, sitesFile)); errors.Is(err, os.ErrNotExist) {
		return newWriter(dir, nil)
	}
	old, err := Open(dir)
	if err != nil {
		return nil, err
	}
	w, err := newWriter(dir, old)
	if err != nil {
		old.Close()
		return nil, err
	}
	return w, nil
}

func newWriter(dir string, old *Table) (*Writer, error) {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, fmt.Errorf("weather table: %w", err)
	}
	workers := runtime.GOMAXPROCS(0)
	w := &Writer{
		dir: dir, columns: siteColumns(), old: old, gone: make(map[string]bool), ids: make(map[string]bool),
		spare: make(chan *rowGroup, workers+1),
		// One more is in the hands of work: as many are encoded at a time as
		// there are processors.
		queue: make(chan *rowGroup, workers-1),
	}
	w.found, _ = os.Stat(filepath.Join(dir, sitesFile))
	queue := w.queue
	w.work.Go(func() error { return w.writeGroups(queue) })
	return w, nil
}

// ErrRefused marks the errors of Append that concern one site alone: the table
// can take others after them.
var ErrRefused = errors.New("refused by the weather table")

// Adopt takes over a part file that an earlier Writer of the same sites in the
// same order made and Keep spared: it holds the hours of the next sites to be
// appended, PartSites of them but in a table's last. It is false, and nothing is
// changed, where the file is not there or not as it was written. All calls come
// before the first Append, which then takes no year for these sites. Without a
// name it is true of no sites.
func (w *Writer) Adopt(name string, sites int) (bool, error) {
	if sites == 0 {
		return true, nil
	}
	if !partNamed.MatchString(name) {
		return false, nil
	}
	ok, err := intact(filepath.Join(w.dir, name))
	if err != nil {
		return false, fmt.Errorf("weather table: %w", err)
	}
	if ok {
		w.names = append(w.names, name)
		w.adopted += sites
	}
	return ok, nil
}

// Parts names the part files that are complete, in their order.
func (w *Writer) Parts() []string {
	w.mu.Lock()
	defer w.mu.Unlock()
	return slices.Clone(w.names)
}

// Keep spares a part file from Abort, for an Adopt of a later Writer.
func (w *Writer) Keep(name string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.made = slices.DeleteFunc(w.made, func(n string) bool { return n == name })
}

// Append adds a site and its year to the table; both are the caller's again
// when it returns. A site or year that does not fit (an identifier appended
// before, text that is not UTF-8, a year that is not valid) leaves the table as
// it was: the error is ErrRefused and names site, column and hour. After any
// other error, which may be that of a site before, nothing can follow.
func (w *Writer) Append(site Site, year *Year) error {
	if w.failed != nil {
		return w.failed
	}
	e := entry{Site: site, place: w.written}
	for _, c := range w.columns {
		if v, ok := c.of(&e).(*float64); ok {
			*v += 0 // −0 becomes 0: not all that keeps a site on its way here tells them apart
		}
	}
	err := checkSite(&e, w.columns)
	there := w.written < w.adopted
	if err == nil && !there {
		err = year.Validate()
	}
	if err == nil && w.ids[site.ID] {
		err = errors.New("site_id is there already")
	}
	if err != nil {
		return fmt.Errorf("%w: site %q: %w", ErrRefused, site.ID, err)
	}
	if w.old != nil {
		if i, ok := w.old.Find(site.ID); ok {
			w.gone[w.old.where[i].part.name] = true
		}
	}
	e.Flags = slices.Clone(site.Flags)
	w.sites = append(w.sites, e)
	w.ids[site.ID] = true
	if there {
		w.written++
		return nil
	}
	return w.appendHours(site.ID, year)
}

// Forget takes back sites appended before, as if they had never been: the table
// keeps those it had of their identifiers. Their hours may stay in a part file
// until it is written anew; no site refers to them.
func (w *Writer) Forget(ids []string) {
	gone := make(map[string]bool, len(ids))
	for _, id := range ids {
		gone[id] = true
		delete(w.ids, id)
	}
	w.sites = slices.DeleteFunc(w.sites, func(e entry) bool { return gone[e.ID] })
}

// appendHours hands a year on; a full row group goes to be encoded when another
// has to begin, so that Close knows the last one.
func (w *Writer) appendHours(id string, year *Year) error {
	if w.filling != nil && len(w.filling.ids) == groupSites {
		if err := w.send(false); err != nil {
			return err
		}
	}
	if w.filling == nil {
		select {
		case w.filling = <-w.spare:
		default:
			w.filling = newRowGroup()
		}
	}
	w.filling.add(id, year)
	w.written++
	return nil
}

// send has the row group encoded in the background; last ends the part with
// it.
func (w *Writer) send(last bool) error {
	if w.part == nil {
		if w.part, w.failed = newPart(w.dir); w.failed != nil {
			return w.failed
		}
		w.groups = 0
	}
	g := w.filling
	w.filling = nil
	w.groups++
	g.part, g.out, g.done = w.part, w.part.pq.BeginRowGroup(), make(chan error, 1)
	if g.last = last || w.groups == PartSites/groupSites; g.last {
		w.part = nil
	}
	w.queue <- g
	go func() { g.done <- g.encode() }()
	if w.broken.Load() {
		return w.stop()
	}
	return nil
}

// writeGroups puts encoded row groups into their parts, in order. After an
// error it only takes what comes, so that nobody waits for it.
func (w *Writer) writeGroups(queue <-chan *rowGroup) (failed error) {
	for g := range queue {
		err := <-g.done
		if failed == nil && err == nil {
			_, err = g.out.Commit()
		}
		if failed == nil && err == nil && g.last {
			var name string
			var made bool
			name, made, err = g.part.commit()
			if err == nil {
				w.mu.Lock()
				w.names = append(w.names, name)
				if made {
					w.made = append(w.made, name)
				}
				w.mu.Unlock()
			}
		}
		if failed == nil && err != nil {
			failed = fmt.Errorf("weather table: hours of %s: %w", w.dir, err)
			w.broken.Store(true)
		}
		if failed != nil {
			g.part.out.Abort()
		}
		g.ids = g.ids[:0]
		g.out, g.part = nil, nil
		select {
		case w.spare <- g:
		default:
		}
	}
	return failed
}

// stop ends the writing of row groups and keeps its error.
func (w *Writer) stop() error {
	if w.queue != nil {
		close(w.queue)
		w.queue = nil
		if err := w.work.Wait(); err != nil {
			w.failed = err
		}
	}
	return w.failed
}

// Close writes what is left, replaces the site table, and with it the table, and
// removes the parts nobody refers to any more. After an error the table is what
// it was before.
func (w *Writer) Close() error {
	defer w.Abort()
	if w.failed != nil {
		return w.failed
	}
	kept, err := w.copyRest()
	if err == nil && w.filling != nil {
		err = w.send(true)
	}
	if err == nil {
		err = w.stop()
	}
	if err != nil {
		return err
	}
	all := append(kept, w.sites...)
	for i := range all {
		if s := &all[i]; s.part == "" {
			s.part, s.place = w.names[s.place/PartSites], s.place%PartSites
		}
	}
	return w.commit(all)
}

// copyRest gives the sites of the old table that stay, and copies the hours of
// those whose part does not.
func (w *Writer) copyRest() (kept []entry, err error) {
	if w.old == nil {
		return nil, nil
	}
	for i, s := range w.old.Sites {
		if w.ids[s.ID] {
			continue
		}
		at := w.old.where[i]
		e := entry{s, at.part.name, at.place}
		if w.gone[e.part] {
			rec, err := w.old.Record(i)
			if err != nil {
				return nil, err
			}
			year, err := YearOf(rec)
			if err != nil {
				return nil, fmt.Errorf("weather table: site %q: %w", s.ID, err)
			}
			e.part, e.place = "", w.written
			if err := w.appendHours(s.ID, year); err != nil {
				return nil, err
			}
			rec.Release()
		}
		kept = append(kept, e)
	}
	return kept, nil
}

// commit replaces the site table, unless somebody else has meanwhile.
func (w *Writer) commit(sites []entry) error {
	path := filepath.Join(w.dir, sitesFile)
	if !sameFile(path, w.found) {
		return fmt.Errorf("weather table: %s was replaced by another write meanwhile; ingest again", path)
	}
	names := make(map[string]bool)
	for i := range sites {
		names[sites[i].part] = true
	}
	for name := range names {
		if _, err := os.Stat(filepath.Join(w.dir, name)); err != nil {
			return fmt.Errorf("weather table: a part was removed meanwhile: %w", err)
		}
	}
	out, err := outfile.Create(path)
	if err != nil {
		return fmt.Errorf("weather table: %w", err)
	}
	defer out.Abort()
	if err := writeSites(out, sites, w.columns, w.Fingerprint); err != nil {
		return fmt.Errorf("weather table: %s: %w", path, err)
	}
	if err := out.Commit(); err != nil {
		return fmt.Errorf("weather table: %w", err)
	}
	w.made = nil // the table's now
	w.release()
	sweep(w.dir, names)
	return nil
}

// release closes the old table: some systems remove no open file.
func (w *Writer) release() {
	if w.old != nil {
		w.old.Close() // only read from
		w.old = nil
	}
}

// Abort removes what has not been committed; it may always be deferred.
func (w *Writer) Abort() {
	_ = w.stop() // whatever failed, all goes
	if w.part != nil {
		w.part.out.Abort()
		w.part = nil
	}
	for _, name := range w.made {
		os.Remove(filepath.Join(w.dir, name)) // at worst the next write sweeps it up
	}
	w.made = nil
	w.release()
	w.failed = errors.New("weather table: closed")
}
