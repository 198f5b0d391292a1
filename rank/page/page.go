// Package page writes a survey as one HTML page that needs no network: a map to
// look round in, with the figures of every cell. The page says how exact its
// figures are: each is rounded to the digits it shows. The same survey gives
// the same bytes.
package page

import (
	"bytes"
	"compress/flate"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"

	"github.com/paulmach/orb"

	"stillrow/rank/survey"
)

// Options say what stands around the map.
type Options struct {
	Title   string     // of the study
	Source  string     // one line: where the weather comes from
	Outline []orb.Ring // coasts and borders to draw, degrees of longitude and latitude
	Within  []orb.Ring // the border of the area asked for; may be nil
}

// most is the number of squares a page holds; more are merged.
const most = 20000

var (
	//go:embed page.html
	skeleton string
	//go:embed page.css
	style string
	//go:embed data.js
	data string
	//go:embed map.js
	maps string
	//go:embed words.js
	words string
	//go:embed moves.js
	moves string
)

// script is the parts as the body of one function: nothing of it is global.
func script() template.JS {
	return template.JS("(async () => {\n'use strict';\n" + data + maps + words + moves + "})();")
}

var frame = template.Must(template.New("page").Parse(skeleton))

// Write writes the page. Cells beyond some 20 000 are merged by mean with their
// neighbours, which the page says. Memory grows with the squares shown times
// the layers, at most a few hundred bytes each.
func Write(w io.Writer, s *survey.Survey, o Options) error {
	block, err := encode(s, o)
	if err != nil {
		return fmt.Errorf("page: %w", err)
	}
	var packed bytes.Buffer
	z, err := flate.NewWriter(&packed, flate.BestCompression)
	if err != nil {
		return err
	}
	if _, err := z.Write(block); err != nil {
		return err
	}
	if err := z.Close(); err != nil {
		return err
	}
	return frame.Execute(w, map[string]any{
		"Title": o.Title, "Source": o.Source,
		"Style": template.CSS(style), "Script": script(),
		// Base64 has no character that HTML knows; escaped, "+" would not be one.
		"Data": template.HTML(base64.StdEncoding.EncodeToString(packed.Bytes())),
	})
}
