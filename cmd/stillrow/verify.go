package main

import (
	"bufio"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"stillrow/data/outfile"
)

// sumsFile has the SHA-256 of every file of an output folder but itself and
// timing.json, in the form that the common sha256sum reads, too.
const sumsFile = "SHA256SUMS"

// writeSums writes it for the files named, each relative to dir.
func writeSums(dir string, names []string) error {
	list, err := inputFiles(dir, names)
	if err != nil {
		return err
	}
	return outfile.Write(filepath.Join(dir, sumsFile), func(w io.Writer) error {
		for i, f := range list {
			if _, err := fmt.Fprintf(w, "%s  %s\n", f.SHA256, filepath.ToSlash(names[i])); err != nil {
				return err
			}
		}
		return nil
	})
}

type verifyCmd struct {
	Dir string `arg:"" name:"DIR" help:"Output folder of screen, ingest, simulate or rank."`
}

func (*verifyCmd) Help() string {
	return `Reads every file of an output folder that SHA256SUMS lists and names those that are missing or not as they were written, be it by one bit. Other files in the folder are not looked at.

Example: stillrow verify stillrow-out`
}

func (c *verifyCmd) Run(e *env) error {
	sums, err := readSums(filepath.Join(c.Dir, sumsFile))
	if err != nil {
		return err
	}
	wrong := 0
	for _, s := range sums {
		if err := e.ctx.Err(); err != nil {
			return err
		}
		if fault := s.check(c.Dir); fault != "" {
			wrong++
			fmt.Fprintf(e.stderr, "%s: %s\n", filepath.Join(c.Dir, filepath.FromSlash(s.name)), fault)
		}
	}
	if wrong > 0 {
		return fmt.Errorf("%s: %d of %s not as written", c.Dir, wrong, count(len(sums), "file"))
	}
	_, err = fmt.Fprintf(e.stdout, "%s in %s, all as written\n", count(len(sums), "file"), c.Dir)
	return err
}

// A fileSum is a line of SHA256SUMS.
type fileSum struct{ name, sha256 string }

// readSums reads SHA256SUMS; errors name the line.
func readSums(path string) ([]fileSum, error) {
	f, err := os.Open(path)
	if err != nil {
		if errors.Is(err, os.ErrNotExist) {
			return nil, fmt.Errorf("%w: no finished output of stillrow in this folder", err)
		}
		return nil, err
	}
	defer f.Close() // only read from
	var list []fileSum
	lines := bufio.NewScanner(f)
	for n := 1; lines.Scan(); n++ {
		sum, name, ok := strings.Cut(lines.Text(), "  ")
		if raw, err := hex.DecodeString(sum); !ok || err != nil || len(raw) != 32 {
			return nil, fmt.Errorf("%s:%d: want a SHA-256 of 64 digits, two spaces and a name", path, n)
		}
		if !filepath.IsLocal(filepath.FromSlash(name)) {
			return nil, fmt.Errorf("%s:%d: %q lies outside the folder", path, n, name)
		}
		list = append(list, fileSum{name, sum})
	}
	if err := lines.Err(); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if len(list) == 0 {
		return nil, fmt.Errorf("%s: empty", path)
	}
	return list, nil
}

// check says what is wrong with the file, or nothing.
func (s fileSum) check(dir string) string {
	list, err := inputFiles(dir, []string{filepath.FromSlash(s.name)})
	switch {
	case errors.Is(err, os.ErrNotExist):
		return "missing"
	case err != nil:
		return err.Error()
	case list[0].SHA256 != s.sha256:
		return "not as written (its SHA-256 differs)"
	}
	return ""
}
