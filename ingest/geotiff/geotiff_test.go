package geotiff

import (
	"bytes"
	"encoding/binary"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"stillrow/ingest/grid"
	"stillrow/ingest/weather"
)

func read(t testing.TB, name string) *grid.File {
	t.Helper()
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	f, err := Read(bytes.NewReader(data), int64(len(data)), filepath.Base(name))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// A tag of a file built by hand.
type tag struct {
	id, kind uint16
	value    any // of fixed size, or []byte
}

// build makes a little-endian TIFF by the letter of TIFF 6.0: header, data,
// values, list of tags.
func build(data []byte, tags []tag) []byte {
	le := binary.LittleEndian
	out := append([]byte("II*\x00\x00\x00\x00\x00"), data...)
	var list []byte
	for _, t := range tags {
		var v bytes.Buffer
		binary.Write(&v, le, t.value)
		size := int(sizes[t.kind])
		e := le.AppendUint16(le.AppendUint16(nil, t.id), t.kind)
		e = le.AppendUint32(e, uint32(v.Len()/size))
		if v.Len() <= 4 {
			e = append(e, append(v.Bytes(), 0, 0, 0, 0)[:4]...)
		} else {
			e = le.AppendUint32(e, uint32(len(out)))
			out = append(out, v.Bytes()...)
		}
		list = append(list, e...)
	}
	le.PutUint32(out[4:], uint32(len(out)))
	out = le.AppendUint16(out, uint16(len(tags)))
	out = append(out, list...)
	return le.AppendUint32(out, 0)
}

// small is a raster of 3 × 2 int16 in two strips; its values are 1 … 6, the
// fourth without data. Edit may change its tags.
func small(edit func(map[uint16]*tag)) []byte {
	data := binary.LittleEndian.AppendUint16(nil, 1)
	for _, v := range []uint16{2, 3, 0xffff, 5, 6} {
		data = binary.LittleEndian.AppendUint16(data, v)
	}
	tags := []tag{
		{tagWidth, 3, uint16(3)}, {tagHeight, 3, uint16(2)}, {tagBits, 3, uint16(16)}, {tagCompression, 3, uint16(1)},
		{tagStripOffsets, 4, []uint32{8, 14}}, {tagSamples, 3, uint16(1)}, {tagRowsPerStrip, 3, uint16(1)},
		{tagStripCounts, 4, []uint32{6, 6}}, {tagFormat, 3, uint16(2)},
		{tagPixelScale, 12, []float64{0.5, 0.25, 0}}, {tagTiepoint, 12, []float64{0, 0, 0, 10, 40, 0}},
		{tagGeoKeys, 3, []uint16{1, 1, 0, 3, keyModel, 0, 1, 2, keyRaster, 0, 1, 1, keyGeographic, 0, 1, 4326}},
		{tagNoData, 2, []byte("-1\x00")},
	}
	if edit != nil {
		at := map[uint16]*tag{}
		for i := range tags {
			at[tags[i].id] = &tags[i]
		}
		edit(at)
	}
	return build(data, tags)
}

func open(data []byte) (*Raster, error) {
	return Open(bytes.NewReader(data), int64(len(data)), "g.tif")
}

func TestByHand(t *testing.T) {
	for name, tt := range map[string]struct {
		edit     func(map[uint16]*tag)
		lon, lat []float64
		scale    float64
	}{
		"area": {nil, []float64{10.25, 10.75, 11.25}, []float64{39.875, 39.625}, 1},
		"point": {func(m map[uint16]*tag) {
			m[tagGeoKeys].value = []uint16{1, 1, 0, 2, keyModel, 0, 1, 2, keyRaster, 0, 1, 2}
		}, []float64{10, 10.5, 11}, []float64{40, 39.75}, 1},
		"tie point elsewhere": {func(m map[uint16]*tag) { m[tagTiepoint].value = []float64{1, 2, 0, 10.5, 39.5, 0} },
			[]float64{10.25, 10.75, 11.25}, []float64{39.875, 39.625}, 1},
		"matrix, south up": {func(m map[uint16]*tag) {
			m[tagPixelScale].id = 40000
			*m[tagTiepoint] = tag{tagTransform, 12, []float64{0.5, 0, 0, 10, 0, 0.25, 0, 40, 0, 0, 0, 0, 0, 0, 0, 1}}
		}, []float64{10.25, 10.75, 11.25}, []float64{40.125, 40.375}, 1},
		"scale": {func(m map[uint16]*tag) {
			*m[tagSamples] = tag{tagMetadata, 2, []byte(`<GDALMetadata><Item name="SCALE" sample="0" role="scale">10</Item></GDALMetadata>` + "\x00")}
		}, []float64{10.25, 10.75, 11.25}, []float64{39.875, 39.625}, 10},
	} {
		g, err := open(small(tt.edit))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		for i := range tt.lon {
			if math.Abs(g.Lon[i]-tt.lon[i]) > 1e-12 {
				t.Errorf("%s: longitudes %v, want %v", name, g.Lon, tt.lon)
			}
		}
		for i := range tt.lat {
			if math.Abs(g.Lat[i]-tt.lat[i]) > 1e-12 {
				t.Errorf("%s: latitudes %v, want %v", name, g.Lat, tt.lat)
			}
		}
		got := make([]float32, 6)
		if err := g.ReadRows(got, 0, 0, 2); err != nil {
			t.Fatal(err)
		}
		for i, v := range got {
			if want := float32(tt.scale * float64(i+1)); v != want && !(i == 3 && v != v) {
				t.Errorf("%s: %v", name, got)
			}
		}
	}
}

// Samples of one byte, with and without sign: what the two strips of small hold
// byte by byte, with −1 as no data.
func TestBytes(t *testing.T) {
	for kind, want := range map[uint16][6]float64{signed: {1, 0, 2, math.NaN(), math.NaN(), 5}, unsigned: {1, 0, 2, 255, 255, 5}} {
		g, err := open(small(func(m map[uint16]*tag) {
			m[tagBits].value, m[tagFormat].value = uint16(8), kind
			m[tagStripCounts].value = []uint32{3, 3}
		}))
		if err != nil {
			t.Fatal(err)
		}
		got := make([]float32, 6)
		if err := g.ReadRows(got, 0, 0, 2); err != nil {
			t.Fatal(err)
		}
		for i, w := range want {
			if v := float64(got[i]); v != w && !(v != v && w != w) {
				t.Errorf("format %d: %v, want %v", kind, got, want)
			}
		}
	}
}

func TestDamaged(t *testing.T) {
	for _, tt := range []struct {
		name string
		edit func(map[uint16]*tag)
		want string
	}{
		{"width 0", func(m map[uint16]*tag) { m[tagWidth].value = uint16(0) }, "g.tif: tag 256: 0, want 1 to 1048576"},
		{"width without end", func(m map[uint16]*tag) { *m[tagWidth] = tag{tagWidth, 4, uint32(1 << 31)} }, "g.tif: tag 256: 2147483648, want 1 to 1048576"},
		{"one strip for two", func(m map[uint16]*tag) { m[tagStripOffsets].value = []uint32{8} }, "g.tif: places of 1 and sizes of 2 strips or tiles, want 2"},
		{"strip beyond the end", func(m map[uint16]*tag) { m[tagStripOffsets].value = []uint32{8, 9e6} }, "strip 2 of 2: bytes 9000000 to 9000006 lie beyond the end"},
		{"strip too short", func(m map[uint16]*tag) { m[tagStripCounts].value = []uint32{6, 5} }, "g.tif: strip 2 of 2: holds less than its size: damaged"},
		{"huge block", func(m map[uint16]*tag) {
			*m[tagWidth], *m[tagHeight] = tag{tagWidth, 4, uint32(1 << 20)}, tag{tagHeight, 4, uint32(1 << 20)}
			*m[tagRowsPerStrip] = tag{tagRowsPerStrip, 4, uint32(1 << 20)}
		}, "g.tif: strips or tiles of 2097152 MiB, want at most 128; rewrite it by: gdal_translate -co TILED=YES -co INTERLEAVE=BAND in.tif out.tif"},
		{"turned", func(m map[uint16]*tag) {
			m[tagPixelScale].id = 40000
			*m[tagTiepoint] = tag{tagTransform, 12, []float64{0.5, 0.1, 0, 10, 0.1, 0.25, 0, 40, 0, 0, 0, 0, 0, 0, 0, 1}}
		}, "g.tif: a turned or sheared raster; bring it to rows of one latitude by: gdalwarp -t_srs EPSG:4326 in.tif out.tif"},
		{"other meridian", func(m map[uint16]*tag) {
			m[tagGeoKeys].value = []uint16{1, 1, 0, 2, keyModel, 0, 1, 2, keyMeridian, 0, 1, 8903}
		}, "g.tif: longitudes from EPSG meridian 8903, want Greenwich; bring it to them by: gdalwarp -t_srs EPSG:4326 g.tif out.tif"},
		{"keys cut off", func(m map[uint16]*tag) { m[tagGeoKeys].value = []uint16{1, 1, 0, 9, 1, 1, 1, 1} }, "g.tif: tag 34735: 8 numbers for its keys: damaged"},
		{"north of the pole", func(m map[uint16]*tag) { m[tagTiepoint].value = []float64{0, 0, 0, 10, 140, 0} }, "g.tif: centres at longitudes 10.25 to 11.25, latitudes 139.875 to 139.625 are not on the earth"},
		{"no-data word", func(m map[uint16]*tag) { m[tagNoData].value = []byte("none\x00") }, `g.tif: no-data value "none" is not a number`},
		{"scale in words", func(m map[uint16]*tag) {
			*m[tagSamples] = tag{tagMetadata, 2, []byte(`<GDALMetadata><Item sample="0" role="scale">big</Item></GDALMetadata>` + "\x00")}
		}, `g.tif: band 1: scale "big" is not a number`},
		{"unknown packing", func(m map[uint16]*tag) { m[tagCompression].value = uint16(9999) }, "g.tif: packed by compression 9999, which is not read; rewrite it by: gdal_translate -co COMPRESS=DEFLATE g.tif out.tif"},
		{"width by text", func(m map[uint16]*tag) { *m[tagWidth] = tag{tagWidth, 2, []byte("3\x00")} }, "g.tif: tag 256: values of type 2, want whole numbers"},
	} {
		g, err := open(small(tt.edit))
		if err == nil {
			err = g.ReadRows(make([]float32, g.Width*g.Height), 0, 0, g.Height)
		}
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want\n%s", tt.name, err, tt.want)
		}
		var file *weather.FileError
		if err != nil && !errors.As(err, &file) {
			t.Errorf("%s: %T", tt.name, err)
		}
	}
	// A list of tags that names itself as the next.
	data := small(nil)
	copy(data[len(data)-4:], data[4:8])
	if _, err := open(data); err == nil || err.Error() != "g.tif: the list of images does not end: damaged" {
		t.Errorf("cycle: %v", err)
	}
}

