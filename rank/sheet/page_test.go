package sheet

import (
	"bytes"
	"encoding/xml"
	"image"
	"image/png"
	"io"
	"strings"
	"testing"

	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"
)

// htmlOf writes the page twice: the bytes must be the same.
func htmlOf(t *testing.T, s *Sheet) string {
	t.Helper()
	var one, two bytes.Buffer
	for _, b := range []*bytes.Buffer{&one, &two} {
		if err := s.HTML(b); err != nil {
			t.Fatal(err)
		}
	}
	if one.String() != two.String() {
		t.Error("two writings differ")
	}
	return one.String()
}

// The page is well-formed, says what a builder asks, in tables that name their
// rows and columns, and reaches for nothing outside.
func TestPageIsComplete(t *testing.T) {
	text := htmlOf(t, sample())
	d := xml.NewDecoder(strings.NewReader(text))
	d.Entity = xml.HTMLEntity
	count := map[string]int{}
	for {
		tok, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatalf("not well-formed: %v", err)
		}
		e, ok := tok.(xml.StartElement)
		if !ok {
			continue
		}
		count[e.Name.Local]++
		has := map[string]string{}
		for _, a := range e.Attr {
			has[a.Name.Local] = a.Value
			if a.Name.Local == "src" || a.Name.Local == "href" {
				t.Errorf("<%s> reaches for %q", e.Name.Local, a.Value)
			}
		}
		switch e.Name.Local {
		case "th":
			if has["scope"] == "" {
				t.Error("a th without scope")
			}
		case "svg":
			if has["role"] != "img" || len(has["aria-label"]) < 20 {
				t.Errorf("a drawing without words: %v", has)
			}
		case "script", "link", "img":
			t.Errorf("a <%s>", e.Name.Local)
		}
	}
	if count["svg"] != 4 || count["table"] != 2 || count["h1"] != 1 || count["caption"] != 2 {
		t.Errorf("elements: %v", count)
	}
	for _, want := range []string{
		"Content-Security-Policy", "Sandholm &amp; &lt;Co&gt;: heat at 60 °C for washing", "Beats gas here.", "Best design found: mirror 1.6 m long on the north side of a receiver 1.2 m wide in an east-west row, at 105° from the ground on the receiver&#39;s side (tilt 75°), leaning back, away from the receiver, 15° from upright",
		"0.0300 EUR/kWh, heat from gas 0.0800; chance to beat gas over 99 %", "0.0200 to 0.0500", "40.40", "72.7\u00a0m²", "2.4 % of the site: this row&#39;s part of what one site of 2000 m² of receiver shares (pump: 10000 EUR in all)", "832.0", "196.0\u00a0m", "<td>3.5</td>",
		"give 19200 kWh a year at the receiver in the months of the use (May–Sep); 16416 kWh a year reach the user (× 0.9 that is delivered, × 0.950 for 0.5 % less every year)", "16416 kWh × 0.0500 = 821 EUR a year saved against gas", "paid back in 2.5 years, interest not counted",
		"in May–Sep (", "lasts, years", "ordering hems and shrinkage too adds 13 EUR", "Battens and fixings have no line of their own: the book must hold them in edge.", "<details>",
		"3306 kg/h (55.2 l/min) from 50 to 60 °C", "1.92 m³", "Scald: hot water burns.", "licensed practice", "none measured", "clear film A, black film B, foam C 50 mm",
		"June solstice", "1 % for shrinkage",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
}

