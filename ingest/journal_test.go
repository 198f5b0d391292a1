package ingest_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stillrow/ingest"
	"stillrow/ingest/weather"
)

// A counted source counts its readings.
type counted struct {
	made
	read *int
}

func (c counted) Read(ctx context.Context, year int) (*weather.Raw, error) {
	*c.read++
	return c.made.Read(ctx, year)
}

// A run that is ended after its first part file goes on behind it, with the same
// names for places of one identifier and the same word on those set aside, and
// the table is the same to the byte. A part file that is damaged meanwhile is
// made anew.
func TestRunGoesOn(t *testing.T) {
	var read int
	all := make([]ingest.Source, 300)
	for i, s := range sources(len(all)) {
		one := s.(made)
		one.wait, one.err = 0, nil
		one.cell.ID, one.cell.Lat = fmt.Sprintf("cell-%d", i), float64(i%60)
		switch {
		case i%50 == 7:
			one.cell.ID = "cell-0" // taken
		case i%50 == 9:
			one.err = &weather.FileError{Line: 7, Field: "year", Err: errors.New("torn")}
		case i == 12:
			one.err = errors.New("torn by another")
		}
		all[i] = counted{one, &read}
	}
	type run struct {
		files   map[string]string
		summary string
		again   int
	}
	goes := func(out string, key string, end int) (r run, err error) {
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		o := ingest.Options{
			Sources: all, Out: out, Workers: 1, Key: []byte(key), Resumed: func(n int) { r.again = n },
			Progress: func(done, _ int) {
				if parts, _ := filepath.Glob(filepath.Join(out, ingest.JournalFolder, "0*")); done >= end && len(parts) > 0 {
					cancel()
				}
			},
		}
		read = 0
		sum, err := ingest.Run(ctx, o)
		if err != nil {
			return r, err
		}
		text, err := json.Marshal(sum)
		if err != nil {
			return r, err
		}
		r.summary = string(text)
		if err := ingest.DropJournal(out); err != nil {
			return r, err
		}
		r.files = contents(t, out)
		return r, nil
	}
	whole, err := goes(filepath.Join(t.TempDir(), "w"), "a", 5000)
	if err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(t.TempDir(), "w")
	if _, err := goes(out, "a", 270); !errors.Is(err, context.Canceled) {
		t.Skipf("the run was done before it could be ended: %v", err)
	}
	hours, err := filepath.Glob(filepath.Join(out, "hours-*.parquet"))
	if err != nil || len(hours) != 1 {
		t.Fatalf("parts %v, %v", hours, err)
	}
	for _, tt := range []struct {
		key   string
		spoil bool
		again bool
	}{
		{"b", false, false}, // another run: begins anew, and leaves what is not its own
		{"a", true, false},
		{"a", false, true},
	} {
		dir := filepath.Join(t.TempDir(), "w")
		if err := os.CopyFS(dir, os.DirFS(out)); err != nil {
			t.Fatal(err)
		}
		if tt.spoil {
			part := filepath.Join(dir, filepath.Base(hours[0]))
			text, err := os.ReadFile(part)
			if err != nil {
				t.Fatal(err)
			}
			text = bytes.Clone(text)
			text[len(text)/2] ^= 1
			if err := os.WriteFile(part, text, 0o666); err != nil {
				t.Fatal(err)
			}
		}
		got, err := goes(dir, tt.key, 5000)
		if err != nil {
			t.Fatal(err)
		}
		if tt.again != (got.again > 256) || tt.again != (read < 50) {
			t.Errorf("%+v: %d places of an earlier run, %d read", tt, got.again, read)
		}
		if got.summary != whole.summary {
			t.Errorf("%+v: another summary", tt)
		}
		for name, text := range whole.files {
			if got.files[name] != text || len(got.files) != len(whole.files) {
				t.Errorf("%+v: %s differs, or more than %d files", tt, name, len(whole.files))
			}
		}
	}
	if !strings.Contains(whole.summary, "torn by another") || !strings.Contains(whole.summary, "cell-0-") {
		t.Error("the run has not all cases")
	}
}
