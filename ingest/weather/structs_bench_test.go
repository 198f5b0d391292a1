package weather_test

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/parquet-go/parquet-go"

	"stillrow/ingest/weather"
)

// hour is a row as a program would read it that knows the columns alone.
type hour struct {
	Site string  `parquet:"site_id"`
	Hour int32   `parquet:"hour"`
	GHI  float32 `parquet:"ghi_w_m2"`
	DNI  float32 `parquet:"dni_w_m2"`
	DHI  float32 `parquet:"dhi_w_m2"`
	Air  float32 `parquet:"air_temperature_c"`
	Wind float32 `parquet:"wind_speed_m_s"`
	Sky  float32 `parquet:"sky_infrared_w_m2"`
	Snow float32 `parquet:"snow_depth_cm"`
}

// BenchmarkAgainstStructs sets the reading of sites against parquet-go's struct
// reader on the same file, turn about.
func BenchmarkAgainstStructs(b *testing.B) {
	b.Run("rounded", func(b *testing.B) {
		dir := b.TempDir()
		writeTo(b, dir, 32, nil)
		t, err := weather.Open(dir)
		if err != nil {
			b.Fatal(err)
		}
		defer t.Close()
		file := filepath.Join(dir, partsOf(b, dir)[0])
		y := weather.NewYear()
		var ours, structs time.Duration
		for b.Loop() {
			begin := time.Now()
			for i := range t.Sites {
				if err := t.ReadYear(i, y); err != nil {
					b.Fatal(err)
				}
			}
			ours += time.Since(begin)
			begin = time.Now()
			if rows := readStructs(b, file); rows != len(t.Sites)*weather.Hours {
				b.Fatalf("%d rows", rows)
			}
			structs += time.Since(begin)
		}
		b.ReportMetric(structs.Seconds()/ours.Seconds(), "read:structs")
	})
}

// readStructs reads a whole part and gives the number of rows.
func readStructs(b *testing.B, file string) (rows int) {
	f, err := os.Open(file)
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close() // only read from
	r := parquet.NewGenericReader[hour](f)
	defer r.Close()
	buf := make([]hour, 1024)
	for {
		n, err := r.Read(buf)
		rows += n
		if errors.Is(err, io.EOF) {
			return rows
		}
		if err != nil {
			b.Fatal(err)
		}
	}
}
