package hdf5

import (
	"bytes"
	"compress/zlib"
	"io"
	"math"
	"os"
	"testing"
)

// benchDataset makes a year of hourly temperatures of 10 × 10 places, in chunks
// of 30 days, with the filters of the CDL attributes given.
func benchDataset(b *testing.B, special string) *Dataset {
	b.Helper()
	const n = 8760 * 100
	path := generate(b, "netcdf bench { dimensions: time = 8760; y = 10; x = 10; variables: float t(time, y, x); "+
		special+" data: t = "+series(n, func(i int) float64 {
		return math.Round(1000*math.Sin(float64(i)/2400)) / 100
	})+"; }")
	d := find(b, open(b, path), "t")
	b.SetBytes(4 * n)
	b.ResetTimer()
	return d
}

func benchRead(b *testing.B, special string) {
	d := benchDataset(b, special)
	dst := make([]byte, 4*8760*100)
	for b.Loop() {
		if err := d.Read(dst, []int{0, 0, 0}, d.Shape); err != nil {
			b.Fatal(err)
		}
	}
}

const benchChunks = "t:_ChunkSizes = 720, 10, 10;"

func BenchmarkContiguous(b *testing.B) { benchRead(b, `t:_Storage = "contiguous";`) }
func BenchmarkChunked(b *testing.B)    { benchRead(b, benchChunks) }
func BenchmarkDeflated(b *testing.B)   { benchRead(b, benchChunks+"t:_DeflateLevel = 1;") }
func BenchmarkShuffled(b *testing.B) {
	benchRead(b, benchChunks+`t:_DeflateLevel = 1; t:_Shuffle = "true";`)
}
func BenchmarkFletcher32(b *testing.B) { benchRead(b, benchChunks+`t:_Fletcher32 = "true";`) }

// BenchmarkInflateAlone is what compress/zlib takes for the chunks of
// BenchmarkDeflated, without this package.
func BenchmarkInflateAlone(b *testing.B) {
	d := benchDataset(b, benchChunks+"t:_DeflateLevel = 1;")
	dst := make([]byte, 4*8760*100)
	if err := d.Read(dst, []int{0, 0, 0}, d.Shape); err != nil {
		b.Fatal(err)
	}
	var chunks [][]byte
	for _, c := range d.index.list {
		stored := make([]byte, c.size)
		if _, err := d.in.r.(*os.File).ReadAt(stored, c.addr); err != nil {
			b.Fatal(err)
		}
		chunks = append(chunks, stored)
	}
	z, err := zlib.NewReader(bytes.NewReader(chunks[0]))
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		for _, stored := range chunks {
			if err := z.(zlib.Resetter).Reset(bytes.NewReader(stored), nil); err != nil {
				b.Fatal(err)
			}
			if _, err := io.ReadFull(z, dst[:4*720*100]); err != nil {
				b.Fatal(err)
			}
		}
	}
}