// try opens and reads what may be damaged, some rows of it if it is large.
func try(t testing.TB, data []byte) error {
	g, err := open(data)
	if err == nil {
		ny := max(1, min(g.Height, 1<<20/g.Width))
		err = g.ReadRows(make([]float32, ny*g.Width), len(g.Bands)-1, 0, ny)
	}
	if err != nil && strings.Contains(err.Error(), "\n") {
		t.Errorf("error of several lines: %q", err)
	}
	return err
}

// Every cut of a good file is refused.
func TestCutOff(t *testing.T) {
	data := small(nil)
	for n := range data {
		if try(t, data[:n]) == nil {
			t.Errorf("the first %d of %d bytes are taken for a raster", n, len(data))
		}
	}
}

// Flipped bits give an error or other values, never a panic.
func TestFlippedBits(t *testing.T) {
	seeds := [][]byte{small(nil)}
	r := rand.New(rand.NewPCG(1, 2))
	for range 20000 {
		data := bytes.Clone(seeds[r.IntN(len(seeds))])
		for range 1 + r.IntN(4) {
			data[r.IntN(len(data))] ^= 1 << r.IntN(8)
		}
		try(t, data)
	}
}

// PackBits as TIFF 6.0, section 9 unpacks it: the example of Apple's technical
// note TN1023 (from memory).
func TestPackBits(t *testing.T) {
	packed := []byte{0xfe, 0xaa, 0x02, 0x80, 0x00, 0x2a, 0xfd, 0xaa, 0x03, 0x80, 0x00, 0x2a, 0x22, 0xf7, 0xaa}
	want := []byte{0xaa, 0xaa, 0xaa, 0x80, 0x00, 0x2a, 0xaa, 0xaa, 0xaa, 0xaa, 0x80, 0x00, 0x2a, 0x22,
		0xaa, 0xaa, 0xaa, 0xaa, 0xaa, 0xaa, 0xaa, 0xaa, 0xaa, 0xaa}
	got, err := newUnpacker().unpack(packBits, bytes.NewReader(packed), len(want))
	if err != nil || !bytes.Equal(got, want) {
		t.Errorf("% x, %v", got, err)
	}
}

