package ingest

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// Files makes sources of files, folders and glob patterns. A folder gives the
// files with a known ending in it and below; hidden ones and the output folders
// of earlier runs are left out, and folders linked to in it are not entered. Each
// word's files come in the order of their paths, and a file that several words
// give is taken once. A word that gives nothing becomes a source that is set
// aside, so that it is reported and the others go on. The error is a malformed
// pattern.
func Files(words []string) ([]Source, error) {
	var sources []Source
	seen := map[string]bool{}
	add := func(path string) {
		path = filepath.Clean(path)
		key := path
		if whole, err := filepath.Abs(path); err == nil {
			key = whole // else the working folder is gone, and so are relative paths
		}
		if !seen[key] {
			seen[key] = true
			sources = append(sources, &file{path: path})
		}
	}
	for _, word := range words {
		paths, err := expand(word, func(m missing) { sources = append(sources, m) })
		if errors.Is(err, filepath.ErrBadPattern) {
			return nil, &fs.PathError{Op: "pattern", Path: word, Err: err}
		}
		if err != nil {
			sources = append(sources, missing{name: word, err: err})
			continue
		}
		for _, p := range paths {
			add(p)
		}
	}
	return sources, nil
}

// expand gives the files a word stands for, in the order of their paths, and
// hands on what it could not look into.
func expand(word string, failed func(missing)) ([]string, error) {
	info, err := os.Stat(word)
	switch {
	case err == nil && info.IsDir():
		paths := folder(word, failed)
		if len(paths) == 0 {
			return nil, errors.New("no weather files in this folder; endings taken: " + strings.Join(endings, " "))
		}
		return paths, nil
	case err == nil || !strings.ContainsAny(word, `*?[`):
		return []string{word}, nil // its absence is told when it is opened
	}
	matches, err := filepath.Glob(word)
	if err != nil {
		return nil, err
	}
	hiddenToo := strings.HasPrefix(filepath.Base(word), ".")
	var paths []string
	for _, m := range matches {
		if hidden(m) && !hiddenToo {
			continue
		}
		info, err := os.Stat(m)
		switch {
		case err == nil && info.IsDir():
			if !isOutput(m) {
				paths = append(paths, folder(m, failed)...)
			}
		case known(m):
			paths = append(paths, m)
		}
	}
	if len(paths) == 0 {
		return nil, errors.New("no weather file matches; endings taken: " + strings.Join(endings, " "))
	}
	slices.Sort(paths)
	return paths, nil
}

// folder gives the weather files in a folder and below, and hands on the
// folders it could not look into.
func folder(dir string, failed func(missing)) []string {
	var paths []string
	// A walk enters no link, so a folder that is one is named with a separator at
	// its end, which stands for what it links to.
	if !os.IsPathSeparator(dir[len(dir)-1]) {
		dir += string(filepath.Separator)
	}
	// Every error is handed on where it occurs, so that none ends the walk.
	_ = filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			failed(missing{name: filepath.Clean(path), err: bare(err)})
			return nil
		}
		below := path != dir
		switch {
		case d.IsDir() && below && (hidden(path) || isOutput(path)):
			return filepath.SkipDir
		case !d.IsDir() && !hidden(path) && known(path):
			paths = append(paths, path)
		}
		return nil
	})
	slices.Sort(paths)
	return paths
}

func hidden(path string) bool { return strings.HasPrefix(filepath.Base(path), ".") }

// isOutput says whether a folder holds what an earlier run wrote: its tables
// are no weather files.
func isOutput(dir string) bool {
	_, err := os.Stat(filepath.Join(dir, "run.json"))
	return err == nil
}

func known(path string) bool {
	return slices.Contains(endings, strings.ToLower(filepath.Ext(path)))
}
