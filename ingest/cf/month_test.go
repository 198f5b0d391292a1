package cf

import (
	"slices"
	"strings"
	"testing"
	"time"
)

func TestMonths(t *testing.T) {
	year := []int{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}
	flat := func(name string, v string, n int) string {
		return name + " = " + strings.TrimSuffix(strings.Repeat(v+",", 4*n), ",") + " ;"
	}
	ghi := `float rsds(time, lat, lon) ; rsds:units = "W m-2" ;`
	mid := "15.5, 45, 74.5, 105, 135.5, 166, 196.5, 227.5, 258, 288.5, 319, 349.5"
	// CF conventions, example 7.8 in kind: the mean of Januaries and so on of 1960 to 1990.
	var climate []string
	for m := time.January; m <= time.December; m++ {
		epoch := time.Date(1960, 1, 1, 0, 0, 0, 0, time.UTC)
		from, to := time.Date(1960, m, 1, 0, 0, 0, 0, time.UTC), time.Date(1990, m+1, 1, 0, 0, 0, 0, time.UTC)
		climate = append(climate, list(from.Sub(epoch).Hours()/24, from.Sub(epoch).Hours()/24, 1), list(to.Sub(epoch).Hours()/24, to.Sub(epoch).Hours()/24, 1))
	}
	for name, tt := range map[string]struct {
		c    cdl
		want []int
	}{
		"middles":       {cdl{time: mid, units: "days since 2001-01-01", vars: ghi, data: flat("rsds", "200", 12)}, year},
		"first days":    {cdl{time: "0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334", units: "days since 1-1-1 00:00:0.0", vars: ghi, data: flat("rsds", "200", 12)}, year},
		"two years":     {cdl{time: list(0, 23, 1), units: "months since 2001-01-15", vars: ghi, data: flat("rsds", "200", 24)}, append(slices.Clone(year), year...)},
		"from December": {cdl{time: "0, 31, 62", units: "days since 2000-12-01", vars: ghi, data: flat("rsds", "200", 3)}, []int{12, 1, 2}},
		"ends, bounded": {cdl{time: "31, 59, 90", units: "days since 2001-01-01", attrs: `time:bounds = "tb" ; double tb(time, two) ;`, vars: ghi,
			data: flat("rsds", "200", 3) + "tb = 0, 31, 31, 59, 59, 90 ;"}, []int{1, 2, 3}},
		"climatology": {cdl{time: mid, units: "days since 1960-01-01", attrs: `time:climatology = "cb" ; double cb(time, two) ;`,
			vars: ghi + `rsds:cell_methods = "time: mean within years time: mean over years" ;`,
			data: flat("rsds", "200", 12) + "cb = " + strings.Join(climate, ", ") + " ;"}, year},
		"numbers": {cdl{time: list(1, 12, 1), units: "month", vars: ghi, data: flat("rsds", "200", 12)}, year},
		"YYYYMM":  {cdl{time: "202211, 202212, 202301", units: "YYYYMM", vars: ghi, data: flat("rsds", "200", 3)}, []int{11, 12, 1}},
	} {
		f := only(t, read(t, tt.c))
		if !slices.Equal(f.Months, tt.want) || f.Axis != nil {
			t.Errorf("%s: months %v, axis %v, want %v", name, f.Months, f.Axis, tt.want)
		}
	}

	// The mean of the year stands between the years and is left out.
	f := read(t, cdl{time: list(202201, 202213, 1) + ", " + list(202301, 202313, 1), units: "Long Term Monthly Averages", vars: ghi,
		data: "rsds = " + list(100, 203, 1) + " ;"})
	got := all(t, f, only(t, f))
	if len(got) != 24*4 || got[47] != 147 || got[48] != 152 || got[95] != 199 || len(f.Warnings) != 1 {
		t.Errorf("%v, warnings %q", got, f.Warnings)
	}
}

// Sums in records that are months: 30 days of 24 MJ are 720 MJ, a mean of
// 24e6/86400 = 277.8 W/m².
func TestMonthlySums(t *testing.T) {
	field := func(units, methods, value string, months int) cdl {
		return cdl{time: list(0, float64(months-1), 1), units: "months since 2001-01-01",
			vars: `double rsds(time, lat, lon) ; rsds:units = "` + units + `" ; rsds:cell_methods = "` + methods + `" ;`,
			data: "rsds = _, " + strings.TrimSuffix(strings.Repeat(value+",", 4*months-1), ",") + " ;"}
	}
	for name, c := range map[string]cdl{
		"a month told":   field("MJ m-2", "time: sum", "720", 12),
		"month by value": field("MJ m-2", "", "720", 12),
		"day by value":   field("MJ m-2", "", "24", 12),
		"a day told":     field("MJ m-2 day-1", "", "24", 12),
	} {
		f := read(t, c)
		got := all(t, f, only(t, f))
		// February has 28 days in 2001: 720 MJ in it are 297.6 W/m².
		if february := got[4]; strings.Contains(name, "month") != near(february, 297.6190) {
			t.Errorf("%s: February has %v W/m²", name, february)
		}
		if april := got[4*3]; !near(april, 277.7778) {
			t.Errorf("%s: April has %v W/m²", name, april)
		}
		if wantWarning := strings.Contains(name, "by value"); (len(f.Warnings) == 1) != wantWarning {
			t.Errorf("%s: warnings %q", name, f.Warnings)
		}
	}
	refuse(t, "too few months", field("MJ m-2", "", "24", 3), "neither cell_methods nor the values tell")
	refuse(t, "day sums called means", field("W m-2", "", "24", 12), "no month above 24 W/m² is impossible")
	refuse(t, "month sums called means", field("W m-2", "", "7200", 12), "7200 W/m² is impossible")
}
