package hdf5

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// run calls a program of the NetCDF or HDF5 tools, which are independent of
// this package, and skips the test where it is absent.
func run(t testing.TB, name string, args ...string) []byte {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		t.Skipf("%s is not installed (Debian: netcdf-bin, hdf5-tools): %v", name, err)
	}
	var stderr bytes.Buffer
	cmd := exec.Command(path, args...)
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s %s: %v: %s", name, strings.Join(args, " "), err, stderr.Bytes())
	}
	return out
}

// generate makes a NetCDF-4 file of CDL text by ncgen.
func generate(t testing.TB, cdl string, args ...string) string {
	t.Helper()
	dir := t.TempDir()
	text, nc := filepath.Join(dir, "made.cdl"), filepath.Join(dir, "made.nc")
	if err := os.WriteFile(text, []byte(cdl), 0o666); err != nil {
		t.Fatal(err)
	}
	if args == nil {
		args = []string{"-k", "nc4"}
	}
	run(t, "ncgen", append(args, "-o", nc, text)...)
	return nc
}

// open opens the file at a path.
func open(t testing.TB, path string) *File {
	t.Helper()
	r, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { r.Close() })
	info, err := r.Stat()
	if err != nil {
		t.Fatal(err)
	}
	f, err := Open(r, info.Size())
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// find gives the dataset of a name.
func find(t testing.TB, f *File, name string) *Dataset {
	t.Helper()
	for _, d := range f.Datasets {
		if d.Name == name {
			return d
		}
	}
	t.Fatalf("no dataset %q", name)
	return nil
}

// whole reads all bytes of a dataset.
func whole(t testing.TB, d *Dataset) []byte {
	t.Helper()
	n, _ := product(append([]int{d.Size}, d.Shape...)...)
	b := make([]byte, n)
	if err := d.Read(b, make([]int, len(d.Shape)), d.Shape); err != nil {
		t.Fatal(err)
	}
	return b
}

// values reads all numbers of a dataset.
func values(t testing.TB, d *Dataset) []float64 {
	t.Helper()
	host := datatype{class: d.Class, size: d.Size, big: binary.NativeEndian.Uint16([]byte{0, 1}) == 1}
	return host.numbers(whole(t, d))
}

// dumped gives the numbers of a variable as ncdump prints them, with all their
// digits; what it prints as _ is NaN.
func dumped(t testing.TB, path, name string) []float64 {
	t.Helper()
	text := string(run(t, "ncdump", "-p", "9,17", "-v", name, path))
	_, text, ok := strings.Cut(text, "\ndata:\n")
	if !ok {
		t.Fatalf("ncdump gave no data of %q", name)
	}
	_, text, ok = strings.Cut(text, "\n "+name+" =")
	if !ok {
		t.Fatalf("ncdump gave no data of %q", name)
	}
	text, _, _ = strings.Cut(text, ";")
	var list []float64
	for _, s := range strings.Split(text, ",") {
		s = strings.TrimRight(strings.TrimSpace(s), "fsbULl")
		if s == "" {
			continue
		}
		x := math.NaN()
		if s != "_" && s != "NaN" {
			var err error
			if x, err = strconv.ParseFloat(s, 64); err != nil {
				t.Fatalf("%s: %v", name, err)
			}
		}
		list = append(list, x)
	}
	return list
}

// compare holds numbers to what was expected; a NaN there allows only NaN or
// the fill value.
func compare(t testing.TB, d *Dataset, got, want []float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Errorf("%s: %d values, not %d", d.Name, len(got), len(want))
		return
	}
	fill := math.NaN()
	if d.Fill != nil {
		host := datatype{class: d.Class, size: d.Size, big: binary.NativeEndian.Uint16([]byte{0, 1}) == 1}
		fill = host.numbers(d.Fill)[0]
	}
	for i, x := range want {
		if math.IsNaN(x) {
			x = fill
		}
		y := got[i]
		if d.Size == 4 && d.Class == Float {
			x = float64(float32(x))
		}
		if x != y && !(math.IsNaN(x) && math.IsNaN(y)) {
			t.Errorf("%s: value %d is %v, not %v", d.Name, i, y, x)
			return
		}
	}
}

// series writes n numbers of CDL, separated by commas.
func series(n int, value func(i int) float64) string {
	var b strings.Builder
	for i := range n {
		if i > 0 {
			b.WriteString(", ")
		}
		fmt.Fprint(&b, value(i))
	}
	return b.String()
}

// made gives the numbers that series wrote.
func made(n int, value func(i int) float64) []float64 {
	list := make([]float64, n)
	for i := range list {
		list[i] = value(i)
	}
	return list
}
