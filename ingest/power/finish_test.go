package power

import (
	"math"
	"strings"
	"testing"

	"stillrow/ingest/repair"
	"stillrow/ingest/series"
)

// The whole years keep their GHI; the others are set aside, naming a month that
// they lack.
func TestRealFinish(t *testing.T) {
	for file, ghi := range map[string]float64{brussels: 1204, philippines: 1871} { // kWh/m², as found by an independent reading
		s, _ := parseReal(t, file)
		raw, err := s.Raw(series.Options{})
		if err != nil {
			t.Fatal(err)
		}
		site, year, _, err := repair.Finish(raw, repair.Stamped)
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for _, x := range year.GHI {
			sum += float64(x) / 1000
		}
		if math.Abs(sum-ghi) > 1 || site.UTCOffset != math.Round(site.Lon/15) || site.Year[0] != 2025 {
			t.Errorf("%s: GHI %.1f kWh/m², want %g; site %+v", file, sum, ghi, site)
		}
		t.Logf("%s: GHI %.1f kWh/m², zone %+g, flags %v", file, sum, site.UTCOffset, site.Flags)
	}
	for file, month := range map[string]string{oneMonth: "January", sydney: "December"} {
		s, _ := parseReal(t, file)
		_, err := s.Raw(series.Options{})
		t.Logf("%s: %v", file, err)
		if err == nil || !strings.Contains(err.Error(), month) {
			t.Errorf("%s: %v, want %s named", file, err, month)
		}
	}
}
