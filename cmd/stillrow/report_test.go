package main

import (
	"bytes"
	"testing"

	"stillrow/ingest"
	"stillrow/ingest/repair"
)

// The report says of each file what became of it: sites with their sums, a whole
// file set aside, one that goes with another, one outside the area.
func TestReport(t *testing.T) {
	sum := ingest.Summary{Sites: 3, SetAside: 4, Inputs: []ingest.Input{
		{Name: "in/station.epw", Sites: 1, Status: ingest.StatusOK, Report: repair.Report{GHI: 1800.4, DNI: 2000.6, ClearShare: 0.416, FilledHours: 12}},
		{Name: "in/torn.epw", Status: ingest.StatusSetAside, Reason: "torn"},
		{Name: "in/sun.nc", Sites: 2, Status: ingest.StatusOK, Report: repair.Report{GHI: 1500, DNI: 1600, ClearShare: 0.3},
			Cells: &ingest.Cells{All: 4, SetAside: 2, GHIRange: [2]float64{1400, 1600}, DNIRange: [2]float64{1500, 1700}}},
		{Name: "in/air.nc", Status: ingest.StatusJoined, Reason: "with in/sun.nc", Cells: &ingest.Cells{All: 4}},
		{Name: "in/month.nc", Status: ingest.StatusSetAside, Reason: "one month", Cells: &ingest.Cells{All: 49}},
		{Name: "in/far.nc", Status: ingest.StatusOutside, Cells: &ingest.Cells{All: 4, Outside: 4}},
	}}
	const want = `file         sites  hours  filled   set aside           GHI kWh/m²           DNI kWh/m²  clear hours
station.epw      1   8760      12                             1800                 2001         42 %
torn.epw         0                          1
sun.nc           2  17520       0           2  1500 (1400 to 1600)  1600 (1500 to 1700)         30 %
air.nc           0                     joined
month.nc         0                 whole file
far.nc           0                    outside
3 sites, 4 set aside
`
	var out bytes.Buffer
	if err := writeReport(&out, sum); err != nil {
		t.Fatal(err)
	}
	if out.String() != want {
		t.Errorf("got\n%s\nwant\n%s", out.String(), want)
	}
}
