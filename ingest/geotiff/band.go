package geotiff

import (
	"encoding/xml"
	"fmt"
	"strconv"
	"strings"

	"stillrow/ingest/row"
)

// bands reads what GDAL notes about the bands in tagMetadata: items of XML with
// the number of the band and the role of the text.
func bands(d *directory, n int) ([]Band, error) {
	list := make([]Band, n)
	for i := range list {
		list[i].Scale = 1
	}
	text, err := d.text(tagMetadata)
	if err != nil || text == "" {
		return list, err
	}
	var meta struct {
		Items []struct {
			Band *int   `xml:"sample,attr"`
			Role string `xml:"role,attr"`
			Text string `xml:",chardata"`
		} `xml:"Item"`
	}
	if err := xml.Unmarshal([]byte(text), &meta); err != nil {
		return nil, fmt.Errorf("GDAL's metadata, tag %d: %w", tagMetadata, err)
	}
	for _, item := range meta.Items {
		if item.Band == nil || *item.Band < 0 || *item.Band >= n {
			continue
		}
		b, text := &list[*item.Band], strings.TrimSpace(item.Text)
		number := func(to *float64) error {
			v, err := strconv.ParseFloat(text, 64)
			if err != nil || v-v != 0 {
				return fmt.Errorf("band %d: %s %q is not a number", *item.Band+1, item.Role, text)
			}
			*to = v
			return nil
		}
		switch item.Role {
		case "scale":
			err = number(&b.Scale)
		case "offset":
			err = number(&b.Offset)
		case "unittype":
			b.Unit = row.Text([]byte(text))
		case "description":
			b.Description = row.Text([]byte(text))
		}
		if err != nil {
			return nil, err
		}
	}
	return list, nil
}
