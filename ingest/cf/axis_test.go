package cf

import (
	"slices"
	"testing"
)

func TestLongitudes(t *testing.T) {
	tas := `float tas(time, lat, lon) ; tas:units = "degC" ;`
	for name, tt := range map[string]struct {
		lon     string
		want    []float64
		warning bool
	}{
		"round":         {"0, 90, 180, 270, 360, 450", []float64{0, 90, 180, 270}, true},
		"past 360":      {"200, 300, 400", []float64{200, 300, 400}, false},
		"wraps":         {"170, 175, -180, -175", []float64{170, 175, 180, 185}, false},
		"past, no copy": {"20, 100, 200, 300, 375", []float64{20, 100, 200, 300, 375}, false},
	} {
		f := read(t, cdl{lon: tt.lon, vars: tas})
		if !slices.Equal(f.Lon, tt.want) || (len(f.Warnings) > 0) != tt.warning {
			t.Errorf("%s: %v, %q", name, f.Lon, f.Warnings)
		}
		if got := all(t, f, only(t, f)); len(got) != 3*2*len(tt.want) {
			t.Errorf("%s: %d values", name, len(got))
		}
	}
}

func TestSpellingsOfDirections(t *testing.T) {
	// CF conventions, sections 4.1 and 4.2, and two seen in the wild.
	for _, s := range []string{"degrees_north", "degree_north", "degree_N", "degrees_N", "degreeN", "degreesN", "degrees North", "deg_north"} {
		if !slices.Contains(latitude.units, squeeze(s)) {
			t.Errorf("%q is no latitude", s)
		}
	}
	for _, s := range []string{"degrees_east", "degree_east", "degree_E", "degrees_E", "degreeE", "degreesE", "degrees East"} {
		if !slices.Contains(longitude.units, squeeze(s)) {
			t.Errorf("%q is no longitude", s)
		}
	}
}

func TestEdges(t *testing.T) {
	tas := `float tas(time, lat, lon) ; tas:units = "degC" ;`
	for name, tt := range map[string]struct {
		attrs, data string
		lat         string
		want        []float64
	}{
		"bounds":        {`lat:bounds = "lb" ; double lb(lat, two) ;`, "lb = 9, 10.5, 10.5, 12 ;", "", []float64{9, 10.5, 12}},
		"falling":       {`lat:bounds = "lb" ; double lb(lat, two) ;`, "lb = 10.5, 12, 9, 10.5 ;", "11, 10", []float64{12, 10.5, 9}},
		"edges":         {`lat:edges = "lb" ; double lb(three) ;`, "lb = 9, 10.5, 12 ;", "", []float64{9, 10.5, 12}},
		"gap":           {`lat:bounds = "lb" ; double lb(lat, two) ;`, "lb = 9, 10.2, 10.5, 12 ;", "", nil},
		"not around":    {`lat:edges = "lb" ; double lb(three) ;`, "lb = 9, 9.5, 12 ;", "", nil},
		"nothing there": {`lat:bounds = "lb" ;`, "", "", nil},
	} {
		f := read(t, cdl{dims: "three = 3 ;", lat: tt.lat, vars: tas + tt.attrs, data: tt.data})
		if !slices.Equal(f.LatEdges, tt.want) {
			t.Errorf("%s: %v, want %v", name, f.LatEdges, tt.want)
		}
	}
}
