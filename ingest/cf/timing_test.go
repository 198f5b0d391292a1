package cf

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"stillrow/ingest/netcdf"
)

// Where a stamp lies in its interval.
func TestStamps(t *testing.T) {
	ghi, values := `float rsds(time, lat, lon) ; rsds:units = "W m-2" ; `, "rsds = "+twelve+" ; "
	tas, warm := `float tas(time, lat, lon) ; tas:units = "degC" ; `, "tas = 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12 ; "
	bounds := `time:bounds = "tb" ; double tb(time, two) ;`
	for name, tt := range map[string]struct {
		c            cdl
		from         int64
		instant      bool
		undocumented bool
		local        bool
	}{
		"ends":                   {c: cdl{time: "1, 2, 3", attrs: bounds, vars: ghi, data: values + "tb = 0, 1, 1, 2, 2, 3 ;"}, from: -3600},
		"begins":                 {c: cdl{attrs: bounds, vars: ghi, data: values + "tb = 0, 1, 1, 2, 2, 3 ;"}, from: 0},
		"centred":                {c: cdl{time: "0.5, 1.5, 2.5", attrs: bounds, vars: ghi + `rsds:cell_methods = "area: time: mean" ;`, data: values + "tb = 0, 1, 1, 2, 2, 3 ;"}, from: -1800},
		"one record":             {c: cdl{time: "1", attrs: bounds, vars: ghi, data: "rsds = 1, 2, 3, 4 ; tb = 0, 1 ;"}, from: -3600},
		"point":                  {c: cdl{vars: ghi + `rsds:cell_methods = "time: point" ;`, data: values}, instant: true},
		"point, with bounds":     {c: cdl{attrs: bounds, vars: ghi + `rsds:cell_methods = "time: point (at the satellite's pass: mean)" ;`, data: values + "tb = 0, 1, 1, 2, 2, 3 ;"}, instant: true},
		"mean":                   {c: cdl{vars: ghi + `rsds:cell_methods = "time: mean" ;`, data: values}, undocumented: true},
		"nothing":                {c: cdl{vars: ghi, data: values}, undocumented: true},
		"temperature":            {c: cdl{vars: tas, data: warm}, instant: true},
		"temperature, a mean":    {c: cdl{time: "1, 2, 3", attrs: bounds, vars: tas + `tas:cell_methods = "time: mean" ;`, data: warm + "tb = 0, 1, 1, 2, 2, 3 ;"}, from: -3600},
		"local":                  {c: cdl{attrs: `time:standard_name = "local_time" ;`, vars: tas, data: warm}, instant: true, local: true},
		"sums of nobody":         {c: cdl{vars: strings.Replace(ghi, "W m-2", "Wh m-2", 1), data: values}, undocumented: true},
		"sums of ECMWF":          {c: cdl{vars: strings.Replace(ghi, "W m-2", "Wh m-2", 1) + `:institution = "ECMWF" ;`, data: values}, from: -3600},
		"instants named by GRIB": {c: cdl{vars: ghi + `rsds:GRIB_stepType = "instant" ;`, data: values}, instant: true},
	} {
		f := only(t, read(t, tt.c))
		if f.Axis.From != tt.from || f.Axis.Instant != tt.instant || f.Undocumented != tt.undocumented || f.Local != tt.local || f.Axis.Step != 3600 {
			t.Errorf("%s: %+v, undocumented %v, local %v", name, *f.Axis, f.Undocumented, f.Local)
		}
	}
}

// Fields of one meaning share an axis.
func TestSharedAxis(t *testing.T) {
	f := read(t, cdl{vars: `float tas(time, lat, lon) ; tas:units = "degC" ; float ps(time, lat, lon) ; ps:units = "Pa" ;`})
	if len(f.Fields) != 2 || f.Fields[0].Axis != f.Fields[1].Axis {
		t.Errorf("%+v", f.Fields)
	}
}

