package rank

import (
	"io"
	"strings"

	"github.com/paulmach/orb"

	"stillrow/rank/page"
	"stillrow/rank/picture"
)

// PageFile shows all maps in a browser.
const PageFile = "map.html"

// drawings are the pictures of the maps, each as pixels and as lines, and the
// page of them all.
func (k *Ranker) drawings() (list []file) {
	o := picture.Options{Title: k.o.Title, Source: k.o.Source, Outline: k.o.Outline, Within: k.border()}
	for i, name := range k.names {
		name = strings.TrimSuffix(name, mapSuffix)
		draw := func(write func(*picture.Drawing, io.Writer) error) func(io.Writer) error {
			return func(w io.Writer) error {
				d, err := picture.Map(k.survey, i, o)
				if err != nil {
					return err
				}
				return write(d, w)
			}
		}
		list = append(list,
			file{name + ".png", draw((*picture.Drawing).WritePNG)},
			file{name + ".svg", draw((*picture.Drawing).WriteSVG)},
		)
	}
	return append(list, file{PageFile, func(w io.Writer) error {
		return page.Write(w, k.survey, page.Options(o))
	}})
}

// border is that of the area, for drawing.
func (k *Ranker) border() []orb.Ring {
	if k.o.Within == nil {
		return nil
	}
	return k.o.Within.Border()
}
