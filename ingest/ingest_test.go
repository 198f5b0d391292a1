package ingest_test

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"stillrow/ingest"
	"stillrow/ingest/climate"
	"stillrow/ingest/weather"
)

// put writes a file below dir and gives its path.
func put(t *testing.T, dir, name, text string) string {
	t.Helper()
	path := filepath.Join(dir, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o666); err != nil {
		t.Fatal(err)
	}
	return path
}

const (
	epwHead  = "LOCATION,Sandbank Quay,-,HLV,invented,012345,48.50,-5.25,0.0,12.0\n"
	tmy3Head = "712345,SANDBANK,HV,0,48.5,-5.25,12\nDate (MM/DD/YYYY),Time (HH:MM),GHI (W/m^2)\n"
)

// The content, not the ending, tells the format; what is not read is called by
// its name.
func TestFormats(t *testing.T) {
	for _, tt := range []struct{ name, head, reason string }{
		{"epw-in.csv", epwHead, ":1: no header line DATA PERIODS"},
		{"marked.epw", "\xef\xbb\xbf" + epwHead, ":1: no header line DATA PERIODS"},
		{"tmy3-in.epw", tmy3Head, ":2: no rows after the column names"},
		{"empty.epw", "", ": empty file"},
		{"packed.epw", "\x1f\x8b\x08\x00", ": compressed (gzip); unpack it first"},
		{"book.csv", "PK\x03\x04", ": a zip archive or spreadsheet; unpack it or save it as CSV first"},
		{"half.csv", "\x89HDF\r\n", ":1: unknown format: no EPW, TMY3, PSM or POWER header, no grid, and no line of columns with lat, lon and month"},
		{"page.epw", "<!doctype html><html>", ": a web page or XML, no weather table; a failed download?"},
		{"wide.csv", "\xff\xfeL\x00O\x00", ": text in UTF-16; save it as UTF-8"},
		{"power.csv", "-BEGIN HEADER-\r\n", ":1: no line -END HEADER-"},
		{"psm.csv", "Source,Location ID,City\n", ":1: no line of metadata values"},
		{"forecast.nc", "GRIB\x00\x00", ": a GRIB file; turn it into NetCDF first: grib_to_netcdf -o out.nc in.grib"},
		{"old.nc", "\x0e\x03\x13\x01", ": an HDF4 file; turn it into NetCDF first"},
		{"program.csv", "\x7fELF\x02\x01", ": binary content of an unknown format"},
		{"shopping.csv", "milk,2\nbread,1\n", ":1: unknown format: no EPW, TMY3, PSM or POWER header, no grid, and no line of columns with lat, lon and month"},
	} {
		path := put(t, t.TempDir(), tt.name, tt.head)
		sources, err := ingest.Files([]string{path})
		if err != nil || len(sources) != 1 {
			t.Fatal(sources, err)
		}
		_, err = sources[0].Read(context.Background(), 0)
		var file *weather.FileError
		if !errors.As(err, &file) || err.Error() != path+tt.reason {
			t.Errorf("got  %v\nwant %s%s", err, path, tt.reason)
		}
	}
}

// A digest covers the whole file, read or set aside; an interrupted reading has
// none.
func TestDigest(t *testing.T) {
	text := epwHead + strings.Repeat("a long rest that no parser reads\n", 10_000)
	sources, err := ingest.Files([]string{put(t, t.TempDir(), "a.epw", text)})
	if err != nil {
		t.Fatal(err)
	}
	want := sha256.Sum256([]byte(text))
	if _, err := sources[0].Read(context.Background(), 0); err == nil {
		t.Error("a file without rows is read")
	}
	size, sum := sources[0].(ingest.Digester).Digest()
	if size != int64(len(text)) || sum != hex.EncodeToString(want[:]) {
		t.Errorf("digest %d %s, want %d %x", size, sum, len(text), want)
	}

	sources, _ = ingest.Files([]string{put(t, t.TempDir(), "a.epw", text)})
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := sources[0].Read(ctx, 0); !errors.Is(err, context.Canceled) {
		t.Errorf("interrupted: %v", err)
	}
	if _, sum := sources[0].(ingest.Digester).Digest(); sum != "" {
		t.Errorf("digest of an interrupted reading: %s", sum)
	}
}

