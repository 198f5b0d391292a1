package pmtiles

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"stillrow/rank/pmtiles/archivetest"
)

var info = Info{
	MinZoom: 0, MaxZoom: 8,
	Bound:  orb.Bound{Min: orb.Point{-180, -85.5}, Max: orb.Point{12.3456789, 60}},
	Centre: orb.Point{-7.5, 55}, CentreZoom: 4,
	Metadata: map[string]any{"name": "Halvane", "vector_layers": []any{}},
}

// written is the archive of some tiles: their contents by id.
func written(t testing.TB, ids []uint64, content func(id uint64) []byte) archivetest.Archive {
	t.Helper()
	dir := t.TempDir()
	w, err := NewWriter(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	for _, id := range ids {
		if err := w.Add(id, content(id)); err != nil {
			t.Fatal(err)
		}
	}
	var out bytes.Buffer
	if err := w.Finish(&out, info); err != nil {
		t.Fatal(err)
	}
	w.Close()
	if left, _ := os.ReadDir(dir); len(left) > 0 {
		t.Fatalf("left behind: %v", left)
	}
	return out.Bytes()
}

// content has runs of sea, and repeats some tiles.
func content(id uint64) []byte {
	if id/50%3 == 0 {
		return []byte("sea")
	}
	length := rand.New(rand.NewPCG(id, 0)).Uint64N(200) // of no pattern, so that directories are long
	return fmt.Appendf(nil, "tile %d%s", id-id%7*(id%2), strings.Repeat(".", int(length)))
}

func TestRoundTrip(t *testing.T) {
	for _, n := range []int{1, 500, 60_000} {
		var ids []uint64
		for id := range uint64(n) {
			if id%11 != 3 || n == 1 {
				ids = append(ids, id)
			}
		}
		a := written(t, ids, content)
		if root := len(a.Section(archivetest.Root)); root > rootLimit {
			t.Errorf("%d tiles: a root of %d bytes", n, root)
		}
		if leaves := len(a.Section(archivetest.Leaves)); (leaves > 0) != (n > 10_000) {
			t.Errorf("%d tiles: leaves of %d bytes", n, leaves)
		}
		distinct := make(map[string]bool)
		step := 1 + n/400
		for i, id := range ids {
			distinct[string(content(id))] = true
			if i%step > 0 {
				continue
			}
			got, err := a.Tile(id)
			if err != nil || !bytes.Equal(got, content(id)) {
				t.Fatalf("tile %d is %q, %v", id, got, err)
			}
		}
		for _, id := range []uint64{3, 14, uint64(n)} {
			if got, err := a.Tile(id); got != nil || err != nil {
				t.Errorf("%d tiles: no tile %d, got %q, %v", n, id, got, err)
			}
		}
		if a.Number(72) != uint64(len(ids)) || a.Number(88) != uint64(len(distinct)) || a.Number(80) > a.Number(72) {
			t.Errorf("%d tiles: header counts %d tiles, %d entries, %d contents; want %d, fewer, %d",
				n, a.Number(72), a.Number(80), a.Number(88), len(ids), len(distinct))
		}
		if end := a.Number(archivetest.Tiles) + a.Number(archivetest.Tiles+8); end != uint64(len(a)) {
			t.Errorf("%d tiles: sections end at %d of %d bytes", n, end, len(a))
		}
	}
}

// Every byte of the header, set out by hand after the specification's table.
func TestHeader(t *testing.T) {
	a := written(t, []uint64{7, 8, 9, 12}, func(id uint64) []byte { return []byte("abc") })
	want := "PMTiles\x03" +
		"\x7f\x00\x00\x00\x00\x00\x00\x00" + le(len(a.Section(archivetest.Root))) +
		le(127+len(a.Section(archivetest.Root))) + le(len(a.Section(archivetest.Metadata))) +
		le(len(a)-3) + le(0) + le(len(a)-3) + "\x03\x00\x00\x00\x00\x00\x00\x00" +
		le(4) + le(2) + le(1) + "\x01\x02\x02\x01\x00\x08" +
		"\x00\x2e\xb6\x94" + // -1800000000
		"\x40\xbc\x09\xcd" + // -855000000
		"\x15\xcd\x5b\x07" + // 123456789
		"\x00\x46\xc3\x23" + // 600000000
		"\x04" + "\x40\x97\x87\xfb" + "\x80\x55\xc8\x20" // -75000000, 550000000
	if got := string(a[:headerSize]); got != want {
		t.Errorf("header\n%x, want\n%x", got, want)
	}
	text, err := archivetest.Unpack(a.Section(archivetest.Metadata))
	if err != nil || string(text) != `{"name":"Halvane","vector_layers":[]}` {
		t.Errorf("metadata %s, %v", text, err)
	}
}

func le(n int) string { return string([]byte{byte(n), byte(n >> 8), 0, 0, 0, 0, 0, 0}) }

func TestRefused(t *testing.T) {
	w, err := NewWriter(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	check := func(err error, want string) {
		t.Helper()
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want %q", err, want)
		}
	}
	check(w.Finish(&bytes.Buffer{}, info), "no tile, want at least one")
	check(w.Add(3, nil), "tile 3: 0 bytes, want 1")
	for id := range uint64(3) {
		if err := w.Add(5+id, []byte("same")); err != nil {
			t.Fatal(err)
		}
	}
	check(w.Add(7, []byte("other")), "tile 7 after tile 7, want ids to ascend")
	check(w.Finish(&bytes.Buffer{}, Info{Metadata: func() {}}), "metadata: json")
	if _, err := NewWriter(filepath.Join(t.TempDir(), "none")); err == nil {
		t.Error("a scratch file in no folder")
	}
}

func TestDirectoryRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 300).Draw(t, "entries")
		list := make([]entry, n)
		id := uint64(0)
		for i := range list {
			id += rapid.Uint64Range(0, 1<<50).Draw(t, "step")
			e := entry{id: id, run: rapid.Uint32().Draw(t, "run"), length: rapid.Uint32().Draw(t, "length")}
			if i > 0 && rapid.Bool().Draw(t, "follows") {
				e.offset = list[i-1].offset + uint64(list[i-1].length)
			} else {
				e.offset = rapid.Uint64Range(0, 1<<60).Draw(t, "offset")
			}
			list[i] = e
			id++
		}
		got, err := archivetest.Directory(appendDirectory(nil, list))
		if err != nil {
			t.Fatal(err)
		}
		var want []archivetest.Entry
		for _, e := range list {
			want = append(want, archivetest.Entry{ID: e.id, Offset: e.offset, Length: e.length, Run: e.run})
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Fatal(d)
		}
	})
}

