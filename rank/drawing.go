package rank

import (
	"io"
	"math"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"stillrow/rank/page"
	"stillrow/rank/picture"
	"stillrow/rank/survey"
)

const (
	// PageFile shows all maps in a browser.
	PageFile = "map.html"

	bandsPicture = "bands.png"
)

// drawings are the pictures of the maps, each as pixels and as lines, that of
// the bands, and the page of all maps.
func (k *Ranker) drawings(bands []Band) (list []file) {
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
	if len(bands) > 0 {
		list = append(list, file{bandsPicture, func(w io.Writer) error {
			d, err := picture.Bands(k.survey, k.drawn(bands), o)
			if err != nil {
				return err
			}
			return d.WritePNG(w)
		}})
	}
	return append(list, file{PageFile, func(w io.Writer) error {
		return page.Write(w, k.survey, page.Options(o))
	}})
}

// drawn gives bands as pictures take them.
func (k *Ranker) drawn(bands []Band) (list []picture.Band) {
	for i := range bands {
		b := &bands[i]
		layer := slices.IndexFunc(k.survey.Layers, func(l survey.Layer) bool { return l.Use == valid(b.Use) && l.Outlet == b.Outlet })
		d := picture.Band{Layer: layer, From: b.LatFrom, To: b.LatTo, Tilt: math.NaN()}
		if b.Design != nil && b.Design.MirrorLength > 0 {
			d.Tilt = b.Design.MirrorTilt
		}
		list = append(list, d)
	}
	return list
}

// border is that of the area, for drawing.
func (k *Ranker) border() []orb.Ring {
	if k.o.Within == nil {
		return nil
	}
	return k.o.Within.Border()
}