func TestFiles(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{"b.EPW", "a.epw", "notes.txt", ".hidden.epw", "south/c.tmy3", "south/deep/d.CSV", ".git/e.epw",
		"old-run/run.json", "old-run/bands.csv", "[odd].epw", "named.dat"} {
		put(t, dir, name, "x")
	}
	if err := os.Mkdir(filepath.Join(dir, "bare"), 0o777); err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		name  string
		words []string
		want  []string // relative; "!" before a reason
	}{
		{"a folder and below", []string{"."}, []string{"[odd].epw", "a.epw", "b.EPW", "south/c.tmy3", "south/deep/d.CSV"}},
		{"any ending by name", []string{"named.dat"}, []string{"named.dat"}},
		{"twice named, once read", []string{"b.EPW", "a.epw", ".", "./a.epw"}, []string{"b.EPW", "a.epw", "[odd].epw", "south/c.tmy3", "south/deep/d.CSV"}},
		{"a pattern", []string{"*"}, []string{"[odd].epw", "a.epw", "b.EPW", "south/c.tmy3", "south/deep/d.CSV"}},
		{"a name that looks like a pattern", []string{"[odd].epw"}, []string{"[odd].epw"}},
		{"a pattern of endings", []string{"*.epw"}, []string{"[odd].epw", "a.epw"}},
		{"nothing there", []string{"gone.epw", "a.epw"}, []string{"!gone.epw: cannot be opened: no such file or directory", "a.epw"}},
		{"no match", []string{"*.nc"}, []string{"!*.nc: no weather file matches; endings taken: .epw .csv .tmy3 .nc .nc4 .cdf .tif .tiff .asc"}},
		{"an empty folder", []string{"bare"}, []string{"!bare: no weather files in this folder; endings taken: .epw .csv .tmy3 .nc .nc4 .cdf .tif .tiff .asc"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Chdir(dir)
			sources, err := ingest.Files(tt.words)
			if err != nil {
				t.Fatal(err)
			}
			var got []string
			for _, s := range sources {
				name := filepath.ToSlash(s.Name())
				if _, err := s.Read(context.Background(), 0); err != nil && !strings.Contains(err.Error(), "unknown format") {
					name = "!" + err.Error()
				}
				if slices.Contains([]string{"old-run/run.json", "old-run/bands.csv"}, name) {
					t.Errorf("output of an earlier run taken: %s", name)
				}
				got = append(got, name)
			}
			if !slices.Equal(got, tt.want) {
				t.Errorf("got  %q\nwant %q", got, tt.want)
			}
		})
	}
	if _, err := ingest.Files([]string{"[a-"}); !errors.Is(err, filepath.ErrBadPattern) {
		t.Errorf("malformed pattern: %v", err)
	}
}

// A made source gives generated hours, or an error, after a while.
type made struct {
	name string
	cell climate.Cell
	wait time.Duration
	err  error
}

