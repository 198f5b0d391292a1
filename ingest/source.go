package ingest

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"math"
	"os"

	"stillrow/ingest/climate"
	"stillrow/ingest/grid"
	"stillrow/ingest/series"
	"stillrow/ingest/weather"
)

// A Source is one input. Read gives the year of an input that is one place; of
// data of several years it takes the one given, or 0 a typical one. It is called
// once, from any goroutine; an error sets the source aside, and should be a
// *weather.FileError.
type Source interface {
	Name() string
	Read(ctx context.Context, year int) (*weather.Raw, error)
}

// A Spread is a Source that may hold many places. Open is called once, before
// any Read, and gives nil for one place, which Read then reads.
type Spread interface {
	Source
	Open(ctx context.Context) (*Content, error)
}

// A Content is what an input of many places holds: a grid, or the monthly means
// of places, with the errors of those that cannot be used.
type Content struct {
	Grid  *grid.File
	Cells []climate.Cell
	Bad   []error
}

// A Digester is a Source that can say, after it was read, how many bytes it has
// and their SHA-256 in hexadecimal; empty when it could not read them all.
type Digester interface {
	Digest() (size int64, sum string)
}

// file is a weather file on disk in one of the known formats.
type file struct {
	path   string
	size   int64
	sum    string
	summed chan struct{} // of a grid, closed when it has been summed
}

func (f *file) Name() string { return f.path }

func (f *file) Digest() (int64, string) {
	if f.summed != nil {
		<-f.summed
	}
	return f.size, f.sum
}

// Open looks whether the file holds many places. A grid stays open until its
// Close; its digest is worked out beside.
func (f *file) Open(ctx context.Context) (*Content, error) {
	in, err := f.open()
	if err != nil {
		return nil, nil // Read tells it
	}
	form, err := recognise(f.path, bufio.NewReaderSize(in, sniff))
	if err != nil || form.grid == nil && form.cells == nil {
		in.Close() // only read from
		return nil, nil
	}
	f.summed = make(chan struct{})
	go func() {
		defer close(f.summed)
		sum := &digest{ctx: ctx, r: io.NewSectionReader(in, 0, math.MaxInt64), sum: sha256.New()}
		if _, err := io.Copy(io.Discard, sum); err == nil {
			f.size, f.sum = sum.size, hex.EncodeToString(sum.sum.Sum(nil))
		}
		in.Close() // the parser has its own
	}()
	if form.cells != nil {
		return f.cells(form)
	}
	return f.grid(form)
}

func (f *file) cells(form format) (*Content, error) {
	in, err := f.open()
	if err != nil {
		return nil, err
	}
	defer in.Close()
	cells, err := form.cells(in, f.path)
	if len(cells) == 0 && err != nil {
		return nil, err
	}
	return &Content{Cells: cells, Bad: each(err)}, nil
}

func (f *file) grid(form format) (*Content, error) {
	in, err := f.open()
	if err != nil {
		return nil, err
	}
	info, err := in.Stat()
	if err != nil {
		in.Close()
		return nil, err
	}
	g, err := form.grid(in, info.Size(), f.path)
	if err != nil {
		in.Close()
		return nil, err
	}
	g.Close = in.Close
	return &Content{Grid: g}, nil
}

// Read recognises the format by the content and parses the file. A file set
// aside for its content is read to its end all the same, for its digest.
func (f *file) Read(ctx context.Context, year int) (*weather.Raw, error) {
	in, err := f.open()
	if err != nil {
		return nil, &weather.FileError{File: f.path, Err: err}
	}
	defer in.Close() // only read from: nothing to lose
	sum := &digest{ctx: ctx, r: in, sum: sha256.New()}
	r := bufio.NewReaderSize(sum, 1<<16)
	raw, err := f.parse(r, year)
	_, rest := io.Copy(io.Discard, r)
	switch {
	case ctx.Err() != nil:
		return nil, ctx.Err()
	case rest == nil:
		f.size, f.sum = sum.size, hex.EncodeToString(sum.sum.Sum(nil))
	case err == nil: // nobody knows what else stood there
		return nil, &weather.FileError{File: f.path, Err: bareRead(rest)}
	}
	return raw, err
}

func (f *file) parse(r *bufio.Reader, year int) (*weather.Raw, error) {
	form, err := recognise(f.path, r)
	switch {
	case err != nil:
		return nil, err
	case form.year != nil:
		return form.year(f.path, r)
	case form.series != nil:
		s, err := form.series(f.path, r)
		if err != nil {
			return nil, err
		}
		raw, err := s.Raw(series.Options{Year: year})
		return raw, inFile(err, f.path)
	}
	return nil, &weather.FileError{File: f.path, Err: errors.New("holds many places")}
}

// open opens what is a file with something in it. It looks before it opens:
// opening a pipe would wait for a writer.
func (f *file) open() (*os.File, error) {
	info, err := os.Stat(f.path)
	switch {
	case err != nil:
		return nil, bare(err)
	case info.IsDir():
		return nil, errors.New("a folder, not a file")
	case !info.Mode().IsRegular():
		return nil, errors.New("not a regular file")
	case info.Size() == 0:
		return nil, errors.New("empty file")
	}
	in, err := os.Open(f.path)
	if err != nil {
		return nil, bare(err)
	}
	return in, nil
}

// bare gives a failure to open a file without the path, which is named beside
// it.
func bare(err error) error {
	var p *os.PathError
	if errors.As(err, &p) {
		err = p.Err
	}
	return fmt.Errorf("cannot be opened: %w", err)
}

// bareRead gives a failure to read a file without the path.
func bareRead(err error) error {
	var p *os.PathError
	if errors.As(err, &p) {
		err = p.Err
	}
	return fmt.Errorf("cannot be read to its end: %w", err)
}

// digest sums what is read through it and stops when the context ends.
type digest struct {
	ctx  context.Context
	r    io.Reader
	sum  hash.Hash
	size int64
}

func (d *digest) Read(p []byte) (int, error) {
	if err := d.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := d.r.Read(p)
	d.sum.Write(p[:n]) // never fails
	d.size += int64(n)
	return n, err
}

// missing is an input that was named but gives no file.
type missing struct {
	name string
	err  error
}

func (m missing) Name() string { return m.name }
func (m missing) Read(context.Context, int) (*weather.Raw, error) {
	return nil, &weather.FileError{File: m.name, Err: m.err}
}
