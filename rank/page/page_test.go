package page

import (
	"bytes"
	"compress/flate"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"regexp"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"stillrow/rank/shade"
	"stillrow/rank/survey"
	"stillrow/simulate/result"
)

const nasty = `Low <b>"Bay" & </script><script>alert(1)</script>`

// made is a survey of invented cells, side cells to a row, with noise in every figure.
func made(t testing.TB, n, side int) *survey.Survey {
	t.Helper()
	var layers []survey.Layer
	for _, outlet := range []float64{35, 45, 60, 75} {
		for _, use := range []string{"year", "winter", "summer"} {
			l := survey.Layer{Use: use, Outlet: outlet}
			if use == "winter" {
				l.When = "Dec–Feb; southern hemisphere Jun–Aug"
				l.Months = [12]bool{0: true, 1: true, 11: true}
			}
			layers = append(layers, l)
		}
	}
	var designs []result.Design
	for k := range 300 {
		designs = append(designs, result.Design{ReceiverWidth: 1, MirrorTilt: 50 + float64(k%60), MirrorLength: float64(k/60) / 2})
	}
	s, err := survey.New(t.TempDir(), layers, designs, "EUR")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	reason := s.Reason("too hot for the film")
	random := rand.New(rand.NewPCG(1, 2))
	noise := func() float64 { return random.Float64() }
	// about is a figure of the next place, close to that of its neighbours.
	about := func(v float64) float64 { return v * (1 + 0.05*(noise()-0.5)) }
	for i := range n {
		row, col := i/side, i%side
		gas := 0.09 + 0.02*noise()
		var all []survey.Finding
		for l, layer := range layers {
			f := survey.None(gas)
			if i%41 == 40 {
				f.Without = reason
				all = append(all, f)
				continue
			}
			f.Design, f.Second = int32((row+l)%300), int32((row+l+1)%300)
			f.LCOH = 0.03 + layer.Outlet/2000 + 0.001*float64(row) + 0.02*noise()
			f.Ratio = f.LCOH / f.GasHeat
			f.BeatsGas = f.Ratio < 1
			f.P10, f.P90, f.Sure = about(f.LCOH*0.8), about(f.LCOH*1.3), math.Round(noise()*1000)/1000
			f.Heat = 400 + 200*noise() - layer.Outlet
			f.Saving, f.Payback, f.CO2, f.SecondLCOH = about(f.Heat*0.02), 4+3*noise(), about(f.Heat*0.2), about(f.LCOH*1.05)
			for m := range f.Months {
				f.Months[m] = float32(f.Heat / 12 * (1 + 0.6*math.Sin(float64(m)) + 0.1*noise()))
			}
			for k := range f.Split {
				f.Split[k] = about(f.LCOH / survey.Units)
			}
			all = append(all, f)
		}
		p := survey.Place{ID: fmt.Sprintf("c%05d", i), Country: "HV", Lat: 30 + 0.25*float64(row), Lon: 5 + 0.25*float64(col), CellDeg: 0.25}
		if i == 0 {
			p.Name = nasty
		}
		if err := s.Add(p, all); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Finish(); err != nil {
		t.Fatal(err)
	}
	return s
}

var options = Options{Title: nasty, Source: "invented data", Outline: []orb.Ring{{{4, 29}, {30, 29}, {30, 50}, {4, 50}, {4, 29}}}}

func written(t testing.TB, s *survey.Survey) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, s, options); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// decode reads a page's data as its script does, by layer and column.
func decode(t *testing.T, page []byte) (h header, values []map[string][]float64) {
	t.Helper()
	m := regexp.MustCompile(`id="data">([^<]*)<`).FindSubmatch(page)
	if m == nil {
		t.Fatal("no data")
	}
	raw, err := base64.StdEncoding.DecodeString(string(m[1]))
	if err != nil {
		t.Fatal(err)
	}
	b, err := io.ReadAll(flate.NewReader(bytes.NewReader(raw)))
	if err != nil {
		t.Fatal(err)
	}
	size := binary.LittleEndian.Uint32(b)
	if err := json.Unmarshal(b[4:4+size], &h); err != nil {
		t.Fatal(err)
	}
	b = b[4+size:]
	n := h.Places
	var ints []map[string][]int32
	for l := range h.Layers {
		ints, values = append(ints, map[string][]int32{}), append(values, map[string][]float64{})
		for c, name := range h.Columns {
			column, last := make([]int32, n), int32(0)
			for i := range n {
				u := uint32(b[i]) | uint32(b[n+i])<<8 | uint32(b[2*n+i])<<16 | uint32(b[3*n+i])<<24
				if ref := h.Refs[l][c]; ref >= 0 {
					last = ints[ref][name][i]
				}
				last += int32(u>>1) ^ -int32(u&1)
				column[i] = last
				v := float64(last) / math.Pow10(h.Digits[l][c])
				if last == none {
					v = math.NaN()
				}
				values[l][name] = append(values[l][name], v)
			}
			ints[l][name], b = column, b[4*n:]
		}
	}
	if len(b) != 0 {
		t.Errorf("%d bytes left over", len(b))
	}
	return h, values
}

