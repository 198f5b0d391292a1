package geotiff

import (
	"bufio"
	"bytes"
	"compress/zlib"
	"errors"
	"fmt"
	"io"

	"github.com/klauspost/compress/zstd"
	"golang.org/x/image/tiff/lzw"
)

// Ways of packing, by the numbers of tagCompression.
const (
	packNone       = 1
	packLZW        = 5
	packDeflate    = 8
	packDeflateOld = 32946
	packBits       = 32773
	packZSTD       = 50000
)

// packNames are those that are known and not read.
var packNames = map[int]string{2: "CCITT", 3: "CCITT fax 3", 4: "CCITT fax 4", 6: "old JPEG", 7: "JPEG", 34712: "JPEG 2000",
	34887: "LERC", 34925: "LZMA", 50001: "WebP", 50002: "JPEG XL"}

// A codec says how blocks are packed and what was done to their samples before.
type codec struct{ pack, predictor int }

func newCodec(d *directory, name string, s *sample) (c codec, err error) {
	if c.pack, err = d.whole(tagCompression, packNone, 0, 1<<16); err != nil {
		return c, err
	}
	switch c.pack {
	case packNone, packLZW, packDeflate, packDeflateOld, packBits, packZSTD:
	default:
		what, ok := packNames[c.pack]
		if !ok {
			what = fmt.Sprintf("compression %d", c.pack)
		}
		return c, fmt.Errorf("packed by %s, which is not read; rewrite it by: gdal_translate -co COMPRESS=DEFLATE %s out.tif", what, name)
	}
	order, err := d.whole(tagFillOrder, 1, 1, 2)
	switch {
	case err != nil:
		return c, err
	case order == 2 && c.pack == packLZW:
		return c, errors.New("bits from the lowest up (FillOrder 2), which is not read")
	}
	if c.predictor, err = d.whole(tagPredictor, 1, 1, 3); err != nil {
		return c, err
	}
	switch {
	case c.pack == packNone || c.pack == packBits:
		c.predictor = 1 // defined for the others alone
	case c.predictor == 3 && s.kind != float:
		return c, errors.New("predictor 3 on samples that are not floats: damaged")
	}
	return c, nil
}

// An unpacker keeps its buffers from one block to the next.
type unpacker struct {
	in  *bufio.Reader
	out bytes.Buffer
}

func newUnpacker() *unpacker { return &unpacker{in: bufio.NewReader(nil)} }

var errShort = errors.New("holds less than its size: damaged")

// unpack gives a block's want bytes, valid until the next call. The buffer
// grows with what is there, not with what the header claims.
func (u *unpacker) unpack(pack int, packed io.Reader, want int) ([]byte, error) {
	u.in.Reset(packed)
	var r io.Reader = u.in
	switch pack {
	case packLZW:
		z := lzw.NewReader(u.in, lzw.MSB, 8)
		defer z.Close() // only read from
		r = z
	case packDeflate, packDeflateOld:
		z, err := zlib.NewReader(u.in)
		if err != nil {
			return nil, err
		}
		defer z.Close()
		r = z
	case packBits:
		r = &bitsReader{in: u.in}
	case packZSTD:
		z, err := zstd.NewReader(u.in, zstd.WithDecoderConcurrency(1), zstd.WithDecoderLowmem(true), zstd.WithDecoderMaxWindow(mostBlock))
		if err != nil {
			return nil, err
		}
		defer z.Close()
		r = z
	}
	u.out.Reset()
	n, err := io.CopyN(&u.out, r, int64(want))
	if n == int64(want) {
		return u.out.Bytes(), nil
	}
	if err == nil || err == io.EOF || errors.Is(err, io.ErrUnexpectedEOF) {
		err = errShort
	}
	return nil, err
}

// A bitsReader unpacks PackBits: TIFF 6.0, section 9.
type bitsReader struct {
	in     *bufio.Reader
	left   int  // of the run
	repeat bool // the run is one byte repeated
	b      byte
}

func (r *bitsReader) Read(p []byte) (int, error) {
	n := 0
	for n < len(p) {
		if r.left == 0 {
			c, err := r.in.ReadByte()
			if err != nil {
				return n, err
			}
			switch head := int8(c); {
			case head >= 0:
				r.left, r.repeat = int(head)+1, false
			case head != -128:
				r.left, r.repeat = 1-int(head), true
				if r.b, err = r.in.ReadByte(); err != nil {
					return n, io.ErrUnexpectedEOF
				}
			}
			continue
		}
		k := min(r.left, len(p)-n)
		if r.repeat {
			for i := range k {
				p[n+i] = r.b
			}
		} else if _, err := io.ReadFull(r.in, p[n:n+k]); err != nil {
			return n, io.ErrUnexpectedEOF
		}
		r.left -= k
		n += k
	}
	return n, nil
}

// unpredict turns the differences of neighbours in a row back into samples.
func (c *codec) unpredict(data []byte, width, samples int, s *sample) {
	if c.predictor == 1 {
		return
	}
	row := width * samples * s.size
	spare := make([]byte, row)
	for ; len(data) >= row; data = data[row:] {
		if c.predictor == 2 {
			sumSamples(data[:row], samples, s)
			continue
		}
		// Predictor 3 sums bytes, which lie apart by their place in a sample.
		for i := samples; i < row; i++ {
			data[i] += data[i-samples]
		}
		n := width * samples
		for i := range n {
			for k := range s.size {
				spare[i*s.size+k] = data[k*n+i]
			}
		}
		copy(data, spare)
	}
}

// sumSamples adds to each sample of a row the same band's of the pixel before,
// as whole numbers of the sample's size.
func sumSamples(row []byte, samples int, s *sample) {
	back := samples * s.size
	for i := back; i < len(row); i += s.size {
		a, b := row[i-back:], row[i:]
		switch s.size {
		case 1:
			b[0] += a[0]
		case 2:
			s.order.PutUint16(b, s.order.Uint16(a)+s.order.Uint16(b))
		case 4:
			s.order.PutUint32(b, s.order.Uint32(a)+s.order.Uint32(b))
		case 8:
			s.order.PutUint64(b, s.order.Uint64(a)+s.order.Uint64(b))
		}
	}
}
