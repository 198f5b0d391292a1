package picture

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"stillrow/data/area"
	"stillrow/rank/shade"
	"stillrow/rank/survey"
	"stillrow/simulate/result"
)

// made is a survey of places whose costs lie over gas by ratio, NaN for none.
func made(t testing.TB, ratio func(i int) float64, places ...survey.Place) *survey.Survey {
	t.Helper()
	designs := []result.Design{{MirrorTilt: 75, MirrorLength: 1.2}, {}}
	s, err := survey.New(t.TempDir(), []survey.Layer{{Use: "winter", Outlet: 60}}, designs, "EUR")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	for i, p := range places {
		f := survey.None(0.1)
		if r := ratio(i); !math.IsNaN(r) {
			f.Design, f.Ratio, f.LCOH, f.BeatsGas, f.Sure = 0, r, r*0.1, r < 1, min(1, 0.5/r)
		}
		if err := s.Add(p, []survey.Finding{f}); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Finish(); err != nil {
		t.Fatal(err)
	}
	return s
}

func cell(lat, lon, deg float64) survey.Place {
	return survey.Place{ID: fmt.Sprint(lat, lon), Lat: lat, Lon: lon, CellDeg: deg, CellLonDeg: deg}
}

func drawn(t testing.TB, d *Drawing) (image.Image, string) {
	t.Helper()
	var pixels, lines bytes.Buffer
	if err := d.WritePNG(&pixels); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&pixels)
	if err != nil {
		t.Fatal(err)
	}
	if err := d.WriteSVG(&lines); err != nil {
		t.Fatal(err)
	}
	return img, lines.String()
}

// The pixels at the places of a map have the shade of their cost.
func TestColoursOfPlaces(t *testing.T) {
	ratios := []float64{0.1, 0.3, 0.6, 0.8, 1.2, 2, 9}
	var places []survey.Place
	for i := range ratios {
		places = append(places, cell(36+float64(i%2), -42+float64(i), 1))
	}
	s := made(t, func(i int) float64 { return ratios[i] }, places...)
	d, err := Map(s, 0, Options{Title: "Test"})
	if err != nil {
		t.Fatal(err)
	}
	img, _ := drawn(t, d)
	f := newFrame(s, mapLeft, mapBottom, mapWide, mapHigh)
	f.y += d.height - mapBottom - mapTop - f.height()
	for i, p := range places {
		at := f.at(orb.Point{p.Lon + 0.3, p.Lat + 0.3}) // beside the dot
		x, y := int(float64(at.X)*dotsPerInch/72), img.Bounds().Dy()-int(float64(at.Y)*dotsPerInch/72)
		got := color.NRGBAModel.Convert(img.At(x, y)).(color.NRGBA)
		if want := shade.Classes()[shade.Of(ratios[i])].Colour; got != want {
			t.Errorf("ratio %g: %v at %d, %d, want %v", ratios[i], got, x, y, want)
		}
	}
}

// The words say what was counted, and the same survey gives the same bytes.
func TestWords(t *testing.T) {
	s := made(t, func(i int) float64 { return []float64{0.4, 0.8, 3, math.NaN()}[i] },
		cell(36, -42, 0.5), cell(36.5, -42, 0.5), cell(37, -42, 0.5), cell(37.5, -42, 0.5))
	d, err := Map(s, 0, Options{Title: "Growers <&> \"Co\"", Source: "Weather: made up."})
	if err != nil {
		t.Fatal(err)
	}
	_, text := drawn(t, d)
	for _, want := range []string{"Growers &lt;&amp;&gt; &#34;Co&#34;: winter, 60 °C", "By best estimate cheaper than gas at 2 of 4 sites. Sites with a probability of at least 90 %: 1. Sites without usable heat: 1.",
		"gas parity: 1 = 0.1000 EUR/kWh", "0.75 to 1  (0.075 to 0.100)", "Weather: made up.", "Local codes and licensed practice decide", "36° N", "42° W"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in the picture", want)
		}
	}
	if _, again := drawn(t, d); again != text {
		t.Error("the second time it looks different")
	}
}

// Cells of a row that share a colour are one shape.
func TestRunsOfCells(t *testing.T) {
	var places []survey.Place
	for lat := 30.; lat < 40; lat++ {
		for lon := 0.; lon < 50; lon++ {
			places = append(places, cell(lat, lon, 1))
		}
	}
	s := made(t, func(int) float64 { return 0.8 }, places...)
	v, err := newScene(s, 0, Options{})
	if err != nil {
		t.Fatal(err)
	}
	paths := v.cells(newFrame(s, 0, 0, 100, 100), nil)
	if got := len(boxes(paths[3])); got != 10 {
		t.Errorf("%d shapes, want one for each of 10 rows", got)
	}
}

// Places on both sides of the antimeridian stay together, poles and the whole
// globe fit, and one place has surroundings.
func TestWindow(t *testing.T) {
	for _, c := range []struct {
		name        string
		places      []survey.Place
		west, east  float64 // as wide as this, at most a few degrees more
		south, nort float64
	}{
		{"across the antimeridian", []survey.Place{cell(-17, 179, 1), cell(-17, -179, 1)}, 178.5, 181.5, -18, -16},
		{"one station", []survey.Place{{Lat: 60, Lon: 10}}, 10, 10, 60, 60},
		{"pole", []survey.Place{cell(89.5, 0, 1), cell(89.5, 90, 1)}, -0.5, 90.5, 89, 90},
	} {
		b := window(made(t, func(int) float64 { return 1 }, c.places...))
		if b.Left() > c.west || b.Right() < c.east || b.Right()-b.Left() > c.east-c.west+8 || b.Bottom() > c.south || b.Top() < c.nort || b.Top() > 90 {
			t.Errorf("%s: %v", c.name, b)
		}
	}
	var globe []survey.Place
	for lon := -179.5; lon < 180; lon++ {
		globe = append(globe, cell(0, lon, 1))
	}
	if b := window(made(t, func(int) float64 { return 1 }, globe...)); b.Right()-b.Left() != 360 {
		t.Errorf("the globe: %v", b)
	}
}

