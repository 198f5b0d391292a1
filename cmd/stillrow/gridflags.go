package main

import (
	"runtime/debug"
	"strconv"
	"strings"

	"stillrow/ingest"
	"stillrow/ingest/grid"
)

// gridFlags say what to take of weather data.
type gridFlags struct {
	withinFlag
	Every int    `help:"Keep one of N rows and one of N columns of grids." default:"1" placeholder:"N"`
	Year  int    `help:"Take this calendar year of data of several; without it a typical year, month by month." placeholder:"Y"`
	Stamp string `help:"Where stamps lie in grids that do not say: at the begin, middle or end of their interval; found: by the sun." enum:"found,begin,middle,end" default:"found"`
}

// into puts what the flags say into the options of ingest.
func (f *gridFlags) into(o *ingest.Options) error {
	if f.Every < 1 {
		return usagef("--every=%d: want 1 or more", f.Every)
	}
	if f.Year != 0 && (f.Year < 1900 || f.Year > 2100) {
		return usagef("--year=%d: want 1900 to 2100", f.Year)
	}
	o.Every, o.Year = f.Every, f.Year
	o.Stamp = map[string]grid.Stamp{"begin": grid.Begins, "middle": grid.Middle, "end": grid.Ends}[f.Stamp]
	return nil
}

// memory is what the flag allows, in bytes, or the environment (GOMEMLIMIT)
// where that is less. It makes the collector work harder rather than let the
// process grow.
func (w *workFlags) memory() (int64, error) {
	if w.Memory == "" {
		return 0, nil
	}
	size, err := parseSize(w.Memory)
	if err != nil {
		return 0, err
	}
	spare := max(size/8, besides)
	limit := min(debug.SetMemoryLimit(-1), size-spare)
	debug.SetMemoryLimit(limit)
	return max(leastMemory, min(size, limit+spare)), nil
}

// leastMemory is what the bands of small grids take, with the places being
// worked on and the table being written; besides is what of the process the
// collector does not see, bytes.
const (
	leastMemory = 128 << 20
	besides     = 24 << 20
)

// parseSize reads bytes with K, M or G for 1024, its square and its cube.
func parseSize(text string) (int64, error) {
	number := strings.TrimSuffix(strings.TrimSuffix(strings.ToUpper(strings.TrimSpace(text)), "B"), "I")
	shift := 0
	for i, unit := range []string{"K", "M", "G", "T"} {
		if n, ok := strings.CutSuffix(number, unit); ok {
			number, shift = n, 10*(i+1)
			break
		}
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
	bytes := v * float64(int64(1)<<shift)
	switch {
	case err != nil:
		return 0, usagef("--memory=%s: want a size such as 512M or 2G", text)
	case !(bytes >= leastMemory && bytes <= 1<<50):
		return 0, usagef("--memory=%s: want 128M or more", text)
	}
	return int64(bytes), nil
}
