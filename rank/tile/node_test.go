package tile

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/paulmach/orb"
)

// reads prints every feature of every layer of some tiles: id, kind, bounds and
// properties.
const reads = `
import {PMTiles} from 'pmtiles'; import {VectorTile} from '@mapbox/vector-tile'; import {PbfReader} from 'pbf'; import fs from 'fs';
const file = fs.openSync(process.argv[2]);
const p = new PMTiles({getKey: () => 'x', getBytes: async (offset, length) => {
  const b = Buffer.alloc(length); const n = fs.readSync(file, b, 0, length, offset);
  return {data: b.buffer.slice(b.byteOffset, b.byteOffset + n)}}});
const tiles = {};
for (const at of process.argv.slice(3)) {
  const t = await p.getZxy(...at.split('/').map(Number));
  tiles[at] = {};
  const v = new VectorTile(new PbfReader(new Uint8Array(t.data)));
  for (const name in v.layers) {
    const l = v.layers[name];
    tiles[at][name] = [];
    for (let i = 0; i < l.length; i++) {
      const f = l.feature(i), b = f.bbox();
      tiles[at][name].push({id: f.id, type: f.type, version: l.version, extent: l.extent, box: b, properties: f.properties});
    }
  }
}
console.log(JSON.stringify({metadata: (await p.getMetadata()).vector_layers.map(l => l.id), tiles}));
`

// npm pmtiles 4.5.0 and @mapbox/vector-tile 3.0.0, tried with these, find in
// every tile what orb finds.
func TestReadByNode(t *testing.T) {
	modules := os.Getenv("STILLROW_NODE_MODULES")
	if modules == "" {
		t.Skip("STILLROW_NODE_MODULES names no folder of packages")
	}
	for _, name := range []string{"pmtiles", "@mapbox/vector-tile", "pbf"} {
		if _, err := os.Stat(filepath.Join(modules, name)); err != nil {
			t.Skip(err)
		}
	}
	if _, err := exec.LookPath("node"); err != nil {
		t.Skip("no node on the PATH")
	}
	s := region(t, 20, 24, 3, 36, -3, 0.5)
	a := written(t, s, 2)
	type feature struct {
		ID         float64        `json:"id"`
		Type       int            `json:"type"`
		Version    int            `json:"version"`
		Extent     int            `json:"extent"`
		Box        []float64      `json:"box"`
		Properties map[string]any `json:"properties"`
	}
	want := make(map[string]map[string][]feature)
	dir := t.TempDir()
	args := []string{filepath.Join(dir, "read.mjs"), filepath.Join(dir, "a.pmtiles")}
	for z := range zooms(a) + 1 {
		for _, tile := range tiles(t, a, z) {
			at := fmt.Sprintf("%d/%d/%d", tile.Z, tile.X, tile.Y)
			args = append(args, at)
			want[at] = make(map[string][]feature)
			for _, l := range tile.layers {
				for _, f := range l.Features {
					kind := 3
					if _, ok := f.Geometry.(orb.Point); ok {
						kind = 1
					}
					b := f.Geometry.Bound()
					want[at][l.Name] = append(want[at][l.Name], feature{f.ID.(float64), kind, 2, 4096,
						[]float64{b.Left(), b.Bottom(), b.Right(), b.Top()}, f.Properties})
				}
			}
		}
	}
	// A module looks for packages in the folders above it.
	if err := os.Symlink(modules, filepath.Join(dir, "node_modules")); err != nil {
		t.Fatal(err)
	}
	for i, content := range [][]byte{[]byte(reads), a} {
		if err := os.WriteFile(args[i], content, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	cmd := exec.Command("node", args...)
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Metadata []string
		Tiles    map[string]map[string][]feature
	}
	if err := json.Unmarshal(out, &got); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	if d := cmp.Diff(want, got.Tiles); d != "" {
		t.Errorf("-orb +node:\n%s", d)
	}
	if d := cmp.Diff(names(s), got.Metadata); d != "" || len(want) < 10 {
		t.Errorf("%d tiles, layers: %s", len(want), d)
	}
}
