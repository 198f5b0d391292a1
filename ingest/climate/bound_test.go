package climate

import (
	"fmt"
	"io"
	"runtime"
	"strings"
	"testing"
)

// zeros gives n bytes of digits without an end of line.
func zeros(n int64) io.Reader { return io.LimitReader(endless{}, n) }

type endless struct{}

func (endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = '0'
	}
	return len(p), nil
}

// A line of 1 GiB is refused by number and limit, from a few MiB of it.
func TestLineOfAGigabyte(t *testing.T) {
	const limit = "a line or a text in quotation marks of over 4194304 bytes, want at most that: not a table of monthly means"
	wide, long := tableText(nil), longTable(longHeader, nil)
	for name, read := range map[string]func(io.Reader, string) ([]Cell, error){"wide": Read, "long": ReadMonthly} {
		good := map[string]string{"wide": wide, "long": long}[name]
		for _, head := range []string{"site_id,lat,", good + "X,", good + "X,\""} {
			at := fmt.Sprintf("t.csv:%d", strings.Count(head, "\n")+1)
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			_, err := read(io.MultiReader(strings.NewReader(head), zeros(1<<30)), "t.csv")
			runtime.ReadMemStats(&after)
			if err == nil || !strings.Contains(err.Error(), at+": "+limit) {
				t.Errorf("%s, …%.10q: %.300v, want %s: %s", name, head[max(0, len(head)-10):], err, at, limit)
			}
			if got := after.TotalAlloc - before.TotalAlloc; got > 64<<20 {
				t.Errorf("%s: %d MiB taken", name, got>>20)
			}
		}
	}
}

// frugal reads a table and holds the memory taken against the text, and every
// line of the error to begin with the file's name.
func frugal(t *testing.T, text string, read func(io.Reader, string) ([]Cell, error)) []Cell {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	cells, err := read(strings.NewReader(text), "f.csv")
	runtime.ReadMemStats(&after)
	if n := after.TotalAlloc - before.TotalAlloc; n > 16<<20+1<<12*uint64(len(text)) {
		t.Errorf("%d bytes taken for a text of %d", n, len(text))
	}
	if err != nil && !strings.HasPrefix(err.Error(), "f.csv:") {
		t.Errorf("%q does not begin with the file's name", err)
	}
	return cells
}
