package bucket

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"stillrow/data/outfile"
)

// A folder is a Bucket of files. What it has no names for, such as folders and the
// temporary files of a Put that was killed, is none of its blobs.
type folder string

// Folder gives the bucket of a folder that a path names, whatever is in it.
func Folder(path string) Bucket { return folder(filepath.Clean(path)) }

func (f folder) path(ctx context.Context, name string) (string, error) {
	if err := check(name); err != nil {
		return "", fmt.Errorf("%s: %w", string(f), err)
	}
	path := filepath.Join(string(f), name)
	if err := ctx.Err(); err != nil {
		return "", fmt.Errorf("%s: %w", path, err)
	}
	return path, nil
}

func (f folder) Put(ctx context.Context, name string, content []byte) error {
	path, err := f.path(ctx, name)
	if err != nil {
		return err
	}
	out, err := outfile.Create(path)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	defer out.Abort()
	if _, err := out.Write(content); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return out.Commit() // which names the file
}

func (f folder) Get(ctx context.Context, name string) ([]byte, error) {
	path, err := f.path(ctx, name)
	if err != nil {
		return nil, err
	}
	return os.ReadFile(path)
}

func (f folder) List(ctx context.Context) ([]string, error) {
	if err := ctx.Err(); err != nil {
		return nil, fmt.Errorf("%s: %w", string(f), err)
	}
	entries, err := os.ReadDir(string(f)) // sorted
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	var names []string
	for _, e := range entries {
		if !e.IsDir() && check(e.Name()) == nil {
			names = append(names, e.Name())
		}
	}
	return names, nil
}

func (f folder) Remove(ctx context.Context, name string) error {
	path, err := f.path(ctx, name)
	if err != nil {
		return err
	}
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

func (f folder) Close() error { return nil }
