package cf

import (
	"os"
	"testing"

	"stillrow/ingest/grid"
	"stillrow/ingest/netcdf"
	"stillrow/ingest/weather/realfiles"
)

// open reads a NetCDF file from disk.
func open(t testing.TB, path string) *grid.File {
	t.Helper()
	f, err := Read(openRaw(t, path))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func openRaw(t testing.TB, path string) *netcdf.File {
	t.Helper()
	h, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { h.Close() })
	info, err := h.Stat()
	if err != nil {
		t.Fatal(err)
	}
	f, err := netcdf.Open(h, info.Size(), path)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func TestDump(t *testing.T) {
	for _, n := range []string{"era5_51.5N0.125W-201310-sfc.nc", "livneh_NAmerExt_15Oct2014.WalnutGulch.2008.nc", "esku_heat_budget.cdf"} {
		f := open(t, realfiles.Path(t, "grid/"+n))
		t.Log(f.Name, f.Set, f.Lat, f.LatEdges, f.Lon)
		for _, w := range f.Warnings {
			t.Log("WARN", w)
		}
		for _, x := range f.Fields {
			nt := x.Records()
			d := make([]float32, nt*len(f.Lat)*len(f.Lon))
			if err := x.Read(d, 0, nt, 0, len(f.Lat)); err != nil {
				t.Fatal(err)
			}
			lo, hi, sum, k := float32(1e30), float32(-1e30), 0.0, 0
			for _, v := range d {
				if v == v {
					lo, hi, sum, k = min(lo, v), max(hi, v), sum+float64(v), k+1
				}
			}
			if x.Axis != nil {
				t.Log(x.Axis.Step, x.Axis.From, x.Axis.Instant, dateOf0(x.Axis.Stamp[0]), len(x.Axis.Stamp))
			}
			t.Log(x.Quantity, x.Variable, x.Height, x.Local, x.Months, x.Undocumented, nt, lo, hi, sum/float64(k), x.ChunkTime, x.ChunkRows)
		}
	}
}
func dateOf0(s int64) date { return gregorian.dateOf(s) }
