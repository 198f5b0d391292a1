package ingest_test

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"syscall"
	"testing"
	"time"

	"stillrow/ingest/weather"
)

// BenchmarkGrid makes an hourly grid of 100×100 cells and 4 variables as an
// uncompressed CDF-5 file of 1.4 GB, has the program read it with --memory 1G,
// and then writes the same weather table alone, without any reading:
//
//	go test ./ingest -run '^$' -bench '^BenchmarkGrid$' -benchtime 1x
//
// It needs 4 GB of room in the folder of temporary files and a few minutes. The
// environment variable STILLROW_BENCH_SIDE changes the cells of an edge, and
// STILLROW_BENCH_MEMORY the memory. It tells
//
//	ingest-s    seconds of the whole command
//	encode-s    seconds to write that many sites of the same years
//	ratio       encode-s over ingest-s: the aim is a third or more
//	peak-MiB    greatest resident memory of the command: the aim is up to 1024
//	cpu-ratio   the same of the seconds of processors, which other work on the
//	            machine does not change
//	sites/s     of the command
func BenchmarkGrid(b *testing.B) {
	side, memory := 100, "1G"
	if text := os.Getenv("STILLROW_BENCH_SIDE"); text != "" {
		var err error
		if side, err = strconv.Atoi(text); err != nil || side < 10 {
			b.Fatalf("STILLROW_BENCH_SIDE=%s", text)
		}
	}
	if text := os.Getenv("STILLROW_BENCH_MEMORY"); text != "" {
		memory = text
	}
	dir := b.TempDir()
	program := filepath.Join(dir, "stillrow")
	if out, err := exec.Command("go", "build", "-o", program, "stillrow/cmd/stillrow").CombinedOutput(); err != nil {
		b.Fatalf("%v\n%s", err, out)
	}
	grid := filepath.Join(dir, "grid.nc")
	if err := writeGrid(grid, side); err != nil {
		b.Fatal(err)
	}
	out := filepath.Join(dir, "weather")
	for b.Loop() {
		cmd := exec.Command(program, "ingest", "--quiet", "--memory", memory, "--out", out, grid)
		start := time.Now()
		if text, err := cmd.CombinedOutput(); err != nil {
			b.Fatalf("%v\n%s", err, text)
		}
		whole := time.Since(start).Seconds()
		usage := cmd.ProcessState.SysUsage().(*syscall.Rusage)
		alone, cpu := encodeAlone(b, out, filepath.Join(dir, "again"), side*side)
		b.ReportMetric(whole, "ingest-s")
		b.ReportMetric(alone, "encode-s")
		b.ReportMetric(alone/whole, "ratio")
		b.ReportMetric(cpu/(cmd.ProcessState.UserTime()+cmd.ProcessState.SystemTime()).Seconds(), "cpu-ratio")
		b.ReportMetric(float64(usage.Maxrss)/1024, "peak-MiB")
		b.ReportMetric(float64(side*side)/whole, "sites/s")
		b.Logf("user %v, system %v", cmd.ProcessState.UserTime(), cmd.ProcessState.SystemTime())
	}
}

// encodeAlone gives the seconds that a table of n sites takes to write, by the
// clock and of processors: the finished years of every tenth site, read before,
// ten times.
func encodeAlone(b *testing.B, from, to string, n int) (wall, cpu float64) {
	table, err := weather.Open(from)
	if err != nil {
		b.Fatal(err)
	}
	defer table.Close()
	if len(table.Sites) != n {
		b.Fatalf("%d sites of %d cells", len(table.Sites), n)
	}
	const tenth = 10
	var sites []weather.Site
	var years []*weather.Year
	for i := 0; i < n; i += tenth {
		rec, err := table.Record(i)
		if err != nil {
			b.Fatal(err)
		}
		year, err := weather.YearOf(rec)
		if err != nil {
			b.Fatal(err)
		}
		sites, years = append(sites, table.Sites[i]), append(years, year)
	}
	runtime.GC() // what comes before is not to be paid here
	used := processors(b)
	start := time.Now()
	w, err := weather.Create(to)
	if err != nil {
		b.Fatal(err)
	}
	defer w.Abort()
	for k := range n {
		site := sites[k%len(sites)]
		site.ID = fmt.Sprintf("%s-%d", site.ID, k/len(sites))
		if err := w.Append(site, years[k%len(sites)]); err != nil {
			b.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		b.Fatal(err)
	}
	return time.Since(start).Seconds(), processors(b) - used
}

// processors gives the seconds of processors that this process has used.
func processors(b *testing.B) float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e9
}

