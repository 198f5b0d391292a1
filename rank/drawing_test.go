package rank

import (
	"bytes"
	"image/png"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// With pictures, every map has its two, among the files of the summary; the same
// ranking draws the same bytes.
func TestPictures(t *testing.T) {
	draw := func() (string, []string) {
		o, blocks := halvane(t)
		o.Pictures, o.Tiles, o.Title, o.Source = true, true, "Halvane", "Weather: invented."
		return o.Out, summarise(t, o, blocks...).Files
	}
	dir, files := draw()
	again, _ := draw()
	if d := cmp.Diff(names(t, dir), slices.Sorted(slices.Values(files))); d != "" {
		t.Errorf("-there +of the summary:\n%s", d)
	}
	for _, name := range files {
		a, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		if b, err := os.ReadFile(filepath.Join(again, name)); err != nil || !bytes.Equal(a, b) {
			t.Errorf("%s: drawn twice, not the same (%v)", name, err)
		}
		stem, isMap := strings.CutSuffix(name, mapSuffix)
		if !isMap {
			continue
		}
		if !slices.Contains(files, stem+".png") || !slices.Contains(files, stem+".svg") {
			t.Errorf("%s has no pictures among %v", name, files)
		}
	}
	for _, name := range []string{PageFile, bandsPicture, TilesFile} {
		if !slices.Contains(files, name) {
			t.Errorf("no %s among %v", name, files)
		}
	}
	f, err := os.Open(filepath.Join(dir, "map-year-45.png"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if _, err := png.Decode(f); err != nil {
		t.Error(err)
	}
	if svg, err := os.ReadFile(filepath.Join(dir, "map-year-45.svg")); err != nil || !bytes.Contains(svg, []byte("Halvane")) {
		t.Errorf("no title in the drawing: %v", err)
	}
}