// reads is the read-back by npm pmtiles: its header, metadata, and tiles by
// their place on the map.
const reads = `
import {PMTiles} from 'pmtiles'; import fs from 'fs';
const file = fs.openSync(process.argv[2]);
const p = new PMTiles({getKey: () => 'x', getBytes: async (offset, length) => {
  const b = Buffer.alloc(length); const n = fs.readSync(file, b, 0, length, offset);
  return {data: b.buffer.slice(b.byteOffset, b.byteOffset + n)}}});
const h = await p.getHeader();
const tiles = {};
for (const at of ['0/0/0', '1/1/0', '5/17/9', '7/100/3', '7/101/64', '8/0/0']) {
  const t = await p.getZxy(...at.split('/').map(Number));
  tiles[at] = t ? Buffer.from(t.data).toString() : '';
}
console.log(JSON.stringify({z: [h.minZoom, h.maxZoom, h.centerZoom], at: [h.minLon, h.minLat, h.maxLon, h.maxLat, h.centerLon, h.centerLat],
  n: [h.numAddressedTiles, h.numTileEntries, h.numTileContents], clustered: h.clustered, type: h.tileType, metadata: await p.getMetadata(), tiles}));
`

// Read back by npm pmtiles (4.5.0 was tried), which had no part in the writing.
func TestReadByNode(t *testing.T) {
	modules := os.Getenv("STILLROW_NODE_MODULES")
	if modules == "" {
		t.Skip("STILLROW_NODE_MODULES names no folder of packages")
	}
	if _, err := os.Stat(filepath.Join(modules, "pmtiles")); err != nil {
		t.Skip(err)
	}
	if _, err := exec.LookPath("node"); err != nil {
		t.Skip("no node on the PATH")
	}
	var ids []uint64
	for z := uint8(0); z <= 7; z++ {
		n := uint64(1) << (2 * z)
		for id := (n - 1) / 3; id < (4*n-1)/3; id++ {
			ids = append(ids, id)
		}
	}
	label := func(id uint64) string {
		if id%50 < 10 {
			return "sea"
		}
		return fmt.Sprint("tile ", id)
	}
	a := written(t, ids, func(id uint64) []byte {
		b, err := packed([]byte(label(id)))
		if err != nil {
			t.Fatal(err)
		}
		return b
	})
	dir := t.TempDir()
	// A module looks for packages in the folders above it.
	if err := os.Symlink(modules, filepath.Join(dir, "node_modules")); err != nil {
		t.Fatal(err)
	}
	for name, content := range map[string][]byte{"read.mjs": []byte(reads), "a.pmtiles": a} {
		if err := os.WriteFile(filepath.Join(dir, name), content, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	cmd := exec.Command("node", filepath.Join(dir, "read.mjs"), filepath.Join(dir, "a.pmtiles"))
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	type seen struct {
		Z         []int             `json:"z"`
		At        []float64         `json:"at"`
		N         []uint64          `json:"n"`
		Clustered bool              `json:"clustered"`
		Type      int               `json:"type"`
		Metadata  map[string]any    `json:"metadata"`
		Tiles     map[string]string `json:"tiles"`
	}
	var got seen
	if err := json.Unmarshal(out, &got); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	want := seen{
		Z: []int{0, 8, 4}, At: []float64{-180, -85.5, 12.3456789, 60, -7.5, 55},
		N: []uint64{uint64(len(ids)), a.Number(80), a.Number(88)}, Clustered: true, Type: 1,
		Metadata: map[string]any{"name": "Halvane", "vector_layers": []any{}},
		Tiles: map[string]string{
			"0/0/0": label(0), "1/1/0": label(4), "5/17/9": label(ID(5, 17, 9)),
			"7/100/3": label(ID(7, 100, 3)), "7/101/64": label(ID(7, 101, 64)), "8/0/0": "",
		},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}
