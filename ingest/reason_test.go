package ingest

import (
	"errors"
	"fmt"
	"slices"
	"testing"

	"stillrow/ingest/weather"
)

// What many places share is told once; numbers and months that differ do not
// make it another reason, and the number of reasons is bounded.
func TestReasons(t *testing.T) {
	var r reasons
	in := func(field, text string) error {
		return &weather.FileError{File: "g.nc", Field: field, Err: errors.New(text)}
	}
	r.add("n1e1", "g.nc", in("", "no air temperature in May to July"))
	r.add("n1e2", "g.nc", in("", "no air temperature in any month but June and August"))
	r.add("n1e3", "g.nc", in("ghi_w_m2", "missing in 14.8 % of the sunlit hours, over 10 %"))
	r.add("n1e4", "g.nc", in("", "no air temperature in any month"))
	r.add("n1e5", "g.nc", in("ghi_w_m2", "all of it is 0"))
	r.add("n1e6", "g.nc", in("ghi_w_m2", "all of it is 0"))
	r.add("", "g.nc", &weather.FileError{File: "g.nc", Line: 7, Field: "lat", Err: errors.New("91")})
	r.add("", "g.nc", &weather.FileError{File: "g.nc", Line: 8, Field: "lat", Err: errors.New("92")})
	want := []string{
		"g.nc: 3 cells, such as n1e1: no air temperature in May to July",
		"g.nc: n1e3: ghi_w_m2: missing in 14.8 % of the sunlit hours, over 10 %",
		"g.nc: 2 cells, first n1e5: ghi_w_m2: all of it is 0",
		"g.nc:7: lat: 91",
		"g.nc:8: lat: 92",
	}
	if got := r.lines("g.nc", "cells"); !slices.Equal(got, want) {
		t.Errorf("got\n%q, want\n%q", got, want)
	}
	for i := range 100 {
		r.add("x", "g.nc", in("", fmt.Sprintf("reason %c%c", 'a'+i/10, 'a'+i%10)))
	}
	got := r.lines("g.nc", "cells")
	if len(got) != namedReasons+1 || got[namedReasons] != "g.nc: 85 more cells for other reasons" {
		t.Errorf("%d lines, the last: %s", len(got), got[len(got)-1])
	}
}
