package rank

import (
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stillrow/simulate/result"
)

var update = flag.Bool("update", false, "rewrite testdata from what the tests get")

func TestText(t *testing.T) {
	o, blocks := halvane(t)
	s := summarise(t, o, blocks...)
	var b strings.Builder
	if err := s.WriteText(&b); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join("testdata", "summary.txt")
	if *update {
		if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if b.String() != string(want) {
		t.Errorf("got\n%swant, from %s,\n%s", b.String(), path, want)
		if err := os.WriteFile(path+".got", []byte(b.String()), 0o644); err != nil {
			t.Error(err)
		}
	}
	for line := range strings.Lines(b.String()) {
		if w := width(strings.TrimSuffix(line, "\n")); w > textWidth {
			t.Errorf("%d columns: %s", w, line)
		}
	}
	if _, err := json.Marshal(s); err != nil {
		t.Error(err)
	}
}

// The longest names and numbers still keep to the width.
func TestTextKeepsItsWidth(t *testing.T) {
	uses := []Use{wholeYear, wholeYear, wholeYear}
	uses[0].Name, uses[1].Name, uses[2].Name = strings.Repeat("very ", 12)+"long", "冷房 と 給湯 の ため の 温水", "short"
	o := handOptions(t, []result.Design{mirror(0.6, 60), mirror(1.25, 102.5)}, uses...)
	o.Table.Outlets = []float64{35, 45, 60, 75}
	o.Currency = "Halvane crowns"
	var heat []float64
	for range 4 {
		heat = append(heat, 0.001, 0.002)
	}
	b := flat("S", -33.3, heat...)
	b.Site.Name = strings.Repeat("Llanfair ", 20)
	b2 := flat("S2", 33.3, 1200, 1300, 0, 10, 0, 0, 10, 0)
	s := summarise(t, o, b, b2)
	var text strings.Builder
	if err := s.WriteText(&text); err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(text.String()) {
		if w := width(strings.TrimSuffix(line, "\n")); w > textWidth {
			t.Errorf("%d columns: %s", w, line)
		}
	}
}

func TestNumbersForPeople(t *testing.T) {
	for n, want := range map[int]string{0: "0", 999: "999", 1000: "1 000", 1234567: "1 234 567"} {
		if got := grouped(n); got != want {
			t.Errorf("grouped(%d) = %q, want %q", n, got, want)
		}
	}
	for v, want := range map[float64]string{0.012345: "0.0123", 0.9996: "1.000", 3.14159: "3.14", 123.4: "123", 0: "0"} {
		if got := digits(v, 3); got != want {
			t.Errorf("digits(%g, 3) = %q, want %q", v, got, want)
		}
	}
}

func TestMedian(t *testing.T) {
	for _, tt := range []struct {
		list []float64
		want float64
	}{{[]float64{3}, 3}, {[]float64{9, 1, 2}, 2}, {[]float64{4, 1, 3, 2}, 2.5}} {
		if got := (&sum{lcoh: tt.list}).median(); *got != tt.want {
			t.Errorf("median of %v is %g, want %g", tt.list, *got, tt.want)
		}
	}
	if got := (&sum{}).median(); got != nil {
		t.Errorf("median of nothing is %g", *got)
	}
}