// South of the equator the mirror stands in the south, and the section is seen
// from the other end.
func TestSouthernPage(t *testing.T) {
	s := sample()
	s.Lat = -36
	text := htmlOf(t, s)
	for _, want := range []string{"on the south side", "from the west end", "north, equatorward", "poleward, south"} {
		if !strings.Contains(text, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if strings.Contains(text, "north side") {
		t.Error("a mirror in the north")
	}
}

// Every panel of the picture, and its text below, has ink.
func TestPicture(t *testing.T) {
	var one, two bytes.Buffer
	if err := sample().PNG(&one); err != nil {
		t.Fatal(err)
	}
	if err := sample().PNG(&two); err != nil || !bytes.Equal(one.Bytes(), two.Bytes()) {
		t.Errorf("two pictures differ, %v", err)
	}
	img, err := png.Decode(&one)
	if err != nil {
		t.Fatal(err)
	}
	// A4 is 210 by 297 mm.
	b := img.Bounds()
	if r := float64(b.Dy()) / float64(b.Dx()); r < 1.41 || r > 1.42 {
		t.Errorf("%v is no A4", b)
	}
	cell := func(x, y, nx, ny int) image.Rectangle {
		return image.Rect(b.Dx()*x/nx, b.Dy()*y/ny, b.Dx()*(x+1)/nx, b.Dy()*(y+1)/ny)
	}
	for _, r := range []image.Rectangle{cell(0, 0, 1, 8), cell(0, 1, 2, 6), cell(1, 1, 2, 6), cell(0, 2, 2, 6), cell(1, 2, 2, 6), cell(0, 6, 2, 10), cell(1, 6, 2, 10), cell(0, 7, 1, 10)} {
		if n := inked(img, r); n < 2000 {
			t.Errorf("%v has %d pixels of ink", r, n)
		}
	}
	// Nothing is written over the margin.
	for _, r := range []image.Rectangle{cell(0, 0, 40, 1), cell(39, 0, 40, 1), cell(0, 59, 1, 60)} {
		if n := inked(img, r); n > 0 {
			t.Errorf("%d pixels of ink in the margin %v", n, r)
		}
	}
}

func inked(img image.Image, in image.Rectangle) (n int) {
	for y := in.Min.Y; y < in.Max.Y; y++ {
		for x := in.Min.X; x < in.Max.X; x++ {
			if r, g, b, _ := img.At(x, y).RGBA(); r+g+b < 3*0xd000 {
				n++
			}
		}
	}
	return n
}

// A page with far more to say than usual is set smaller, down to what can still
// be read, and one with little to say is not blown up.
func TestTextFitsThePage(t *testing.T) {
	h := newHand(vgsvg.New(pageWidth, pageHeight))
	s := sample()
	if got := s.body(h); got != greatestBody {
		t.Errorf("a short page is set in %g points", got)
	}
	for range 10 {
		s.Cautions = append(s.Cautions, strings.Repeat("something can go wrong here, ", 12))
	}
	small := s.body(h)
	if small >= greatestBody || small < leastBody-0.1 {
		t.Errorf("a long page is set in %g points", small)
	}
	p := &page{s: s, h: h, body: small, dry: true}
	if p.write(); p.y < margin {
		t.Errorf("it ends %g points below the margin", margin-p.y)
	}
	// Where no size is small enough the least of it, the assumptions, is cut.
	s.Assumed = []string{strings.Repeat("a 1, ", 4000)}
	p = &page{s: s, h: newHand(vgsvg.New(pageWidth, pageHeight)), body: leastBody}
	if p.write(); p.y < margin {
		t.Errorf("it is written %g points below the margin", margin-p.y)
	}
}

// Drawings of awkward designs stay on their paper: extreme tilts, raised and far
// mirrors, suns from behind, the polar night, no heat at all.
func TestDrawingsOfAnyDesign(t *testing.T) {
	for _, lat := range []float64{-90, -70, -23.44, 0, 10, 36, 70, 90} {
		for _, tilt := range []float64{5, 55, 90, 130, 175} {
			for _, long := range []float64{0, 0.3, 9} {
				s := sample()
				s.Lat = lat
				s.Design.MirrorTilt, s.Design.MirrorLength = tilt, long
				s.Design.Raise, s.Design.Setback = long/10, long/9
				if long > 1 {
					s.Design.RowPitch = 0
					s.Heat = []Heat{{Outlet: 60}}
				}
				for _, d := range s.drawings() {
					c := vgimg.NewWith(vgimg.UseWH(drawingWidth, drawingHeight), vgimg.UseDPI(36), vgimg.UseBackgroundColor(inkPaper))
					d.draw(newHand(c))
					if _, err := d.svg(); err != nil {
						t.Fatal(err)
					}
					if svg, _ := d.svg(); strings.Contains(string(svg), "NaN") || strings.Contains(string(svg), "Inf") {
						t.Errorf("%s at %g°, tilt %g°, %g m: a number that is none", d.title, lat, tilt, long)
					}
				}
			}
		}
	}
}
