package rank

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/mattn/go-runewidth"
)

// textWidth is the width in columns that WriteText keeps to.
const textWidth = 100

// WriteText writes the summary for a person to read: what heat costs by use
// and outlet, then the mirror that suits each band of latitude.
func (s *Summary) WriteText(w io.Writer) error {
	var b strings.Builder
	fold(&b, fmt.Sprintf("%s, %s. Heat from gas costs %s %s per kWh; the costs below are in the same unit.%s%s",
		number(s.Sites, "site"), number(s.Designs, "design"), s.gasHeat(), s.Currency, s.unpriced(), s.leftOut()))
	s.writeOutcomes(&b)
	s.writeBandTables(&b)
	s.writeRules(&b)
	for _, c := range s.Cautions {
		b.WriteByte('\n')
		fold(&b, c)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// gasHeat gives the cost of heat from gas, or its range over the books.
func (s *Summary) gasHeat() string {
	if len(s.Books) == 0 {
		return "–"
	}
	least, most := s.Books[0].GasHeat, s.Books[0].GasHeat
	for _, b := range s.Books {
		least, most = min(least, b.GasHeat), max(most, b.GasHeat)
	}
	if least == most {
		return digits(least, 3)
	}
	return digits(least, 3) + " to " + digits(most, 3)
}

// unpriced says how many sites another book stands in for.
func (s *Summary) unpriced() string {
	n := 0
	for _, b := range s.Books {
		if strings.HasSuffix(b.Book, noBook) {
			n += b.Sites
		}
	}
	switch n {
	case 0:
		return ""
	case 1:
		return " The country of 1 site has no cost book: a default one stands in."
	}
	return " The countries of " + grouped(n) + " sites have no cost book: a default one stands in."
}

// leftOut says how many sites lie out of the area.
func (s *Summary) leftOut() string {
	if s.Outside == 0 {
		return ""
	}
	return " Left out for lying outside the area: " + number(s.Outside, "site") + "."
}

func (s *Summary) writeOutcomes(b *strings.Builder) {
	places := 2 // decimals that show the cheapest with three digits
	for _, r := range s.Results {
		if r.Cheapest != nil {
			places = max(places, decimals(r.Cheapest.LCOH, 3))
		}
	}
	t := table{right: []bool{false, true, true, true, true, true}}
	t.row("", "outlet", "beat gas", "no heat", "median", "lowest", "")
	t.row("use", "°C", "sites", "sites", "cost", "cost", "lowest at")
	for _, r := range s.Results {
		beat := fmt.Sprintf("%s  %3.0f %%", grouped(r.BeatGas), 100*float64(r.BeatGas)/float64(max(1, r.Sites)))
		use := cut(r.Use, 26)
		if r.Refused != "" {
			t.row(use, short(r.Outlet), "–", "–", "–", "–", "not buildable: "+r.Refused)
			continue
		}
		if r.Cheapest == nil {
			t.row(use, short(r.Outlet), beat, grouped(r.NoHeat), "–", "–", "")
			continue
		}
		t.row(use, short(r.Outlet), beat, grouped(r.NoHeat), fmt.Sprintf("%.*f", places, *r.Median),
			fmt.Sprintf("%.*f", places, r.Cheapest.LCOH), r.Cheapest.text())
	}
	b.WriteByte('\n')
	t.write(b)
}

// text says where the place is, then its name, which may be cut.
func (p *Place) text() string {
	name := p.Name
	if name == "" {
		name = p.SiteID
	}
	return fmt.Sprintf("%s, %s  %s", degrees(p.Lat, "N", "S"), degrees(p.Lon, "E", "W"), name)
}

func degrees(v float64, plus, minus string) string {
	if v < 0 {
		plus, v = minus, -v
	}
	return fmt.Sprintf("%.1f° %s", v, plus)
}

// writeBandTables sets bands against outcomes, north at the top as on a map, in
// as many tables as the width asks for.
func (s *Summary) writeBandTables(b *strings.Builder) {
	if len(s.Results) == 0 || len(s.Results[0].Bands) == 0 {
		return
	}
	lengths := s.lengthsDiffer()
	what := "tilt"
	if lengths {
		what = "tilt and length"
	}
	b.WriteByte('\n')
	fold(b, "Best "+what+" of the mirror for each band of latitude, and how much dearer heat is, in the mean over the band's sites, "+
		"with that one mirror than with each site's own best. ! marks a band with sites where it gives no heat.")

	var columns [][]string // one per outcome
	label, column := 0, 0  // widest of each kind
	for _, r := range s.Results {
		c := []string{cut(r.Use, 16), short(r.Outlet) + " °C"}
		for _, band := range slices.Backward(r.Bands) {
			c = append(c, band.cell(lengths))
			label = max(label, width(band.label()))
		}
		for _, text := range c {
			column = max(column, width(text))
		}
		columns = append(columns, c)
	}
	labels := []string{"", "latitude"}
	for _, band := range slices.Backward(s.Results[0].Bands) {
		labels = append(labels, band.label())
	}
	for part := range slices.Chunk(columns, max(1, (textWidth-label)/(column+2))) {
		t := table{right: []bool{false}}
		for range part {
			t.right = append(t.right, true)
		}
		for i, text := range labels {
			line := []string{text}
			for _, c := range part {
				line = append(line, c[i])
			}
			t.row(line...)
		}
		b.WriteByte('\n')
		t.write(b)
	}
}

// writeRules gives the tilt as a rule of latitude where there are bands enough
// to see one.
func (s *Summary) writeRules(b *strings.Builder) {
	t := table{right: []bool{false, true, false, true, true, true}}
	t.row("", "outlet", "tilt at absolute", "found at", "error", "extra")
	t.row("use", "°C", "latitude φ", "φ, °", "°", "cost %")
	for _, r := range s.Results {
		if rule := r.Tilt; rule != nil && rule.Bands > 2 {
			t.row(cut(r.Use, 26), short(r.Outlet), fmt.Sprintf("%.1f° %s %.2f φ", rule.AtEquator, sign(rule.PerDegree), math.Abs(rule.PerDegree)),
				fmt.Sprintf("%.0f to %.0f", rule.LatFrom, rule.LatTo), fmt.Sprintf("%.1f", rule.RMS), fmt.Sprintf("%+.1f", rule.MeanExtra))
		}
	}
	if len(t.lines) == 2 {
		return
	}
	b.WriteByte('\n')
	fold(b, "Tilt of the mirror as a rule of latitude, with its root-mean-square error against the bands' best tilts, and how much dearer heat is by it "+
		"than with each site's own best.")
	b.WriteByte('\n')
	t.write(b)
}

func sign(v float64) string {
	if v < 0 {
		return "−"
	}
	return "+"
}

// label names the band by its edges.
func (b *Band) label() string {
	if b.LatFrom < 0 {
		return fmt.Sprintf("%s–%s° S", short(-b.LatTo+0), short(-b.LatFrom))
	}
	return fmt.Sprintf("%s–%s° N", short(b.LatFrom), short(b.LatTo))
}

// lengthsDiffer says whether the bands have mirrors of more than one length.
func (s *Summary) lengthsDiffer() bool {
	length := 0.0
	for _, r := range s.Results {
		for _, b := range r.Bands {
			if b.Design == nil || b.Design.MirrorLength == 0 {
				continue
			}
			if length != 0 && b.Design.MirrorLength != length {
				return true
			}
			length = b.Design.MirrorLength
		}
	}
	return false
}

func (b *Band) cell(length bool) string {
	if b.Design == nil {
		return "no heat"
	}
	tilt := "no mirror"
	if b.Design.MirrorLength > 0 {
		tilt = short(math.Round(b.Design.MirrorTilt*10)/10) + "°"
		if length {
			tilt += " " + short(math.Round(b.Design.MirrorLength*100)/100) + " m"
		}
	}
	mark := " "
	if b.DesignNoHeat > 0 {
		mark = "!"
	}
	extra := fmt.Sprintf("%+.1f", *b.MeanExtra+0)
	if *b.MeanExtra >= 100 {
		extra = fmt.Sprintf("%+.0f", *b.MeanExtra)
	}
	return fmt.Sprintf("%s %5s %%%s", tilt, extra, mark)
}

// A table is lines of cells, set out in columns two blanks apart and cut at
// textWidth.
type table struct {
	right []bool // columns set to the right; those beyond are set to the left
	lines [][]string
}

func (t *table) row(cells ...string) { t.lines = append(t.lines, cells) }

func (t *table) write(b *strings.Builder) {
	var widths []int
	for _, line := range t.lines {
		for i, c := range line {
			if i == len(widths) {
				widths = append(widths, 0)
			}
			widths[i] = max(widths[i], width(c))
		}
	}
	for _, line := range t.lines {
		var out strings.Builder
		for i, c := range line {
			if i > 0 {
				out.WriteString("  ")
			}
			pad := strings.Repeat(" ", widths[i]-width(c))
			if i < len(t.right) && t.right[i] {
				out.WriteString(pad + c)
			} else {
				out.WriteString(c + pad)
			}
		}
		b.WriteString(cut(strings.TrimRight(out.String(), " "), textWidth) + "\n")
	}
}

// terminal measures text the same way whatever the language of the host.
var terminal = runewidth.Condition{StrictEmojiNeutral: true}

func width(s string) int { return terminal.StringWidth(s) }

// cut shortens s to at most n columns.
func cut(s string, n int) string { return terminal.Truncate(s, n, "…") }

// fold writes a paragraph in lines of at most textWidth.
func fold(b *strings.Builder, text string) {
	at := 0
	for i, word := range strings.Fields(text) {
		switch {
		case i == 0:
		case at+1+width(word) > textWidth:
			b.WriteByte('\n')
			at = 0
		default:
			b.WriteByte(' ')
			at++
		}
		b.WriteString(word)
		at += width(word)
	}
	b.WriteByte('\n')
}

func number(n int, what string) string {
	if n != 1 {
		what += "s"
	}
	return grouped(n) + " " + what
}

// grouped writes a count with a blank between thousands.
func grouped(n int) string {
	s := strconv.Itoa(n)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + " " + s[i:]
	}
	return s
}

// decimals is how many places after the point show v with so many digits.
func decimals(v float64, digits int) int {
	if v <= 0 {
		return 0
	}
	return max(0, digits-1-int(math.Floor(math.Log10(v))))
}

func digits(v float64, n int) string { return fmt.Sprintf("%.*f", decimals(v, n), v) }
