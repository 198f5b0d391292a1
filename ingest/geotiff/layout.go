package geotiff

import (
	"errors"
	"fmt"
)

// A layout says where the strips or tiles lie: plane by plane, in each row by
// row.
type layout struct {
	width, height int // of a block
	across, down  int // blocks of a plane
	samples       int // of a pixel in a block
	planar, tiled bool
	offset, count []uint64
}

func newLayout(d *directory, width, height, bands, size int) (l layout, err error) {
	planar, err := d.whole(tagPlanar, 1, 1, 2)
	if err != nil {
		return l, err
	}
	planes := 1
	l.samples = bands
	if planar == 2 && bands > 1 {
		l.planar, l.samples, planes = true, 1, bands
	}
	offsets, counts := uint16(tagStripOffsets), uint16(tagStripCounts)
	if _, l.tiled = d.entry[tagTileWidth]; l.tiled {
		offsets, counts = tagTileOffsets, tagTileCounts
		if l.width, err = d.whole(tagTileWidth, 0, 1, mostSide); err != nil {
			return l, err
		}
		if l.height, err = d.whole(tagTileHeight, 0, 1, mostSide); err != nil {
			return l, err
		}
	} else {
		l.width = width
		// Without the tag, and often with 2³²−1 in it, one strip holds all.
		rows, err := d.wholes(tagRowsPerStrip)
		switch {
		case err != nil:
			return l, err
		case rows == nil || rows[0] > uint64(height):
			l.height = height
		case rows[0] == 0:
			return l, errors.New("strips of no rows: damaged")
		default:
			l.height = int(rows[0])
		}
	}
	l.across, l.down = (width+l.width-1)/l.width, (height+l.height-1)/l.height
	if bytes := int64(l.width) * int64(l.height) * int64(l.samples) * int64(size); bytes > mostBlock {
		return l, fmt.Errorf("strips or tiles of %d MiB, want at most %d; rewrite it by: gdal_translate -co TILED=YES -co INTERLEAVE=BAND in.tif out.tif",
			bytes>>20, mostBlock>>20)
	}
	want := int64(planes) * int64(l.across) * int64(l.down)
	if l.offset, err = d.wholes(offsets); err != nil {
		return l, err
	}
	if l.count, err = d.wholes(counts); err != nil {
		return l, err
	}
	if int64(len(l.offset)) < want || int64(len(l.count)) < want {
		return l, fmt.Errorf("places of %d and sizes of %d strips or tiles, want %d", len(l.offset), len(l.count), want)
	}
	l.offset, l.count = l.offset[:want], l.count[:want]
	return l, nil
}