// TIFF Technical Note 3: of a row, the highest bytes of all samples come first, and
// each byte but the first is the difference from the one before. By hand for two
// pixels of two bands: 1, 2, 3, 7, whose bits are 3f800000, 40000000, 40400000 and
// 40e00000; the neighbour of a byte is that of the pixel before.
func TestPredictor3(t *testing.T) {
	planes := []byte{0x3f, 0x40, 0x40, 0x40, 0x80, 0x00, 0x40, 0xe0, 0, 0, 0, 0, 0, 0, 0, 0}
	data := bytes.Clone(planes)
	for i := 2; i < len(data); i++ {
		data[i] = planes[i] - planes[i-2]
	}
	s := sample{kind: float, size: 4, order: binary.BigEndian, noData: math.NaN()}
	(&codec{packDeflate, 3}).unpredict(data, 2, 2, &s)
	for i, want := range []float64{1, 2, 3, 7} {
		if got := s.number(data[4*i:]); got != want {
			t.Errorf("sample %d: %v, want %v", i, got, want)
		}
	}
}

func FuzzOpen(f *testing.F) {
	f.Add(small(nil))
	for _, pack := range []int{packLZW, packDeflate, packBits, packZSTD} {
		f.Add(small(func(m map[uint16]*tag) { m[tagCompression].value = uint16(pack) }))
	}
	f.Add(small(func(m map[uint16]*tag) {
		*m[tagSamples] = tag{tagMetadata, 2, []byte(`<GDALMetadata><Item sample="0" role="unittype">K</Item></GDALMetadata>` + "\x00")}
	}))
	f.Fuzz(func(t *testing.T, data []byte) {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		try(t, data)
		runtime.ReadMemStats(&after)
		// A row of blocks may be unpacked, each into a buffer that has grown to mostBlock.
		if n := after.TotalAlloc - before.TotalAlloc; n > 4*mostBlock+1<<12*uint64(len(data)) {
			t.Errorf("%d bytes taken for a file of %d", n, len(data))
		}
	})
}