func (m made) Name() string { return m.name }
func (m made) Read(ctx context.Context, _ int) (*weather.Raw, error) {
	select {
	case <-time.After(m.wait):
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	if m.err != nil {
		return nil, m.err
	}
	return m.cell.Raw(), nil
}

// sources makes n of them; every third is bad, every fifth shares its id with
// the first, and the early ones take longest.
func sources(n int) []ingest.Source {
	var all []ingest.Source
	for i := range n {
		c := climate.Cell{ID: fmt.Sprintf("cell-%d", i), Name: "made", Source: "made", Country: "HLV", Lat: float64(i), Lon: -20}
		for m := range 12 {
			c.GHI[m], c.AirTemperature[m] = 150, 12
			c.RelHumidity[m], c.Wind[m] = 70, 4
		}
		s := made{name: fmt.Sprintf("in/%02d.epw", i), cell: c, wait: time.Duration(n-i) * time.Millisecond}
		if i%5 == 0 {
			s.cell.ID = "cell-0"
		}
		if i%3 == 2 {
			s.err = &weather.FileError{Line: 7, Field: "year", Err: errors.New("torn")}
		}
		all = append(all, s)
	}
	return all
}

func TestRunKeepsOrder(t *testing.T) {
	var first map[string]string
	for _, workers := range []int{1, 3, 16} {
		out := filepath.Join(t.TempDir(), "weather")
		var progress []int
		sum, err := ingest.Run(context.Background(), ingest.Options{Sources: sources(12), Out: out, Workers: workers,
			Progress: func(done, total int) { progress = append(progress, done, total) }})
		if err != nil {
			t.Fatal(err)
		}
		if sum.Sites != 8 || sum.SetAside != 4 || len(sum.Inputs) != 12 || progress[0] != 1 || progress[22] != 12 || progress[23] != 12 {
			t.Fatalf("%d sites, %d set aside, progress %v", sum.Sites, sum.SetAside, progress)
		}
		want := []string{"cell-0", "cell-1", "", "cell-3", "cell-4", "", "cell-6", "cell-7", "", "cell-9", "cell-0-10", ""}
		for i, in := range sum.Inputs {
			if in.Name != fmt.Sprintf("in/%02d.epw", i) || in.SiteID != want[i] {
				t.Errorf("%d workers, input %d: %s, site %q, want %q", workers, i, in.Name, in.SiteID, want[i])
			}
			if set := in.Status == ingest.StatusSetAside; set != (want[i] == "") || set && in.Reason != in.Name+":7: year: torn" {
				t.Errorf("input %d: %s, %q", i, in.Status, in.Reason)
			}
		}
		got := contents(t, out)
		text, err := json.Marshal(sum)
		if err != nil {
			t.Fatal(err)
		}
		got["summary"] = string(text)
		if first == nil {
			first = got
		}
		for name, b := range first {
			if got[name] != b || len(got) != len(first) {
				t.Errorf("%d workers: %s differs from 1 worker's", workers, name)
			}
		}
		table, err := weather.Open(out)
		if err != nil {
			t.Fatal(err)
		}
		defer table.Close()
		if s := table.Sites; len(s) != 8 || s[1].Lat != 1 || s[7].ID != "cell-0-10" {
			t.Errorf("site table %v", s)
		}
	}
}

// contents gives every file below a folder.
func contents(t *testing.T, dir string) map[string]string {
	t.Helper()
	all := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		all[strings.TrimPrefix(path, dir)] = string(b)
		return err
	})
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		t.Fatal(err)
	}
	return all
}

// An interrupted run stops soon and leaves no half file.
func TestRunInterrupted(t *testing.T) {
	out := filepath.Join(t.TempDir(), "weather")
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	last := 0
	sum, err := ingest.Run(ctx, ingest.Options{Sources: sources(40), Out: out, Workers: 2,
		Progress: func(done, total int) {
			if last = done; done == 5 {
				cancel()
			}
		}})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("error %v", err)
	}
	if len(sum.Inputs) != 5 || last != 5 || sum.Sites != 4 || sum.SetAside != 1 {
		t.Errorf("%d inputs done, %d told, %d sites, %d set aside, want the 5 before the end", len(sum.Inputs), last, sum.Sites, sum.SetAside)
	}
	if left := contents(t, out); len(left) != 0 {
		t.Errorf("left behind: %d files", len(left))
	}
}

func TestRunWithoutSites(t *testing.T) {
	out := filepath.Join(t.TempDir(), "weather")
	bad := sources(12)[2:3]
	_, err := ingest.Run(context.Background(), ingest.Options{Sources: bad, Out: out})
	if !errors.Is(err, ingest.ErrNoSites) || !strings.Contains(err.Error(), "in/02.epw:7: year: torn") {
		t.Errorf("all set aside: %v", err)
	}
	if _, err := os.Stat(out); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("folder made for nothing: %v", err)
	}
	if err := os.Mkdir(out, 0o777); err != nil {
		t.Fatal(err)
	}
	if _, err := ingest.Run(context.Background(), ingest.Options{Sources: bad, Out: out}); !errors.Is(err, ingest.ErrNoSites) {
		t.Errorf("all set aside again: %v", err)
	}
	if left, err := os.ReadDir(out); err != nil || len(left) != 0 {
		t.Errorf("folder that was there: %d files left behind, %v", len(left), err)
	}
	if _, err := ingest.Run(context.Background(), ingest.Options{Out: out}); !errors.Is(err, ingest.ErrNoSites) {
		t.Errorf("no inputs: %v", err)
	}
}

func BenchmarkRun(b *testing.B) {
	raw := sources(1)[0].(made)
	raw.wait = 0
	all := make([]ingest.Source, 16)
	for i := range all {
		all[i] = raw
	}
	for b.Loop() {
		if _, err := ingest.Run(context.Background(), ingest.Options{Sources: all, Out: filepath.Join(b.TempDir(), "w")}); err != nil {
			b.Fatal(err)
		}
	}
}