// An outline's way along the antimeridian, where files cut it, is no coast.
func TestCutIsNoCoast(t *testing.T) {
	s := made(t, func(int) float64 { return 1 }, cell(65, 178, 1), cell(65, -178, 1))
	f := newFrame(s, 0, 0, 400, 400)
	ring := orb.Ring{{180, 64}, {180, 66}, {177, 66}, {177, 64}, {180, 64}}
	for shift, r := range map[float64]orb.Ring{0: ring, -360: {{-180, 64}, {-177, 64}, {-177, 66}, {-180, 66}, {-180, 64}}} {
		var p pathLengths
		f.lines(&p.path, r)
		if got, want := p.alongMeridian(f.at(orb.Point{180, 64}).X), 0.; got != want {
			t.Errorf("shift %g: %g of line along the antimeridian", shift, got)
		}
		if len(p.path) < 4 {
			t.Errorf("shift %g: only %d points drawn", shift, len(p.path))
		}
	}
}

// A cell far from others is marked where it would be too small to see; one of
// many is not.
func TestLoneCells(t *testing.T) {
	places := []survey.Place{cell(40, -100, 0.25), cell(-30, 120, 0.25), cell(0, 0, 30)}
	for lat := 60.; lat < 70; lat += 0.25 {
		for lon := 30.; lon < 40; lon += 0.25 {
			places = append(places, cell(lat, lon, 0.25))
		}
	}
	s := made(t, func(int) float64 { return 9 }, places...)
	v, err := newScene(s, 0, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if lone := v.lone(newFrame(s, 0, 0, mapWide, mapHigh)); len(lone) != 2 || !lone[0] || !lone[1] {
		t.Errorf("%d cells are lone, among them %v and %v", len(lone), lone[0], lone[1])
	}
	d, err := Map(s, 0, Options{})
	if err != nil {
		t.Fatal(err)
	}
	img, _ := drawn(t, d)
	f := newFrame(s, mapLeft, mapBottom, mapWide, mapHigh)
	f.y += d.height - mapBottom - mapTop - f.height()
	at := f.at(orb.Point{-100, 40})
	x, y := int(float64(at.X)*dotsPerInch/72), img.Bounds().Dy()-int(float64(at.Y)*dotsPerInch/72)
	if got, want := color.NRGBAModel.Convert(img.At(x-1, y+1)), shade.Classes()[6].Colour; got != want {
		t.Errorf("a lone cell shows as %v, want %v", got, want)
	}
}

// A mark on a cell that is cut lies on what is left of it.
func TestMarkOnCutCell(t *testing.T) {
	within, err := area.Parse("strip", []byte(`{"type":"Polygon","coordinates":[[[0,40],[0.2,40],[0.2,41],[0,41],[0,40]]]}`))
	if err != nil {
		t.Fatal(err)
	}
	s, err := survey.New(t.TempDir(), []survey.Layer{{Use: "winter", Outlet: 60}}, nil, "EUR")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	s.Within = within
	if err := s.Add(cell(40.5, 0.5, 1), []survey.Finding{survey.None(0.1)}); err != nil {
		t.Fatal(err)
	}
	v := &scene{s: s}
	if got, want := v.inside(0), (orb.Point{0.1, 40.5}); math.Hypot(got[0]-want[0], got[1]-want[1]) > 1e-9 {
		t.Errorf("%v, want %v", got, want)
	}
}

func TestBandsHaveAllPanels(t *testing.T) {
	s := made(t, func(i int) float64 { return 0.5 + float64(i) }, cell(36, -42, 0.5), cell(38.5, -42, 0.5))
	d, err := Bands(s, []Band{{0, 36, 38, 75}, {0, 38, 40, math.NaN()}}, Options{Title: "Test"})
	if err != nil {
		t.Fatal(err)
	}
	_, text := drawn(t, d)
	for _, want := range []string{"winter", "60 °C", "EUR per kWh", "Local codes", "median of sites", "heat from gas, running cost alone"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in the picture", want)
		}
	}
	if _, err := Bands(s, []Band{{1, 36, 38, 75}}, Options{}); err == nil {
		t.Error("a band of a layer that is not there")
	}
	if _, err := Map(s, 1, Options{}); err == nil {
		t.Error("a layer that is not there")
	}
}

func BenchmarkMap(b *testing.B) {
	var places []survey.Place
	for lat := -40.; lat < 40; lat += 0.25 {
		for lon := -100.; lon < 95; lon += 0.25 {
			places = append(places, cell(lat, lon, 0.25))
		}
	}
	s := made(b, func(i int) float64 { return math.Mod(float64(i), 31) / 10 }, places...)
	b.ReportMetric(float64(len(places)), "cells")
	for b.Loop() {
		d, err := Map(s, 0, Options{})
		if err != nil {
			b.Fatal(err)
		}
		drawn(b, d)
	}
}
