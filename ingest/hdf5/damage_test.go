package hdf5

import (
	"bytes"
	"math/rand"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// smallCDL makes a file of some kilobytes with what the larger ones have too.
const smallCDL = `netcdf small {
dimensions: time = UNLIMITED; x = 4;
variables: float x(x); x:units = "m";
short t(time, x); t:_ChunkSizes = 2, 3; t:_DeflateLevel = 1; t:_Shuffle = "true"; t:_Fletcher32 = "true"; t:_FillValue = -1s;
string t:words = "one", "two";
:a1 = 1; :a2 = 2; :a3 = 3; :a4 = 4; :a5 = 5; :a6 = 6; :a7 = 7; :a8 = 8; :a9 = 9; :a10 = 10;
data: x = 1, 2, 3, 4; t = 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12;
}
`

// small gives files with the same content in the two generations of the format.
func small(t testing.TB) [][]byte {
	t.Helper()
	old := generate(t, smallCDL)
	latest := filepath.Join(t.TempDir(), "latest.nc")
	run(t, "h5repack", "-L", old, latest)
	var list [][]byte
	for _, path := range []string{old, latest} {
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, b)
	}
	return list
}

// use opens a file and reads what it has, as far as it is not too large, and
// gives the first error.
func use(b []byte) error {
	f, err := Open(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		return err
	}
	for _, d := range f.Datasets {
		n, ok := product(append([]int{d.Size}, d.Shape...)...)
		if !ok || n > 1<<20 {
			continue
		}
		if e := d.Read(make([]byte, n), make([]int, len(d.Shape)), d.Shape); e != nil && err == nil {
			err = e
		}
	}
	return err
}

func TestEveryTruncationIsAnError(t *testing.T) {
	for i, b := range small(t) {
		if err := use(b); err != nil {
			t.Fatal(err)
		}
		for n := range b {
			if _, err := Open(bytes.NewReader(b[:n]), int64(n)); err == nil {
				t.Fatalf("file %d opens with %d of %d bytes", i, n, len(b))
			}
			// A file that shrinks under the reader.
			if f, err := Open(bytes.NewReader(b[:n]), int64(len(b))); err == nil && n < len(b)/4 {
				t.Fatalf("file %d opens with %d of %d bytes behind it: %v", i, n, len(b), f)
			}
		}
	}
}

func TestDamage(t *testing.T) {
	for i, b := range small(t) {
		random := rand.New(rand.NewSource(int64(i)))
		refused := 0
		for range 3000 {
			bad := bytes.Clone(b)
			for range 1 + random.Intn(8) {
				bad[random.Intn(len(bad))] ^= byte(1 + random.Intn(255))
			}
			if err := use(bad); err != nil {
				refused++
				if text := err.Error(); text == "" || strings.Contains(text, "\n") {
					t.Fatalf("not one line: %q", text)
				}
			}
		}
		if refused < 100 {
			t.Errorf("file %d: only %d of 3000 damaged files were noticed", i, refused)
		}
	}
}

// The checksums of fletcher32 and of the zlib stream leave no byte of a chunk
// that could change unseen.
func TestDamagedChunkIsNoticed(t *testing.T) {
	b := small(t)[0]
	f, err := Open(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	d := find(t, f, "t")
	whole(t, d)
	c := d.index.list[0]
	for at := c.addr; at < c.addr+c.size; at++ {
		bad := bytes.Clone(b)
		bad[at] ^= 0x10
		err := use(bad)
		if err == nil || !strings.Contains(err.Error(), `variable "t": chunk at byte`) {
			t.Errorf("byte %d changed: %v", at, err)
		}
	}
}

func FuzzOpen(f *testing.F) {
	if _, err := exec.LookPath("h5repack"); err == nil { // else testdata alone
		for _, b := range small(f) {
			f.Add(b)
		}
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		var err error
		// What use reads is at most 1 MiB a dataset; a heap or a chunk of a small
		// file may stand for much, but not without end.
		if n := taken(func() { err = use(b) }); n > 64<<20+1<<12*uint64(len(b)) {
			t.Errorf("%d bytes taken for a file of %d", n, len(b))
		}
		if err != nil && (err.Error() == "" || strings.Contains(err.Error(), "\n")) {
			t.Errorf("not one line: %q", err)
		}
	})
}
