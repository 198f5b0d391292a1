package main

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path"
	"path/filepath"
	"slices"
	"time"

	"stillrow/cmd/stillrow/study"
	"stillrow/data/outfile"
	"stillrow/ingest"
	"stillrow/ingest/repair"
	"stillrow/ingest/weather"
	"stillrow/rank"
)

// A runRecord is run.json: what ran on what, and what came of it. It holds
// nothing that differs between two runs on the same inputs.
type runRecord struct {
	Program     string          `json:"program"`
	Version     string          `json:"version"`
	Command     string          `json:"command"`
	Fingerprint string          `json:"fingerprint,omitempty"` // of what results come from; tables carry it too
	Clock       string          `json:"clock,omitempty"`
	Study       string          `json:"study,omitempty"`    // file
	Settings    []study.Setting `json:"settings,omitempty"` // that hold for all sites
	Books       []bookRecord    `json:"books,omitempty"`
	Counts      counts          `json:"counts"`
	Within      *tableFile      `json:"within,omitempty"` // area of the places
	Inputs      []ingest.Input  `json:"inputs,omitempty"` // weather files
	Tables      []tableFile     `json:"tables,omitempty"` // files of the table that a later stage took in
	Flags       []flagMeaning   `json:"flags,omitempty"`
	Ranking     *rank.Summary   `json:"ranking,omitempty"`
	Warnings    []string        `json:"warnings,omitempty"`
	Files       []string        `json:"files"`
}

type tableFile struct {
	Name   string `json:"name"`
	Size   int64  `json:"size_bytes"`
	SHA256 string `json:"sha256"`
}

type counts struct {
	Sites    int `json:"sites"`
	SetAside int `json:"set_aside"`
	Designs  int `json:"designs,omitempty"`
	Outlets  int `json:"outlets,omitempty"`
	Uses     int `json:"uses,omitempty"`
}

// A bookRecord is what one cost book, or one of its countries, fills in.
type bookRecord struct {
	Book     string          `json:"book"`
	Sites    int             `json:"sites"`              // of the countries it is for
	StandsIn int             `json:"sites_without_book"` // that it stands in for, as their countries have none
	Settings []study.Setting `json:"settings,omitempty"` // that differ from book to book
}

type flagMeaning struct {
	Flag    string `json:"flag"`
	Meaning string `json:"meaning"`
}

func newRecord(command string, m *markets, studyFile string) *runRecord {
	r := &runRecord{Program: "stillrow", Version: version, Command: command, Study: studyFile}
	if m != nil {
		s := m.study()
		r.Settings, r.Books = m.records()
		r.Warnings = m.warnings()
		r.Counts.Designs, r.Counts.Outlets, r.Counts.Uses = len(s.Designs), len(s.Outlets), len(s.Uses)
	}
	return r
}

// ingested adds what became of the inputs.
func (r *runRecord) ingested(sum ingest.Summary) {
	r.Counts.Sites, r.Counts.SetAside = sum.Sites, sum.SetAside
	r.Inputs = sum.Inputs
	seen := make(map[string]bool)
	for _, in := range sum.Inputs {
		for _, f := range in.Flags {
			seen[f] = true
		}
	}
	for _, f := range repair.Flags() {
		if seen[f.Name] {
			r.Flags = append(r.Flags, flagMeaning{f.Name, f.Meaning})
		}
	}
}

// inputFiles states the files of a table that a stage took in.
func inputFiles(dir string, names []string) ([]tableFile, error) {
	list := make([]tableFile, len(names))
	for i, name := range names {
		file := filepath.Join(dir, name)
		f, err := os.Open(file)
		if err != nil {
			return nil, err
		}
		sum := sha256.New()
		size, err := io.Copy(sum, f)
		f.Close() // only read from
		if err != nil {
			return nil, fmt.Errorf("%s: %w", file, err)
		}
		list[i] = tableFile{filepath.ToSlash(file), size, hex.EncodeToString(sum.Sum(nil))}
	}
	return list, nil
}

// write completes a run: it removes maps of an earlier run that this one did
// not write, then writes run.json, SHA256SUMS and timing.json.
func (r *runRecord) write(dir string, t *timing) error {
	file := filepath.Join(dir, "run.json")
	if err := r.dropStale(file); err != nil {
		return err
	}
	if err := outfile.Write(file, func(w io.Writer) error { return writeJSON(w, r) }); err != nil {
		return err
	}
	if err := writeSums(dir, append(slices.Clone(r.Files), "run.json")); err != nil {
		return err
	}
	return t.write(filepath.Join(dir, "timing.json"))
}

// dropStale removes the files an earlier run.json in the folder lists and this
// run did not write: a map of another study would pass for one of this.
func (r *runRecord) dropStale(file string) error {
	text, err := os.ReadFile(file)
	if err != nil {
		return nil // no earlier run
	}
	var old runRecord
	if json.Unmarshal(text, &old) != nil || old.Program != "stillrow" {
		return nil
	}
	keep := make(map[string]bool)
	for _, f := range r.Files {
		keep[f] = true
	}
	for _, f := range old.Files {
		if keep[f] || !filepath.IsLocal(f) || filepath.Dir(f) != "." {
			continue
		}
		if err := os.Remove(filepath.Join(filepath.Dir(file), f)); err != nil && !os.IsNotExist(err) {
			return fmt.Errorf("a file of an earlier run: %w", err)
		}
	}
	return nil
}

// weatherFiles are the names of the files of the weather table in a folder,
// each after the folder's name, which may be empty.
func weatherFiles(dir, name string) ([]string, error) {
	files, err := weather.Files(dir)
	for i, f := range files {
		files[i] = path.Join(name, f)
	}
	return files, err
}

// A timing is timing.json: how long each stage took, and where.
type timing struct {
	Host       string      `json:"host"`
	Processors int         `json:"processors"`
	Started    string      `json:"started"`
	Stages     []stageTime `json:"stages"`
	last       time.Time
}

type stageTime struct {
	Stage   string  `json:"stage"`
	Seconds float64 `json:"seconds"`
}

func startTiming(workers int) *timing {
	host, err := os.Hostname()
	if err != nil {
		host = "unknown"
	}
	now := time.Now()
	return &timing{Host: host, Processors: workers, Started: now.UTC().Format(time.RFC3339), last: now}
}

// stage ends a stage.
func (t *timing) stage(name string) {
	now := time.Now()
	t.Stages = append(t.Stages, stageTime{name, now.Sub(t.last).Seconds()})
	t.last = now
}

func (t *timing) write(file string) error {
	return outfile.Write(file, func(w io.Writer) error { return writeJSON(w, t) })
}
