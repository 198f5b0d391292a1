package page

import (
	"fmt"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"stillrow/rank/survey"
)

// A long table shows its cheapest cells alone and, asked for, all of them, with
// the focus on the first that was not there.
func TestShowAll(t *testing.T) {
	s := made(t, madeSide*madeRows, madeSide)
	b := open(t, s, 1024, 800)
	cells := 0
	err := s.Each(0, func(_ int, f *survey.Finding) error {
		if f.Design >= 0 {
			cells++
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	names := func() []string {
		return eval[[]string](t, b, `[...document.querySelectorAll('#table tbody button')].map(e => e.textContent)`)
	}
	b.do(t, chromedp.Evaluate[chromedp.Void](`document.querySelector('#list summary').click()`))
	b.until(t, `document.querySelector('#table tbody button') !== null`)
	first := names()
	if len(first) != 200 {
		t.Fatalf("%d cells at first, want 200 of %d", len(first), cells)
	}
	want(t, "caption", b.text(t, "table"), fmt.Sprintf("with usable heat: %d, the first 200 shown", cells))

	button := eval[string](t, b, `(e => (e.focus(), e.textContent))(document.querySelector('#table > button'))`)
	if w := fmt.Sprintf("Show all %d", cells); button != w {
		t.Errorf("the button says %q, want %q", button, w)
	}
	b.do(t, chromedp.KeyEvent(kb.Enter))
	b.until(t, `document.querySelector('#table > button') === null`)
	all := names()
	if len(all) != cells {
		t.Fatalf("%d cells, want all %d", len(all), cells)
	}
	for i := range first {
		if all[i] != first[i] {
			t.Fatalf("row %d was %s and became %s", i+1, first[i], all[i])
		}
	}
	if focus := eval[string](t, b, `document.activeElement.textContent`); focus != all[len(first)] {
		t.Errorf("the focus is on %q, want the first cell that was not there, %s", focus, all[len(first)])
	}
	costs := eval[[]float64](t, b, `[...document.querySelectorAll('#table tbody tr')].map(r => parseFloat(r.cells[1].textContent))`)
	for i := 1; i < len(costs); i++ {
		if costs[i] < costs[i-1] {
			t.Fatalf("row %d costs %g, the one before it %g", i+1, costs[i], costs[i-1])
		}
	}

	// It stays whole when it is sorted otherwise.
	b.do(t, chromedp.Evaluate[chromedp.Void](`[...document.querySelectorAll('#table thead button')].find(e => e.textContent === 'Beats gas, %').click()`))
	b.until(t, `document.activeElement.textContent === 'Beats gas, %'`)
	if sorted := names(); len(sorted) != cells {
		t.Errorf("%d cells once sorted by probability, want all %d", len(sorted), cells)
	}
}
