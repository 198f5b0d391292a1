package page

import (
	"context"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"

	"stillrow/rank/survey"
)

// The made cells lie on a grid of a quarter of a degree from 30° N, 5° E.
const (
	madeLat, madeLon, madeDeg = 30., 5., 0.25
	madeSide, madeRows        = 20, 25
)

// spot is where a place lies on the screen while the whole map is in view: true
// to scale at the latitude of its middle, with a margin of 4 % at either side.
func (b *browser) spot(t *testing.T, p *survey.Place) (x, y float64) {
	t.Helper()
	box := eval[[]float64](t, b, `(() => { const r = document.getElementById('map'), q = r.getBoundingClientRect();
		return [q.left + r.clientLeft + r.clientWidth / 2, q.top + r.clientTop + r.clientHeight / 2, r.clientWidth, r.clientHeight] })()`)
	wide, high := madeDeg*madeSide, madeDeg*madeRows
	lon, lat := madeLon+(wide-madeDeg)/2, madeLat+(high-madeDeg)/2
	squeeze := math.Cos(lat * math.Pi / 180)
	scale := 0.92 * min(box[2]/(wide*squeeze), box[3]/high)
	return box[0] + (p.Lon-lon)*squeeze*scale, box[1] - (p.Lat-lat)*scale
}

// told looks a figure up in a table's text and checks that it is the wanted one,
// rounded to the digits shown.
func told(t *testing.T, text, label string, wanted float64) {
	t.Helper()
	m := regexp.MustCompile(regexp.QuoteMeta(label) + `\s+(−?[\d.]+)`).FindStringSubmatch(text)
	if m == nil {
		t.Errorf("no figure of %q in %q", label, text)
		return
	}
	v, err := strconv.ParseFloat(strings.Replace(m[1], "−", "-", 1), 64)
	if err != nil {
		t.Fatal(err)
	}
	_, digits, _ := strings.Cut(m[1], ".")
	if math.Abs(v-wanted) > 0.5001*math.Pow10(-len(digits)) {
		t.Errorf("%s: the page says %s, the survey %v", label, m[1], wanted)
	}
}

// Under the mouse a cell has the figures of its finding; a click shows its
// months; a drag and the wheel move the map.
func TestMouse(t *testing.T) {
	s := made(t, madeSide*madeRows, madeSide)
	b := open(t, s, 1024, 800)
	var f survey.Finding
	for _, i := range []int{3, 137, 251, 499} {
		if err := s.At(0, i, &f); err != nil {
			t.Fatal(err)
		}
		x, y := b.spot(t, s.Place(i))
		b.do(t, chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, x, y))
		b.until(t, fmt.Sprintf(`document.getElementById('hover').innerText.includes(%q)`, s.Place(i).ID))
		text := b.text(t, "hover")
		told(t, text, "LCOH", f.LCOH)
		told(t, text, "Heat from gas", f.GasHeat)
		told(t, text, "LCOH ÷ gas", f.Ratio)
		told(t, text, "P10–P90", f.P10)
		told(t, text, "Heat for this use", f.Heat)
		told(t, text, "Probability of beating gas", math.Floor(f.Sure*1000+1e-9)/10)
		if d := s.Designs[f.Design]; d.MirrorLength > 0 {
			told(t, text, "mirror", d.MirrorTilt)
		}
	}
	i := 137
	if err := s.At(0, i, &f); err != nil {
		t.Fatal(err)
	}
	x, y := b.spot(t, s.Place(i))
	b.do(t, chromedp.MouseClickXY(x, y))
	want(t, "detail", b.text(t, "detail"), s.Place(i).ID, "Heat of each month")
	bars := eval[[]string](t, b, `[...document.querySelectorAll('#detail svg text')].filter((_, k) => k % 2 === 0).map(e => e.textContent)`)
	if len(bars) != 12 {
		t.Fatalf("months %q", bars)
	}
	for m := range bars {
		if w := fmt.Sprintf("%.0f", max(0, f.Months[m])); bars[m] != w {
			t.Errorf("month %d: the chart says %s, the survey %s", m+1, bars[m], w)
		}
	}

	// Months that do not count for the use are not of the colour of those that do.
	b.set(t, "use", "winter")
	fills := eval[[]string](t, b, `[...document.querySelectorAll('#detail svg rect')].map(e => e.getAttribute('fill'))`)
	for m := range fills {
		if got, want := fills[m] == fills[0], s.Layers[1].Months[m]; got != want {
			t.Errorf("month %d counts: the chart says %v, the survey %v", m+1, got, want)
		}
	}
	want(t, "cost", b.text(t, "detail"), "Receiver and its films", "Site, shared")
	b.set(t, "use", "year")

	// A drag takes the map along and chooses nothing.
	before := b.text(t, "detail")
	left := chromedp.Button("left")
	b.do(t, chromedp.MouseEvent(input.DispatchMouseEventTypeMousePressed, x, y, left, chromedp.ClickCount(1)),
		chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, x+40, y+60, left),
		chromedp.MouseEvent(input.DispatchMouseEventTypeMouseReleased, x+40, y+60, left, chromedp.ClickCount(1)))
	if b.text(t, "detail") != before {
		t.Error("a drag chose a cell")
	}
	b.do(t, chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, x+40, y+60))
	want(t, "where the map was dragged to", b.text(t, "hover"), s.Place(i).ID)
	// The wheel zooms about the pointer: the same cell stays under it.
	b.do(t, chromedp.MouseEvent(input.DispatchMouseEventTypeMouseWheel, x+40, y+60, func(p *input.DispatchMouseEventParams) { p.DeltaX, p.DeltaY = 1, -600 }))
	b.until(t, `parseFloat(new URLSearchParams(location.hash.slice(1)).get('zoom')) > 4`)
	b.do(t, chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, x+41, y+60))
	want(t, "after the wheel", b.text(t, "hover"), s.Place(i).ID)
}