// writeGrid writes a year of hours on side×side cells of a tenth of a degree from
// 30° N, 10° E on: irradiance by the sun and a cloudiness of each cell and hour,
// temperature and wind with waves of day, year and weather.
func writeGrid(path string, side int) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer f.Close() // again after success
	out := bufio.NewWriterSize(f, 1<<20)
	if _, err := out.Write(gridHeader(side)); err != nil {
		return err
	}
	const rad = math.Pi / 180
	slice := make([]byte, 4*side*side)
	for v := range 4 {
		for h := range weather.Hours {
			day := float64(h) / 24
			declination := 23.45 * rad * math.Sin(2*math.Pi*(day-80)/365)
			for y := range side {
				lat := (30 + 0.1*float64(y)) * rad
				for x := range side {
					hour := (float64(h%24) + 0.5 - 12 + (10+0.1*float64(x))/15) * 15 * rad
					up := max(0, math.Sin(lat)*math.Sin(declination)+math.Cos(lat)*math.Cos(declination)*math.Cos(hour))
					cloud := 0.6*chance(uint64(x/8), uint64(y/8), uint64(h/6)) + 0.4*chance(uint64(x), uint64(y), uint64(h))
					clear := 1 - 0.75*cloud*cloud
					value := 0.0
					switch global := 1100 * math.Pow(up, 1.15) * clear; v {
					case 0:
						value = global
					case 1:
						value = global * min(1, 0.12+0.95*cloud)
					case 2:
						value = 288 + 10*math.Sin(declination)/0.4 + 6*math.Cos(hour-0.6) - 3*cloud
					case 3:
						value = 1 + 7*chance(uint64(x/5), uint64(y/5), uint64(h/4)) + chance(uint64(x), uint64(y), uint64(h))
					}
					binary.BigEndian.PutUint32(slice[4*(y*side+x):], math.Float32bits(float32(value)))
				}
			}
			if _, err := out.Write(slice); err != nil {
				return err
			}
		}
	}
	if err := out.Flush(); err != nil {
		return err
	}
	return f.Close()
}

// chance is a number from 0 to 1 that depends on three others alone.
func chance(a, b, c uint64) float64 {
	x := (a*0x9e3779b97f4a7c15 ^ b*0xbf58476d1ce4e5b9 ^ c*0x94d049bb133111eb) + 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return float64((x^x>>31)>>11) / (1 << 53)
}

// gridHeader is the header of the file with its coordinates: the format is that
// of the NetCDF classic format specification, its 64-bit data variant.
func gridHeader(side int) []byte {
	var h []byte
	number := func(n int) { h = binary.BigEndian.AppendUint64(h, uint64(n)) }
	tag := func(n uint32) { h = binary.BigEndian.AppendUint32(h, n) }
	text := func(s string) {
		number(len(s))
		h = append(h, s...)
		for len(h)%4 != 0 {
			h = append(h, 0)
		}
	}
	const dimensions, variables, attributes, char, float, double = 10, 11, 12, 2, 5, 6
	type variable struct {
		name   string
		dims   []int
		kind   uint32
		bytes  int
		attrs  [][2]string
		offset int
	}
	hours := weather.Hours
	all := []variable{
		{"time", []int{0}, double, 8 * hours, [][2]string{{"units", "hours since 2001-01-01"}, {"bounds", "time_bounds"}}, 0},
		{"time_bounds", []int{0, 3}, double, 16 * hours, nil, 0},
		{"lat", []int{1}, double, 8 * side, [][2]string{{"units", "degrees_north"}}, 0},
		{"lon", []int{2}, double, 8 * side, [][2]string{{"units", "degrees_east"}}, 0},
	}
	for _, v := range [][3]string{
		{"rsds", "surface_downwelling_shortwave_flux_in_air", "W m-2"},
		{"rsdsdiff", "surface_diffuse_downwelling_shortwave_flux_in_air", "W m-2"},
		{"tas", "air_temperature", "K"}, {"sfcWind", "wind_speed", "m s-1"},
	} {
		all = append(all, variable{v[0], []int{0, 1, 2}, float, 4 * hours * side * side,
			[][2]string{{"standard_name", v[1]}, {"units", v[2]}, {"cell_methods", "time: mean"}}, 0})
	}
	write := func() {
		h = append(h[:0], "CDF\x05"...)
		number(0) // records
		tag(dimensions)
		number(4)
		for _, d := range []struct {
			name string
			n    int
		}{{"time", hours}, {"lat", side}, {"lon", side}, {"two", 2}} {
			text(d.name)
			number(d.n)
		}
		tag(0) // no attributes of the file
		number(0)
		tag(variables)
		number(len(all))
		for _, v := range all {
			text(v.name)
			number(len(v.dims))
			for _, d := range v.dims {
				number(d)
			}
			if v.attrs == nil {
				tag(0)
			} else {
				tag(attributes)
			}
			number(len(v.attrs))
			for _, a := range v.attrs {
				text(a[0])
				tag(char)
				text(a[1])
			}
			tag(v.kind)
			number(v.bytes)
			number(v.offset)
		}
	}
	write()
	at := len(h)
	for i := range all {
		all[i].offset = at
		at += all[i].bytes
	}
	write()
	value := func(x float64) { h = binary.BigEndian.AppendUint64(h, math.Float64bits(x)) }
	for t := range hours {
		value(float64(t))
	}
	for t := range hours {
		value(float64(t))
		value(float64(t + 1))
	}
	for _, from := range []float64{30, 10} {
		for i := range side {
			value(from + 0.1*float64(i))
		}
	}
	return h
}
