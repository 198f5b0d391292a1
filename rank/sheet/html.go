package sheet

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"

	"gonum.org/v1/plot/vg/vgsvg"
)

//go:embed sheet.html
var skeleton string

var frame = template.Must(template.New("sheet").Parse(skeleton))

// A panel is a drawing inlined in the page.
type panel struct {
	Title string
	SVG   template.HTML
}

// A grid is a table of the page, whose last row is a sum.
type grid struct {
	Title string
	Head  []string
	Rows  [][]string
}

// Last tells whether row i is the sum.
func (g grid) Last(i int) bool { return i == len(g.Rows)-1 }

// HTML writes the page as XHTML-shaped HTML, with its style and drawings in it.
func (s *Sheet) HTML(w io.Writer) error {
	var panels []panel
	for _, d := range s.drawings() {
		svg, err := d.svg()
		if err != nil {
			return fmt.Errorf("sheet: %s: %w", d.title, err)
		}
		panels = append(panels, panel{d.title, svg})
	}
	// The text is sized for print as on the picture, where it is measured.
	size := s.body(newHand(vgsvg.New(pageWidth, pageHeight)))
	return frame.Execute(w, map[string]any{
		"Sheet": s, "Panels": panels, "Print": fmt.Sprintf("%.1f", size.Points()-0.5),
		"Tables":    []grid{gridOf(s.cutTitle(), s.cutRows()), gridOf(s.billTitle(), s.billRows())},
		"Allowance": s.allowances(), "Bill": s.billNote(), "Pump": s.pump(),
	})
}

func gridOf(title string, rows [][]string) grid { return grid{title, rows[0], rows[1:]} }

// svg draws the panel as an SVG element that says what it shows.
func (d *drawing) svg() (template.HTML, error) {
	c := vgsvg.New(drawingWidth, drawingHeight)
	d.draw(newHand(c))
	var buf bytes.Buffer
	if _, err := c.WriteTo(&buf); err != nil {
		return "", err
	}
	_, rest, ok := bytes.Cut(buf.Bytes(), []byte("<svg "))
	if !ok {
		return "", fmt.Errorf("no svg element")
	}
	return template.HTML(fmt.Sprintf("<svg role=\"img\" aria-label=\"%s\" %s", template.HTMLEscapeString(d.says), rest)), nil
}
