package survey

import (
	"fmt"
	"math"
	"os"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// What goes in comes out, across batches that are full and one that is not, by
// layer and one by one, and the scratch file is gone in the end.
func TestRoundTrip(t *testing.T) {
	dir := t.TempDir()
	layers := []Layer{{Use: "year", Outlet: 45}, {Use: "winter", Outlet: 45, When: "Nov–Mar"}, {Use: "year", Outlet: 60}}
	s, err := New(dir, layers, nil, "EUR")
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	const places = 2*batch + 17
	want := func(layer, place int) Finding {
		f := None(0.08)
		if place%5 > 0 {
			f.Design, f.BeatsGas = int32(layer), place%2 == 1
			f.Heat, f.LCOH, f.Sure = float64(place), float64(place)/1000+float64(layer), 1/float64(place)
			f.Months[11], f.Split[PerKWh] = float32(place), math.Pi
		}
		return f
	}
	for i := range places {
		var all []Finding
		for l := range layers {
			all = append(all, want(l, i))
		}
		if err := s.Add(Place{ID: fmt.Sprint(i), Lat: float64(i % 90)}, all); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Finish(); err != nil {
		t.Fatal(err)
	}
	if s.Len() != places || s.Place(300).ID != "300" {
		t.Errorf("%d places, number 300 is %v", s.Len(), s.Place(300))
	}
	for l := range layers {
		n := 0
		err := s.Each(l, func(i int, f *Finding) error {
			if d := cmp.Diff(want(l, i), *f, cmpopts.EquateNaNs()); d != "" || i != n {
				return fmt.Errorf("layer %d, place %d after %d:\n%s", l, i, n, d)
			}
			n++
			return nil
		})
		if err != nil || n != places {
			t.Errorf("%d places: %v", n, err)
		}
		var f Finding
		if err := s.At(l, 300, &f); err != nil || !cmp.Equal(want(l, 300), f, cmpopts.EquateNaNs()) {
			t.Errorf("layer %d, place 300: %+v, %v", l, f, err)
		}
	}
	s.Close()
	if left, err := os.ReadDir(dir); err != nil || len(left) > 0 {
		t.Errorf("left in the folder: %v, %v", left, err)
	}
}

func TestReasons(t *testing.T) {
	s := &Survey{}
	if a, b, c := s.Reason("no heat"), s.Reason("over the cost cap"), s.Reason("no heat"); a != 0 || b != 1 || c != 0 || len(s.Reasons) != 2 {
		t.Errorf("%d %d %d of %q", a, b, c, s.Reasons)
	}
}

func TestWrongNumberOfFindings(t *testing.T) {
	s, err := New(t.TempDir(), []Layer{{Use: "year", Outlet: 45}}, nil, "EUR")
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if err := s.Add(Place{ID: "A"}, nil); err == nil || s.Len() != 0 {
		t.Errorf("%v, %d places", err, s.Len())
	}
}
