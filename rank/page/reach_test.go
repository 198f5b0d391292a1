package page

import (
	"encoding/json"
	"fmt"
	"slices"
	"testing"

	"github.com/chromedp/cdproto/accessibility"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// Back and forward go through what was chosen, and the page always shows what
// its address says.
func TestBack(t *testing.T) {
	s := made(t, madeSide*madeRows, madeSide)
	b := open(t, s, 1024, 800)
	b.set(t, "outlet", "60")
	b.set(t, "use", "winter")
	x, y := b.spot(t, s.Place(87))
	b.do(t, chromedp.MouseClickXY(x, y))
	b.set(t, "p", "70")
	shown := func() string {
		return eval[string](t, b, `['use', 'outlet', 'p', 'pn'].map(k => document.getElementById(k).value).join(' ') +
			' ' + document.getElementById('count').textContent + ' ' + document.getElementById('detail').innerText.split('\n')[0]`)
	}
	last := shown()
	want(t, "last", last, "winter 60 70 70", s.Place(87).ID)
	for _, step := range []struct{ is, not string }{
		{"winter 60 0 0", "probability of at least"}, // without the filter
		{"winter 60 0 0", s.Place(87).ID},            // without the cell
		{"year 60 0 0", s.Place(87).ID},
		{"year 35 0 0", s.Place(87).ID},
	} {
		b.do(t, chromedp.Evaluate[chromedp.Void](`history.back()`))
		b.until(t, fmt.Sprintf(`['use', 'outlet', 'p', 'pn'].map(k => document.getElementById(k).value).join(' ') === %q`, step.is))
		b.until(t, fmt.Sprintf(`!(document.getElementById('count').textContent + document.getElementById('detail').innerText).includes(%q)`, step.not))
	}
	for range 4 {
		b.do(t, chromedp.Evaluate[chromedp.Void](`history.forward()`))
	}
	b.until(t, `document.getElementById('p').value === '70'`)
	if again := shown(); again != last {
		t.Errorf("forward again it shows\n%s\nnot\n%s", again, last)
	}
}

// The keyboard alone reaches and works every control, and shows where it is.
func TestKeyboard(t *testing.T) {
	s := made(t, madeSide*madeRows, madeSide)
	b := open(t, s, 1024, 800)
	var path []string
	for range 20 {
		b.do(t, chromedp.KeyEvent(kb.Tab))
		at := eval[[]string](t, b, `(e => { const c = getComputedStyle(e);
			return [e.id || e.textContent.trim(), c.outlineStyle === 'none' || parseFloat(c.outlineWidth) < 2 ? 'no ring' : ''] })(document.activeElement)`)
		if len(path) > 0 && at[0] == path[0] {
			break
		}
		path = append(path, at[0])
		if at[1] != "" && at[0] != "" {
			t.Errorf("on %q the focus does not show", at[0])
		}
		switch at[0] {
		case "use":
			b.do(t, chromedp.KeyEvent(kb.ArrowDown))
			want(t, "use", b.text(t, "legend"), s.Layers[1].Use)
		case "p":
			b.do(t, chromedp.KeyEvent(kb.ArrowRight), chromedp.KeyEvent(kb.ArrowRight))
			want(t, "count", b.text(t, "count"), "at least 2 %")
		case "pn":
			b.do(t, chromedp.KeyEvent(kb.ArrowDown))
			want(t, "count", b.text(t, "count"), "at least 1 %")
		case "map":
			b.do(t, chromedp.KeyEvent("+"), chromedp.KeyEvent("-"), chromedp.KeyEvent("0"), chromedp.KeyEvent(kb.ArrowLeft))
			want(t, "hover", b.text(t, "hover"), "LCOH")
		case "Cells in view as a table":
			b.do(t, chromedp.KeyEvent(" "))
			b.until(t, `document.querySelector('#table tbody button') !== null`)
		}
		if len(path) > 3 && path[len(path)-2] == "Cells in view as a table" {
			break // in the table
		}
	}
	for _, id := range []string{"use", "outlet", "p", "pn", "map", "in", "out", "all", "Best tilt by latitude", "Cells in view as a table"} {
		if !slices.Contains(path, id) {
			t.Errorf("Tab goes %q, never to %s", path, id)
		}
	}
	// On past the heads, which sort, to a cell of the table.
	for eval[bool](t, b, `document.activeElement.closest('tbody') === null`) && len(path) < 30 {
		b.do(t, chromedp.KeyEvent(kb.Tab))
		path = append(path, "")
	}
	name := eval[string](t, b, `document.activeElement.textContent`)
	b.do(t, chromedp.KeyEvent(kb.Enter))
	want(t, "detail", b.text(t, "detail"), name, "Heat of each month")
}

// Browsers tell a screen reader a name of whatever can be worked.
func TestAccessibleNames(t *testing.T) {
	b := open(t, made(t, 100, 10), 1024, 800)
	tree, err := chromedp.Call(b.ctx, accessibility.GetFullAXTree, accessibility.GetFullAXTreeParams{})
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]int{}
	for _, n := range tree.Nodes {
		if n.Ignored || n.Role == nil {
			continue
		}
		role, name := value(t, n.Role), ""
		if n.Name != nil {
			name = value(t, n.Name)
		}
		seen[role]++
		switch role {
		case "button", "combobox", "slider", "spinbutton", "application", "DisclosureTriangle", "region", "table":
			if name == "" {
				t.Errorf("a %s without a name", role)
			}
		}
	}
	for role, n := range map[string]int{"combobox": 2, "slider": 1, "spinbutton": 1, "application": 1, "button": 3, "status": 2, "table": 1} {
		if seen[role] < n {
			t.Errorf("%d of role %s, want %d; there are %v", seen[role], role, n, seen)
		}
	}
}

func value(t *testing.T, v *accessibility.Value) (text string) {
	t.Helper()
	if err := json.Unmarshal(v.Value, &text); err != nil {
		t.Fatal(err)
	}
	return text
}