// fingers sends a touch of some fingers.
func fingers(kind input.DispatchTouchEventType, at ...[2]float64) chromedp.Action[chromedp.Void] {
	p := input.DispatchTouchEventParams{Type: kind, TouchPoints: []*input.TouchPoint{}}
	for i, a := range at {
		id := float64(i)
		p.TouchPoints = append(p.TouchPoints, &input.TouchPoint{X: a[0], Y: a[1], ID: &id})
	}
	return chromedp.Func(func(ctx context.Context, tab *chromedp.Target) error {
		_, err := cdp.Call(ctx, tab, input.DispatchTouchEvent, p)
		return err
	})
}

// On a telephone a tap chooses, a finger moves and two fingers zoom.
func TestTouch(t *testing.T) {
	s := made(t, madeSide*madeRows, madeSide)
	b := open(t, s, 800, 800)
	b.do(t, chromedp.EmulateViewport(360, 740, chromedp.EmulateTouch, chromedp.EmulateMobile))
	b.until(t, `document.documentElement.clientWidth === 360`)
	i := 251
	x, y := b.spot(t, s.Place(i))
	b.do(t, chromedp.TapXY(x, y))
	b.until(t, `location.hash.includes('site=')`)
	var f survey.Finding
	if err := s.At(0, i, &f); err != nil {
		t.Fatal(err)
	}
	want(t, "detail", b.text(t, "detail"), s.Place(i).ID)
	want(t, "on the map", b.text(t, "brief"), fmt.Sprintf("%.4f EUR/kWh", f.LCOH), "Figures")
	if in := eval[bool](t, b, `(r => r.top >= 0 && r.bottom <= innerHeight)(document.getElementById('brief').getBoundingClientRect())`); !in {
		t.Error("what is said of the chosen cell is out of sight")
	}

	start, move, end := input.DispatchTouchEventTypeTouchStart, input.DispatchTouchEventTypeTouchMove, input.DispatchTouchEventTypeTouchEnd
	state := func(key string) float64 {
		return eval[float64](t, b, `parseFloat(new URLSearchParams(location.hash.slice(1)).get('`+key+`'))`)
	}
	lon, site := state("lon"), b.text(t, "detail")
	b.do(t, fingers(start, [2]float64{x, y}), fingers(move, [2]float64{x - 20, y}), fingers(move, [2]float64{x - 60, y}), fingers(end))
	b.until(t, fmt.Sprintf(`parseFloat(new URLSearchParams(location.hash.slice(1)).get('lon')) > %g`, lon))
	if b.text(t, "detail") != site {
		t.Error("moving the map chose a cell")
	}
	b.do(t, fingers(start, [2]float64{x - 30, y}, [2]float64{x + 30, y}))
	for _, apart := range []float64{40, 50, 60} {
		b.do(t, fingers(move, [2]float64{x - apart, y}, [2]float64{x + apart, y}))
	}
	b.do(t, fingers(end))
	b.until(t, `parseFloat(new URLSearchParams(location.hash.slice(1)).get('zoom')) !== 1`)
	if z := state("zoom"); math.Abs(z-2) > 0.02 { // the fingers end twice as far apart
		t.Errorf("zoom %g, want 2", z)
	}
	if b.text(t, "detail") != site {
		t.Error("zooming chose a cell")
	}
}
