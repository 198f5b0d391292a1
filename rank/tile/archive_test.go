package tile

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"stillrow/rank/pmtiles/archivetest"
	"stillrow/rank/survey"
)

func TestMetadata(t *testing.T) {
	a := written(t, region(t, 4, 4, 3, 35, -10, 0.5), 1)
	text, err := archivetest.Unpack(a.Section(archivetest.Metadata))
	if err != nil {
		t.Fatal(err)
	}
	var got metadata
	if err := json.Unmarshal(text, &got); err != nil {
		t.Fatal(err)
	}
	if got.Name != "Halvane" || got.Attribution != "invented &amp; free" || len(got.Layers) != 3 || got.Layers[1].ID != "winter-35" ||
		got.Layers[1].Description != "use winter, water of 35 °C, prices in EUR" {
		t.Errorf("metadata %+v", got)
	}
	for _, f := range tiles(t, a, zooms(a))[0].layers[2].Features {
		for name, v := range f.Properties {
			kind := map[string]string{"string": "String", "float64": "Number", "bool": "Boolean"}[fmt.Sprintf("%T", v)]
			if got.Layers[2].Fields[name] != kind {
				t.Errorf("property %s is a %s, the metadata say %q", name, kind, got.Layers[2].Fields[name])
			}
		}
	}
	described := make(map[string]bool)
	for _, p := range Properties() {
		described[p[0]] = p[2] != ""
	}
	for name := range got.Layers[0].Fields {
		if !described[name] {
			t.Errorf("property %s has no meaning", name)
		}
	}
}

// Nothing to show is an archive all the same, of one empty tile.
func TestNothing(t *testing.T) {
	for _, places := range [][]survey.Place{nil, {{ID: "pole", Lat: 90}}} {
		a := written(t, surveyOf(t, nil, places...), 1)
		all := tiles(t, a, 0)
		if len(all) != 1 || len(all[0].layers) != 0 {
			t.Errorf("%d places: %v", len(places), all)
		}
	}
}

func TestRefused(t *testing.T) {
	s := region(t, 4, 4, 3, 35, -10, 0.5)
	stop := errors.New("stop")
	for _, tt := range []struct {
		o    Options
		want string
	}{
		{Options{Names: []string{"a"}, Dir: t.TempDir()}, "tiles: 1 names, want one for each of 3 layers"},
		{Options{Names: names(s), Dir: "none/there"}, "tiles: scratch file: open none/there"},
		{Options{Names: names(s), Dir: t.TempDir(), Interrupted: func() error { return stop }}, "tiles: stop"},
	} {
		if err := Write(&bytes.Buffer{}, s, tt.o); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("error %v, want %q", err, tt.want)
		}
		if left, _ := os.ReadDir(tt.o.Dir); len(left) > 0 {
			t.Errorf("left behind: %v", left)
		}
	}
}

func TestRounding(t *testing.T) {
	for _, tt := range []struct {
		round   func(float64) float64
		v, want float64
	}{
		{figures(4), 0.083456, 0.08346}, {figures(4), 123456, 123500}, {figures(3), -0.004567, -0.00457}, {figures(3), 0, 0},
		{belowOne, 0.99996, 0.999}, {belowOne, 1.0001, 1}, {belowOne, 0.7126, 0.713},
		{downwards, 0.899, 0.89}, {downwards, float64(float32(0.9)), 0.9}, {downwards, 1, 1},
		{decimals(0), -0.2, 0},
	} {
		if got := tt.round(tt.v); got != tt.want || math.Signbit(got) && got == 0 {
			t.Errorf("%v becomes %v, want %v", tt.v, got, tt.want)
		}
	}
}
