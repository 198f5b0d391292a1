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
	"os"

	"stillrow/ingest/weather"
)

// A Source is one input that becomes one site. Read is called once, from any
// goroutine; an error sets the source aside, and should be a
// *weather.FileError.
type Source interface {
	Name() string
	Read(ctx context.Context) (*weather.Raw, error)
}

// A Digester is a Source that can say, after Read, how many bytes it read and
// their SHA-256 in hexadecimal; empty when it could not read them all.
type Digester interface {
	Digest() (size int64, sum string)
}

// file is a weather file on disk in one of the known formats.
type file struct {
	path string
	size int64
	sum  string
}

func (f *file) Name() string            { return f.path }
func (f *file) Digest() (int64, string) { return f.size, f.sum }

// Read recognises the format by the content and parses the file. A file set
// aside for its content is read to its end all the same, for its digest.
func (f *file) Read(ctx context.Context) (*weather.Raw, error) {
	in, err := f.open()
	if err != nil {
		return nil, &weather.FileError{File: f.path, Err: err}
	}
	defer in.Close() // only read from: nothing to lose
	sum := &digest{ctx: ctx, r: in, sum: sha256.New()}
	r := bufio.NewReaderSize(sum, 1<<16)
	raw, err := parse(f.path, r)
	if _, rest := io.Copy(io.Discard, r); rest == nil {
		f.size, f.sum = sum.size, hex.EncodeToString(sum.sum.Sum(nil))
	}
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	return raw, err
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
func (m missing) Read(context.Context) (*weather.Raw, error) {
	return nil, &weather.FileError{File: m.name, Err: m.err}
}