// Every figure is right to the digits it is shown with.
func TestFiguresOfFindings(t *testing.T) {
	s := made(t, 500, 25)
	h, values := decode(t, written(t, s))
	for l := range s.Layers {
		s.Each(l, func(i int, f *survey.Finding) error {
			for c, q := range quantities() {
				got, want := values[l][q.name][i], q.of(f)
				if math.IsNaN(got) != math.IsNaN(want) || math.Abs(got-want) > 0.5001*math.Pow10(-h.Digits[l][c]) {
					t.Fatalf("layer %d place %d %s: %v, want %v", l, i, q.name, got, want)
				}
			}
			v := values[l]
			if v["design"][i] != float64(f.Design) || v["runner"][i] != float64(f.Second) || v["without"][i] != float64(f.Without) || v["class"][i] != float64(shade.Of(f.Ratio)) {
				t.Fatalf("layer %d place %d: design, runner-up, reason or class", l, i)
			}
			for p := 1; p <= 100; p++ {
				if got := v["sure"][i] >= float64(p); got != (f.Sure >= float64(p)/100) {
					t.Fatalf("place %d, %v at least %d %%: %v", i, f.Sure, p, got)
				}
			}
			return nil
		})
	}
}

func TestSizeAndBytes(t *testing.T) {
	s := made(t, 5000, 100)
	a := written(t, s)
	t.Logf("%d bytes", len(a))
	if len(a) > 2e6 {
		t.Errorf("%d bytes for 5000 cells × 12 layers", len(a))
	}
	if !bytes.Equal(a, written(t, s)) {
		t.Error("not the same bytes twice")
	}
}

func TestEscaped(t *testing.T) {
	page := string(written(t, made(t, 3, 3)))
	if strings.Contains(page, "alert(1)</script>") || strings.Contains(page, "<b>\"Bay") {
		t.Error("title not escaped")
	}
	if n := strings.Count(page, "</script>"); n != 2 {
		t.Errorf("%d scripts, want 2", n)
	}
}

func TestMerged(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	s := made(t, 20200, 200)
	h, values := decode(t, written(t, s))
	sum := 0
	for _, n := range h.Counts {
		sum += n
	}
	if !h.Merged || sum != 20200 || h.Places > most {
		t.Fatalf("%d squares of %d cells, merged %v", h.Places, sum, h.Merged)
	}
	// The mean of all squares, weighed, is that of all cells.
	var all, squares float64
	s.Each(0, func(_ int, f *survey.Finding) error { all += f.GasHeat; return nil })
	for i, n := range h.Counts {
		squares += values[0]["gas"][i] * float64(n)
	}
	if math.Abs(squares/all-1) > 1e-4 {
		t.Errorf("mean %v, want %v", squares/20200, all/20200)
	}
}
