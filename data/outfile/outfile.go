// Package outfile writes output files so that a reader never sees half of one:
// everything goes to a temporary name in the same folder, which takes the real
// name only when the content is complete.
package outfile

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
)

// A File is an output under its temporary name. Commit gives it its real name;
// Abort, which may always be deferred, removes what was not committed.
type File struct {
	*os.File
	path string
	done bool
}

// Create opens a temporary file beside path, making the folder if need be.
func Create(path string) (*File, error) {
	dir, base := filepath.Split(path)
	if dir == "" {
		dir = "."
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, fmt.Errorf("output folder: %w", err)
	}
	f, err := os.CreateTemp(dir, "."+base+".*.part")
	if err != nil {
		return nil, fmt.Errorf("output file: %w", err)
	}
	return &File{File: f, path: path}, nil
}

// CommitAs is Commit under another name in the same folder, for a file whose
// content decides what it is called.
func (f *File) CommitAs(name string) error {
	f.path = filepath.Join(filepath.Dir(f.path), name)
	return f.Commit()
}

// Commit flushes the file to disk and gives it its real name.
func (f *File) Commit() error {
	if err := f.Chmod(0o644); err != nil {
		return fmt.Errorf("%s: %w", f.path, err)
	}
	if err := f.Sync(); err != nil {
		return fmt.Errorf("%s: %w", f.path, err)
	}
	if err := f.Close(); err != nil {
		return fmt.Errorf("%s: %w", f.path, err)
	}
	if err := os.Rename(f.Name(), f.path); err != nil {
		return fmt.Errorf("%s: %w", f.path, err)
	}
	f.done = true
	return nil
}

// Abort closes and removes the file unless it was committed.
func (f *File) Abort() {
	if f.done {
		return
	}
	f.Close() // an error changes nothing: the file is thrown away
	os.Remove(f.Name())
	f.done = true
}

// Write creates path with what write puts into a buffered writer.
func Write(path string, write func(io.Writer) error) error {
	f, err := Create(path)
	if err != nil {
		return err
	}
	defer f.Abort()
	w := bufio.NewWriterSize(f, 1<<16)
	if err := write(w); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	if err := w.Flush(); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return f.Commit()
}

// Sweep removes what runs that were killed left in dir under temporary names.
// Nobody else may be writing there. What it cannot remove stays.
func Sweep(dir string) {
	entries, _ := os.ReadDir(dir) // a folder that is not there is clean
	for _, e := range entries {
		if e.Type().IsRegular() && leftNamed.MatchString(e.Name()) {
			os.Remove(filepath.Join(dir, e.Name()))
		}
	}
}

var leftNamed = regexp.MustCompile(`^\..+\.[0-9]+\.part$`)