// Intervals that end where a noleap calendar leaves a 29 February out are as long
// as the others, whichever end the stamps are at.
func TestNoLeapBounds(t *testing.T) {
	var bounds []string
	for h := 58 * 24; h <= 60*24; h++ {
		bounds = append(bounds, fmt.Sprint(h), fmt.Sprint(h+1))
	}
	for late, from := range map[float64]int64{0: 0, 1: -3600} {
		f := only(t, read(t, cdl{time: list(58*24+late, 60*24+late, 1), units: "hours since 2008-01-01",
			attrs: `time:calendar = "noleap" ; time:bounds = "tb" ; double tb(time, two) ;`,
			vars:  `float rsds(time, lat, lon) ; rsds:units = "W m-2" ;`, data: "tb = " + strings.Join(bounds, ", ") + " ;"}))
		if f.Axis.From != from || f.Axis.Step != 3600 {
			t.Errorf("stamps %g h late: %d s, step %d", late, f.Axis.From, f.Axis.Step)
		}
	}
}

func TestNoLeapGap(t *testing.T) {
	f := only(t, read(t, cdl{time: list(58*24, 60*24, 1), units: "hours since 2008-01-01", attrs: `time:calendar = "noleap" ;`,
		vars: `float rsds(time, lat, lon) ; rsds:units = "W m-2" ;`}))
	if len(f.Axis.Stamp) != 49 || f.Axis.Step != 3600 {
		t.Fatalf("%d stamps, step %d", len(f.Axis.Stamp), f.Axis.Step)
	}
	// 28 February begins 58 days after New Year; 1 March follows it here.
	for i, want := range map[int]string{0: "2008-02-28T00:00:00Z", 23: "2008-02-28T23:00:00Z", 24: "2008-03-01T00:00:00Z", 48: "2008-03-02T00:00:00Z"} {
		if got := time.Unix(f.Axis.Stamp[i], 0).UTC().Format(time.RFC3339); got != want {
			t.Errorf("stamp %d is %s, want %s", i, got, want)
		}
	}
}

// A clear day's irradiance as hourly sums, and as sums since midnight and since
// noon and midnight, in J/m².
func TestAccumulated(t *testing.T) {
	hourly := func(h int) float64 { return max(0, 3e6*math.Sin(math.Pi*float64(h%24-6)/12)) }
	for name, tt := range map[string]struct {
		reset, phase int // hours
		refused      bool
	}{
		"hourly":                  {1, 0, false},
		"since midnight":          {24, 0, true},
		"since 18 h":              {24, 18, true},
		"since noon and midnight": {12, 0, true},
	} {
		var values []string
		sum := 0.0
		for h := range 96 {
			if (h+tt.phase)%tt.reset == 0 {
				sum = 0
			}
			sum += hourly(h)
			for range 4 {
				values = append(values, list(math.Round(sum), math.Round(sum), 1))
			}
		}
		values[40], values[41] = "_", "_" // a hole hides nothing
		c := cdl{time: list(1, 96, 1), vars: `double ssrd(time, lat, lon) ; ssrd:units = "J m-2" ;`, data: "ssrd = " + strings.Join(values, ", ") + " ;"}
		if tt.refused {
			refuse(t, name, c, "ssrd: accumulated since the start of a forecast")
		} else {
			only(t, read(t, c))
		}
	}
}

func TestTimeMethod(t *testing.T) {
	// Attributes of the CF conventions, section 7.3 and 7.4.
	for text, want := range map[string]string{
		"time: mean":                                     "mean",
		"area: mean time: point":                         "point",
		"lat: lon: standard_deviation":                   "",
		"time: lat: lon: mean":                           "mean",
		"time: mean (interval: 1 hr)":                    "mean",
		"time: maximum within days time: mean over days": "maximum within days mean over days",
		"area: time: mean (comment: sum of all":          "mean",
		"":                                               "",
		":":                                              "",
	} {
		v := &netcdf.Var{Attrs: []netcdf.Attr{{Name: "cell_methods", Text: text}}}
		if got := timeMethod(v); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}
