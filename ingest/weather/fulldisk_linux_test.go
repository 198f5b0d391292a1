package weather_test

import (
	"math"
	"os"
	"os/exec"
	"os/signal"
	"strings"
	"syscall"
	"testing"

	"stillrow/ingest/weather"
)

// inChild reports whether this is a process of the test's own, and runs the test
// in one if it is not: go test itself writes files, which the limit would stop.
func inChild(t *testing.T) bool {
	t.Helper()
	const key = "STILLROW_TEST_FILE_LIMIT"
	if os.Getenv(key) != "" {
		return true
	}
	child := exec.Command(os.Args[0], "-test.run=^"+t.Name()+"$")
	child.Env = append(os.Environ(), key+"=1")
	if out, err := child.CombinedOutput(); err != nil {
		t.Errorf("%v\n%s", err, out)
	}
	return false
}

// limitFiles makes writes beyond a number of bytes in a file fail while f runs,
// as they do on a full disk.
func limitFiles(t *testing.T, bytes uint64, f func()) {
	t.Helper()
	signal.Ignore(syscall.SIGXFSZ)
	var was syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_FSIZE, &was); err != nil {
		t.Skip(err)
	}
	now := was
	now.Cur = bytes
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &now); err != nil {
		t.Skip(err)
	}
	defer func() {
		if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &was); err != nil {
			t.Fatal(err)
		}
	}()
	f()
}

// TestFullDisk lets the disk be full at many places of each file of a write:
// the old table stays, to the byte, and nothing of the new one.
func TestFullDisk(t *testing.T) {
	if !inChild(t) {
		return
	}
	dir := write(t, 2)
	before := contents(t, dir)
	whole := t.TempDir()
	if err := update(whole, 0, 2, 3, 4); err != nil {
		t.Fatal(err)
	}
	most := len(readFile(t, whole, partsOf(t, whole)[0]))
	least := len(readFile(t, whole, "sites.parquet")) // the smaller file
	limits := []uint64{0, 3, uint64(least / 2), uint64(least) - 1, uint64(most / 2), uint64(most) - 1}
	for _, limit := range limits {
		var err error
		limitFiles(t, limit, func() { err = update(dir, 0, 2, 3, 4) })
		if err == nil || !strings.Contains(err.Error(), "file too large") || strings.Contains(err.Error(), "\n") {
			t.Errorf("%d bytes a file: error %v, want that of the system on one line", limit, err)
		}
		after := contents(t, dir)
		if len(after) != len(before) {
			t.Errorf("%d bytes a file: %d files left, want %d", limit, len(after), len(before))
		}
		for name := range before {
			if after[name] != before[name] {
				t.Errorf("%d bytes a file: %s has changed", limit, name)
			}
		}
	}
	// The parts fit and the site table does not: many empty years are small.
	w, err := weather.Update(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	for i := range 3 {
		s, y := bare(string(rune('a'+i)), 0)
		for m := range 12 {
			s.HDD[m], s.CDD[m] = math.Sqrt(float64(m+i)), math.Cbrt(float64(m+i))
		}
		if err := w.Append(s, y); err != nil {
			t.Fatal(err)
		}
	}
	limitFiles(t, uint64(len(before["sites.parquet"]))-1000, func() { err = w.Close() })
	if err == nil || !strings.Contains(err.Error(), "sites.parquet") {
		t.Errorf("no room for the site table: error %v, want one naming it", err)
	}
	if after := contents(t, dir); len(after) != len(before) || after["sites.parquet"] != before["sites.parquet"] {
		t.Error("no room for the site table: the folder has changed")
	}
	if err := update(dir, 0, 2, 3, 4); err != nil {
		t.Fatal(err)
	}
	wantIDs(t, dir, 0, nil, 0, 1, 2, 3, 4)
}

// TestFullDiskAppend finds out while sites are still coming.
func TestFullDiskAppend(t *testing.T) {
	if !inChild(t) {
		return
	}
	dir := t.TempDir()
	w, err := weather.Create(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	limitFiles(t, 1000, func() {
		for i := 0; err == nil && i < 2000; i++ {
			s, y := synthetic(i % 3)
			s.ID += strings.Repeat("+", i/3)
			err = w.Append(s, y)
		}
	})
	if err == nil || !strings.Contains(err.Error(), "file too large") {
		t.Errorf("error %v, want that of the system", err)
	}
	if again := w.Close(); again == nil {
		t.Error("Close after a failure gave no error")
	}
	if len(contents(t, dir)) != 0 {
		t.Error("something is left")
	}
}
