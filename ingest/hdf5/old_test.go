package hdf5

import (
	"os"
	"path/filepath"
	"slices"
	"testing"
)

// h5import writes files as HDF5 1.0 did: superblock 0, headers of version 1 and
// a symbol table in place of links.
func TestReadsWhatH5importWrote(t *testing.T) {
	dir := t.TempDir()
	out := filepath.Join(dir, "made.h5")
	write := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
		return path
	}
	numbers := write("numbers.txt", "1.5 2.5 3.5 4.5 5.5 6.5\n7.5 8.5 9.5 10.5 11.5 12.5\n")
	args := []string{}
	for _, name := range []string{"zeta", "alpha", "mid"} {
		config := "PATH " + name + "\nINPUT-CLASS TEXTFP\nINPUT-SIZE 64\nRANK 2\nDIMENSION-SIZES 2 6\nOUTPUT-CLASS FP\nOUTPUT-SIZE 64\nOUTPUT-ARCHITECTURE IEEE\nOUTPUT-BYTE-ORDER BE\n"
		if name == "mid" {
			config += "CHUNKED-DIMENSION-SIZES 2 4\nCOMPRESSION-TYPE GZIP\nCOMPRESSION-PARAM 6\nMAXIMUM-DIMENSIONS -1 6\n"
		}
		args = append(args, numbers, "-c", write(name+".config", config))
	}
	run(t, "h5import", append(args, "-o", out)...)
	f := open(t, out)
	var names []string
	for _, d := range f.Datasets {
		names = append(names, d.Name)
		compare(t, d, values(t, d), made(12, func(i int) float64 { return float64(i) + 1.5 }))
	}
	if !slices.Equal(names, []string{"alpha", "mid", "zeta"}) {
		t.Errorf("datasets %q are not by name", names)
	}
	if mid := find(t, f, "mid"); !slices.Equal(mid.Unlimited, []bool{true, false}) || !slices.Equal(mid.Chunk, []int{2, 4}) {
		t.Errorf("mid: unlimited %v, chunks of %d", mid.Unlimited, mid.Chunk)
	}
}

func TestReadsCompactData(t *testing.T) {
	to := filepath.Join(t.TempDir(), "packed.nc")
	run(t, "h5repack", "-l", "contiguous,big_floats,ints:COMPA", generate(t, layoutCDL()), to)
	f := open(t, to)
	checkLayouts(t, f, false)
	if d := find(t, f, "big_floats"); d.layout.kind != layoutCompact {
		t.Errorf("the layout is %d, not compact", d.layout.kind)
	}
}
