package ingest

import (
	"bytes"
	"context"
	"encoding/gob"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"stillrow/data/bucket"
	"stillrow/data/partstore"
	"stillrow/ingest/repair"
	"stillrow/ingest/weather"
)

// A journal is what became of the places that are done with, so that a run that
// is ended need not do them again: for each part file of hours that the table has
// complete, the outcomes up to its last site. The hours themselves are in that
// file, which stays when the run is ended.
type journal struct {
	ctx      context.Context // of the run
	store    *partstore.Store
	replay   []outcome // of an earlier run, in order
	pending  []outcome // since the last part
	closed   [][]outcome
	saved    int // parts in the store
	appended int // sites
	off      bool
}

// An outcome is a finished place without its hours, as a file has it.
type outcome struct {
	Input          int
	ID             string
	Site           weather.Site // before it got an identifier of its own
	Report         repair.Report
	Empty, Outside bool
	Err            *savedError
	Refused        string // by the table
	Size           int64  // of an input that is one place
	SHA256         string
}

// A savedError is an error as text, and if there is one in it, the place in a
// file it is about.
type savedError struct {
	Text        string
	Located     bool
	File, Field string
	Line        int
	Reason      string
}

func saveError(err error) *savedError {
	if err == nil {
		return nil
	}
	s := &savedError{Text: err.Error()}
	var f *weather.FileError
	if errors.As(err, &f) {
		s.Located, s.File, s.Field, s.Line, s.Reason = true, f.File, f.Field, f.Line, f.Err.Error()
	}
	return s
}

// err gives an error of the same text, located alike.
func (s *savedError) err() error {
	if s == nil {
		return nil
	}
	again := &toldError{text: s.Text}
	if s.Located {
		again.file = &weather.FileError{File: s.File, Line: s.Line, Field: s.Field, Err: errors.New(s.Reason)}
		if again.file.Error() == s.Text {
			return again.file
		}
	}
	return again
}

// A toldError is an error of an earlier run.
type toldError struct {
	text string
	file error // *weather.FileError, nil for none
}

func (e *toldError) Error() string { return e.text }
func (e *toldError) Unwrap() error { return e.file }

// A part of the journal goes with one part file of the table.
type journalPart struct {
	Hours    string // name of the part file
	Sites    int    // in it
	Outcomes []outcome
}

// A Stamper is a Source that can say, without reading it, whether it is likely
// the same as before: with as many bytes, and changed when it was then.
type Stamper interface {
	Stamp() string
}

// Stamp gives size and time of change.
func (f *file) Stamp() string {
	info, err := os.Stat(f.path)
	if err != nil {
		return bare(err).Error()
	}
	return fmt.Sprintf("%d %d", info.Size(), info.ModTime().UnixNano())
}

// newJournal opens what an earlier run of the same options kept, and hands its
// part files to the table.
func newJournal(ctx context.Context, o *Options, table *weather.Writer) (*journal, error) {
	if o.Key == nil {
		return &journal{off: true}, nil
	}
	texts := [][]byte{o.Key, fmt.Append(nil, o.Clock, o.Year, o.Stamp, o.Every, o.Update)}
	for _, s := range o.Sources {
		texts = append(texts, []byte(s.Name()))
		if st, ok := s.(Stamper); ok {
			texts = append(texts, []byte(st.Stamp()))
		}
	}
	j := &journal{store: openJournal(o.Out, partstore.Digest(texts...)), ctx: ctx}
	for k := 0; ; k++ {
		text, err := j.store.Load(ctx, k)
		switch {
		case errors.Is(err, partstore.ErrMissing), errors.Is(err, partstore.ErrDamaged), errors.Is(err, partstore.ErrOther):
			return j, nil
		case err != nil:
			return nil, err
		}
		var p journalPart
		if err := gob.NewDecoder(bytes.NewReader(text)).Decode(&p); err != nil {
			return nil, fmt.Errorf("part %d of what was ingested before: %w", k, err)
		}
		ok, err := table.Adopt(p.Hours, p.Sites)
		if err != nil {
			return nil, err
		}
		if !ok { // damaged or gone: that part has to be made again, and all after it
			return j, nil
		}
		j.replay = append(j.replay, p.Outcomes...)
		j.saved++
	}
}

// JournalFolder is where the journal lies, in the folder of the table.
const JournalFolder = ".unfinished"

func openJournal(dir string, key partstore.Key) *partstore.Store {
	return partstore.New(bucket.Folder(filepath.Join(dir, JournalFolder)), "", key)
}

// DropJournal removes what a run with a Key kept in the folder of its table.
func DropJournal(dir string) error {
	err := openJournal(dir, partstore.Key{}).Remove(context.Background())
	os.Remove(filepath.Join(dir, JournalFolder)) // if nothing else is in it
	return err
}

// again gives place k as an earlier run left it, nil where none did.
func (j *journal) again(k int, name string) *finished {
	if k >= len(j.replay) {
		return nil
	}
	o := &j.replay[k]
	return &finished{
		input: o.Input, name: name, id: o.ID, site: o.Site, report: o.Report, empty: o.Empty, outside: o.Outside,
		err: o.Err.err(), refused: o.Refused, again: true, size: o.Size, sum: o.SHA256,
	}
}

// add notes what became of a place. Site and err are as they were before the
// table took it; added says that it did.
func (j *journal) add(d *finished, site weather.Site, err error, added bool) {
	if j.off {
		return
	}
	j.pending = append(j.pending, outcome{
		Input: d.input, ID: d.id, Site: site, Report: d.report, Empty: d.empty, Outside: d.outside, Err: saveError(err),
		Refused: d.refused, Size: d.size, SHA256: d.sum,
	})
	if !added {
		return
	}
	if j.appended++; j.appended%weather.PartSites == 0 {
		j.closed = append(j.closed, j.pending)
		j.pending = nil
	}
}

// save keeps the parts of which the table has the hours on the disk. Names are
// those of all its part files so far.
func (j *journal) save(table *weather.Writer, names []string) error {
	for !j.off && j.saved < min(len(names), len(j.closed)) {
		if err := j.put(names[j.saved], weather.PartSites, j.closed[j.saved]); err != nil {
			return err
		}
		j.closed[j.saved] = nil
		table.Keep(names[j.saved])
		j.saved++
	}
	return nil
}

// end keeps what came after the last whole part, for a table that is complete
// and has no other sites.
func (j *journal) end(o *Options, table *weather.Writer) error {
	names := table.Parts()
	if err := j.save(table, names); err != nil || j.off || o.Update || len(j.pending) == 0 {
		return err
	}
	name, sites := "", j.appended%weather.PartSites
	if sites > 0 {
		name = names[len(names)-1]
	}
	return j.put(name, sites, j.pending)
}

func (j *journal) put(name string, sites int, list []outcome) error {
	var text bytes.Buffer
	if err := gob.NewEncoder(&text).Encode(&journalPart{name, sites, list}); err != nil {
		return err
	}
	if err := j.store.Save(j.ctx, j.saved, text.Bytes()); err != nil {
		return fmt.Errorf("keep what is ingested: %w", err)
	}
	return nil
}
