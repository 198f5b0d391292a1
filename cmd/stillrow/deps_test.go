package main

import (
	"errors"
	"go/build"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// imports says what of ours each package may import, tests apart. A stage
// imports another stage's noun, never its verb; the physics imports itself.
var imports = map[string]string{
	"data":                     "",
	"data/outfile":             "",
	"data/world":               "",
	"data/area":                "",
	"data/lock":                "",
	"data/inorder":             "",
	"data/partstore":           "data/bucket",
	"data/bucket":              "data/outfile",
	"ingest/weather":           "data/outfile",
	"ingest/weather/realfiles": "",
	"ingest/row":               "ingest/weather ingest/sky",
	"ingest/epw":               "ingest/weather ingest/row ingest/sky",
	"ingest/tmy3":              "ingest/weather ingest/row ingest/sky",
	"ingest/sky":               "",
	"ingest/climate":           "ingest/weather ingest/sky simulate/sun",
	"ingest/day":               "simulate/sun",
	"ingest/repair":            "ingest/weather ingest/sky ingest/day simulate/sun",
	"ingest/series":            "ingest/weather ingest/sky ingest/day simulate/sun",
	"ingest/psm":               "ingest/weather ingest/row ingest/series ingest/sky",
	"ingest/power":             "ingest/weather ingest/row ingest/series ingest/sky simulate/sun",
	"ingest/grid":              "ingest/weather ingest/series ingest/climate ingest/sky",
	"ingest/raster":            "ingest/weather ingest/grid ingest/sky",
	"ingest/asciigrid":         "ingest/weather ingest/row ingest/grid ingest/raster",
	"ingest/geotiff":           "ingest/weather ingest/row ingest/grid ingest/raster",
	"ingest/hdf5":              "",
	"ingest/netcdf":            "ingest/weather ingest/hdf5",
	"ingest/cf":                "ingest/weather ingest/series ingest/grid ingest/netcdf",
	"ingest": "ingest/weather ingest/row ingest/epw ingest/tmy3 ingest/climate ingest/psm ingest/power ingest/grid ingest/asciigrid ingest/geotiff " +
		"ingest/netcdf ingest/cf ingest/series ingest/repair data/partstore data/bucket",
	"simulate/sun":             "",
	"simulate/collector":       "simulate/sun",
	"simulate/film":            "simulate/sun simulate/collector",
	"simulate/kernel":          "",
	"simulate/fit":             "",
	"simulate/result":          "data/outfile",
	"simulate":                 "data/inorder ingest/weather simulate/sun simulate/collector simulate/kernel simulate/result",
	"rank/risk":                "simulate/result",
	"rank/cost":                "simulate/result rank/risk",
	"rank/geojson":             "",
	"rank/geoparquet":          "",
	"rank/survey":              "simulate/result data/area",
	"rank/shade":               "",
	"rank/sheet":               "rank/letter simulate/result rank/cost",
	"rank/letter":              "",
	"rank/pmtiles":             "",
	"rank/pmtiles/archivetest": "",
	"rank/picture":             "rank/survey rank/shade rank/letter simulate/result",
	"rank/page":                "rank/survey rank/shade data/outfile",
	"rank/tile":                "rank/survey rank/pmtiles",
	"rank":                     "simulate/result rank/cost rank/risk rank/geojson rank/geoparquet rank/survey rank/picture rank/page data/area data/outfile rank/tile",
	"cmd/stillrow/study":       "data/area simulate simulate/collector simulate/film simulate/result rank rank/cost rank/risk",
	"cmd/stillrow":             "*",
}

// physics are the packages that compute and open nothing, with all that they
// may import besides ours: fmt and errors for their errors, io for a report.
var physics = map[string]string{
	"simulate/sun":       "math",
	"simulate/collector": "math fmt errors slices",
	"simulate/film":      "math fmt errors slices io strings",
	"simulate/kernel":    "math golang.org/x/sys/cpu",
}

// outward are packages that reach other machines or start other programs.
var outward = []string{"net", "net/http", "net/rpc", "os/exec", "plugin"}

// The tree is read in this process, not by a go list command: the test cache
// does not see what a command reads.
func TestImportPolicy(t *testing.T) {
	const root = "../.."
	seen := make(map[string]bool)
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if !d.IsDir() {
			return nil
		}
		if name := d.Name(); name == "testdata" || strings.HasPrefix(name, ".") && path != root {
			return filepath.SkipDir
		}
		p, err := build.ImportDir(path, 0)
		var none *build.NoGoError
		if errors.As(err, &none) || err == nil && len(p.GoFiles) == 0 {
			return nil // no package, or tests alone
		}
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, path)
		if err != nil {
			return err
		}
		name := filepath.ToSlash(rel)
		seen[name] = true
		may, ok := imports[name]
		if !ok {
			t.Errorf("package %s is not in the import policy", name)
			return nil
		}
		outside, isPhysics := physics[name]
		for _, i := range p.Imports {
			ours, isOurs := strings.CutPrefix(i, "stillrow/")
			switch {
			case isOurs && may != "*" && !slices.Contains(strings.Fields(may), ours):
				t.Errorf("%s imports %s, may import of ours: %s", name, ours, may)
			case isOurs:
			case slices.Contains(outward, i):
				t.Errorf("%s imports %s: nothing is fetched or executed at run time", name, i)
			case isPhysics && !slices.Contains(strings.Fields(outside), i):
				t.Errorf("%s is physics and imports %s, may import %s", name, i, outside)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for name := range imports {
		if !seen[name] {
			t.Errorf("the import policy names %s, which is not there", name)
		}
	}
}
