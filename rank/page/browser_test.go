package page

import (
	"bytes"
	"context"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"stillrow/rank/survey"
)

// A browser shows one page and keeps what it complains of and asks for.
type browser struct {
	ctx context.Context
	url string

	mu     sync.Mutex
	faults []string // errors of scripts and of the console
	asked  []string // addresses beyond the page itself
}

// open shows the page of a survey in Chromium, where there is one.
func open(t *testing.T, s *survey.Survey, width, height int) *browser {
	t.Helper()
	var program string
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			program = p
			break
		}
	}
	if program == "" {
		t.Skip("no Chromium here to look at the page with")
	}
	var text bytes.Buffer
	if err := Write(&text, s, Options{Title: nasty, Source: "made up"}); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "map.html")
	if err := os.WriteFile(file, text.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(program), chromedp.NoSandbox, chromedp.WindowSize(width, height))
	ctx, cancel := chromedp.NewExecAllocator(t.Context(), options...)
	t.Cleanup(cancel)
	ctx, end := chromedp.NewContext(ctx)
	t.Cleanup(end)
	ctx, late := context.WithTimeout(ctx, time.Minute)
	t.Cleanup(late)
	b := &browser{ctx: ctx, url: (&url.URL{Scheme: "file", Path: file}).String()}
	err := chromedp.Listen(ctx, func(event any) {
		b.mu.Lock()
		defer b.mu.Unlock()
		switch e := event.(type) {
		case *runtime.EventExceptionThrown:
			b.faults = append(b.faults, e.ExceptionDetails.Text)
		case *runtime.EventConsoleAPICalled:
			b.faults = append(b.faults, fmt.Sprint("console: ", e.Type))
		case *log.EventEntryAdded: // breaches of the page's policy among them
			b.faults = append(b.faults, fmt.Sprint(e.Entry.Source, ": ", e.Entry.Text))
		case *network.EventRequestWillBeSent:
			if !strings.HasPrefix(e.Request.URL, b.url) {
				b.asked = append(b.asked, e.Request.URL)
			}
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Call(ctx, log.Enable, cdp.Empty{}); err != nil {
		t.Fatal(err)
	}
	b.do(t, chromedp.Navigate(b.url))
	b.until(t, `document.getElementById('count').textContent !== ''`)
	t.Cleanup(func() {
		b.mu.Lock()
		defer b.mu.Unlock()
		if len(b.faults) > 0 || len(b.asked) > 0 {
			t.Errorf("complaints %q, requests %q", b.faults, b.asked)
		}
	})
	return b
}

func (b *browser) do(t *testing.T, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(b.ctx, steps...); err != nil {
		t.Fatal(err)
	}
}

// eval gives what an expression comes to on the page.
func eval[T any](t *testing.T, b *browser, expression string) T {
	t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](expression))
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// until waits for a condition; the page's policy forbids what chromedp would
// wait with.
func (b *browser) until(t *testing.T, condition string) {
	t.Helper()
	for !eval[bool](t, b, condition) {
		select {
		case <-b.ctx.Done():
			t.Fatalf("never came true: %s", condition)
		case <-time.After(20 * time.Millisecond):
		}
	}
}

// text gives what an element says.
func (b *browser) text(t *testing.T, id string) string {
	t.Helper()
	return eval[string](t, b, `document.getElementById('`+id+`').innerText`)
}

// set gives a control a value, as a user does.
func (b *browser) set(t *testing.T, id, value string) {
	t.Helper()
	eval[bool](t, b, fmt.Sprintf(`(() => { const e = document.getElementById(%q); e.value = %q;
		e.dispatchEvent(new Event('input', {bubbles: true})); return e.dispatchEvent(new Event('change', {bubbles: true})) })()`, id, value))
}

// want checks that a text has all parts.
func want(t *testing.T, what, text string, parts ...string) {
	t.Helper()
	for _, p := range parts {
		if !strings.Contains(text, p) {
			t.Errorf("%s: no %q in %q", what, p, text)
		}
	}
}

// What the page says of counts, layers and places is what the survey holds; the
// address brings it back; the keyboard alone reaches it.
func TestInBrowser(t *testing.T) {
	const places = 500
	s := made(t, places, 20)
	b := open(t, s, 1000, 700)
	heats := func(layer int, p float64) (n int) {
		err := s.Each(layer, func(_ int, f *survey.Finding) error {
			if f.Design >= 0 && (p == 0 || f.Sure >= p) {
				n++
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	cheap := func(layer int) (n int) {
		err := s.Each(layer, func(_ int, f *survey.Finding) error {
			if f.BeatsGas {
				n++
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	want(t, "count", b.text(t, "count"), fmt.Sprintf("By best estimate cheaper than gas at %d of %d sites. Sites without usable heat: %d.", cheap(0), places, places-heats(0, 0)))
	want(t, "legend", b.text(t, "legend"), "year, 35 °C", "gas parity: 1")

	layer := 7 // winter, 60
	b.set(t, "use", s.Layers[layer].Use)
	b.set(t, "outlet", fmt.Sprint(s.Layers[layer].Outlet))
	b.set(t, "p", "90")
	passed := fmt.Sprintf("By best estimate cheaper than gas at %d of %d sites. Sites with a probability of at least 90 %%: %d. Sites without usable heat: %d.",
		cheap(layer), places, heats(layer, 0.9), places-heats(layer, 0))
	want(t, "count", b.text(t, "count"), passed)
	want(t, "legend", b.text(t, "legend"), "winter, 60 °C", "misses the probability of 90 %", "between 10 and 90 %")

	// From the middle of the map the arrows go to cells, Enter opens one.
	eval[bool](t, b, `(document.getElementById('map').focus(), true)`)
	b.do(t, chromedp.KeyEvent(kb.ArrowRight), chromedp.KeyEvent(kb.ArrowUp), chromedp.KeyEvent(kb.Enter))
	b.until(t, `location.hash.includes('site=')`)
	site := eval[string](t, b, `new URLSearchParams(location.hash.slice(1)).get('site')`)
	at := -1
	for i := range s.Len() {
		if s.Place(i).ID == site {
			at = i
		}
	}
	if at < 0 {
		t.Fatalf("the address names site %q", site)
	}
	var f survey.Finding
	if err := s.At(layer, at, &f); err != nil {
		t.Fatal(err)
	}
	detail := b.text(t, "detail")
	want(t, "detail", detail, site, fmt.Sprintf("%.4f EUR/kWh", f.LCOH), fmt.Sprintf("%.0f kWh/m²", f.Heat), "Runner-up")
	if focus := eval[string](t, b, `document.activeElement.id`); focus != "detail" {
		t.Errorf("after Enter the focus is on %q", focus)
	}

	// The address alone brings all of it back.
	address := eval[string](t, b, `location.href`)
	b.do(t, chromedp.Navigate("about:blank"), chromedp.Navigate(address))
	b.until(t, `document.getElementById('count') !== null && document.getElementById('count').textContent !== ''`)
	if again := b.text(t, "detail"); again != detail {
		t.Errorf("from the address the cell says\n%s\nnot\n%s", again, detail)
	}
	want(t, "count from the address", b.text(t, "count"), passed)

	// Under the mouse the middle of the map has a cell's figures.
	eval[bool](t, b, `(() => { const m = document.getElementById('map'), r = m.getBoundingClientRect();
		return m.dispatchEvent(new PointerEvent('pointermove', {clientX: r.left + r.width / 2 + 3, clientY: r.top + r.height / 2 + 3, bubbles: true})) })()`)
	want(t, "hover", b.text(t, "hover"), "Place", "°")
}

// Every control has a name that is read out, and nothing is wider than a narrow
// screen.
func TestForAllReaders(t *testing.T) {
	b := open(t, made(t, 100, 10), 360, 740)
	nameless := eval[[]string](t, b, `[...document.querySelectorAll('select, input, button, canvas, summary')].filter(e =>
		!(e.getAttribute('aria-label') || e.innerText.trim() || (e.labels && [...e.labels].some(l => l.innerText.trim())))).map(e => e.outerHTML)`)
	if len(nameless) > 0 {
		t.Errorf("without a name: %q", nameless)
	}
	if over := eval[float64](t, b, `document.documentElement.scrollWidth - document.documentElement.clientWidth`); over > 0 {
		t.Errorf("%g pixels wider than the screen", over)
	}
	if scripts := eval[int](t, b, `document.querySelectorAll('h1 script, h1 b, script').length`); scripts != 2 {
		t.Errorf("%d scripts or bold letters, want the data and our own script: the title is not escaped", scripts)
	}
}
