package grid

import (
	"context"
	"fmt"
	"slices"

	"stillrow/ingest/weather"
)

// A Band is some cells of a region with all their records in memory.
type Band struct {
	region *Region
	cells  []Cell
	values []float32 // field by field, cell by cell, record by record
	fields []loaded
}

// A loaded field is where a field's values lie in a band.
type loaded struct {
	*joined
	records int
	at      int // of the first cell's first record in values
}

// A Loader turns the time slices of a region's files into bands. Memory of a
// band is given when it is made and used again by every Load.
//
// Where bands can hold the cells of whole rows, and of whole blocks of a file,
// each Load reads its rows, which passes every file once in all. Else the first
// Load reads the files once, block by block, into a scratch file in which each
// band lies together.
type Loader struct {
	region  *Region
	cells   []Cell
	fields  []loaded // of a band of one cell
	perCell int      // values of a cell
	size    int      // cells in a band at the most
	bounds  []int    // first cell of each band, and the number of cells
	scratch *scratch // nil where the files serve
	window  int      // values read at a time
}

// NewLoader plans the loading of cells, which are in the order of their rows,
// into bands for which, with what is being read, the given number of bytes
// serves. dir is where a scratch file goes if one is needed. An
// error, a *weather.FileError, says that this is too little memory, or that they
// are too many.
func (r *Region) NewLoader(cells []Cell, bytes int64, dir string) (*Loader, error) {
	fail := func(format string, args ...any) (*Loader, error) {
		return nil, &weather.FileError{File: r.Main().Name, Err: fmt.Errorf(format+": more than fits; allow more by --memory", args...)}
	}
	if len(cells) > mostSelected {
		return nil, &weather.FileError{File: r.Main().Name, Err: fmt.Errorf("over %d cells of %d × %d, want at most that; take a part by --within or one of N by --every",
			mostSelected, len(r.Lat), len(r.Lon))}
	}
	l := &Loader{region: r, cells: cells}
	for _, j := range r.fields {
		if j == nil {
			continue
		}
		l.fields = append(l.fields, loaded{joined: j, records: j.records(), at: l.perCell})
		l.perCell += j.records()
	}
	const value = 4 // bytes
	l.window = int(bytes / 4 / value)
	l.size = min(int(bytes/4*3/value)/l.perCell, len(cells))
	if l.size == 0 && len(cells) > 0 {
		return fail("%d records of a cell, %d MiB", l.perCell, l.perCell*value>>20)
	}
	for _, f := range l.fields {
		for _, p := range f.parts {
			if n := len(p.file.Lon); n > l.window {
				return fail("%d columns of a row, %d MiB", n, n*value>>20)
			}
		}
	}
	var whole bool
	if l.bounds, whole = l.divide(); !whole {
		l.scratch = &scratch{dir: dir}
	}
	return l, nil
}

// divide gives the bounds of the bands. Whole tells that none parts a row or a
// block of a file.
func (l *Loader) divide() (bounds []int, whole bool) {
	bounds, whole = []int{0}, true
	last := 0 // where a band may end
	for i := 1; i <= len(l.cells); i++ {
		if i-bounds[len(bounds)-1] > l.size {
			if last == bounds[len(bounds)-1] {
				whole = false
				break
			}
			bounds = append(bounds, last)
		}
		if i == len(l.cells) || l.apart(l.cells[i-1].Row, l.cells[i].Row) {
			last = i
		}
	}
	if whole {
		return append(bounds, len(l.cells)), true
	}
	bounds = bounds[:0]
	for i := 0; i < len(l.cells); i += l.size {
		bounds = append(bounds, i)
	}
	return append(bounds, len(l.cells)), false
}

func (l *Loader) apart(a, b int) bool {
	for _, f := range l.fields {
		if !f.apart(a, b) {
			return false
		}
	}
	return true
}

// apart tells whether two rows of the region can be read one without the other
// in every file.
func (j *joined) apart(a, b int) bool {
	for _, p := range j.parts {
		if block := max(1, p.field.ChunkRows); p.row[a]/block == p.row[b]/block {
			return false
		}
	}
	return true
}

// Bands is how many bands there are; band k has the cells Cells(k).
func (l *Loader) Bands() int { return len(l.bounds) - 1 }

// Cells gives the cells of band k.
func (l *Loader) Cells(k int) []Cell { return l.cells[l.bounds[k]:l.bounds[k+1]] }

// NewBand makes the memory of a band.
func (l *Loader) NewBand() *Band {
	return &Band{region: l.region, values: make([]float32, l.perCell*l.size)}
}

// Load fills a band with the cells of band k.
func (l *Loader) Load(ctx context.Context, b *Band, k int) error {
	b.cells = l.Cells(k)
	b.fields = b.fields[:0]
	at := 0
	for _, f := range l.fields {
		f.at = at
		at += f.records * len(b.cells)
		b.fields = append(b.fields, f)
	}
	if l.scratch != nil {
		return l.fromScratch(ctx, b, k)
	}
	var buffer []float32
	for _, f := range b.fields {
		for _, g := range l.groups(f.joined, l.bounds[k], l.bounds[k+1]) {
			var err error
			buffer, err = l.pass(ctx, f.joined, l.cells[g[0]:g[1]], buffer, func(t, n int, slab slab) error {
				for i, c := range l.cells[g[0]:g[1]] {
					slab.cell(c, b.values[f.at+(g[0]-l.bounds[k]+i)*f.records+t:][:n])
				}
				return nil
			})
			if err != nil {
				return err
			}
		}
	}
	return nil
}

// A slab is n records of some rows of a part, as its file stores them.
type slab struct {
	part
	values   []float32
	row0     int // of the file
	rows, nx int
}

// cell copies the records of a cell of the region.
func (s *slab) cell(c Cell, to []float32) {
	at := (s.row[c.Row]-s.row0)*s.nx + s.col[c.Col]
	step := s.rows * s.nx
	for t := range to {
		to[t] = s.values[at]
		at += step
	}
}

// pass reads all records of a field for some cells, in windows of time over
// the rows they lie in, and calls use with each: the first record and their
// number. Its memory is given back, larger if need be.
func (l *Loader) pass(ctx context.Context, j *joined, cells []Cell, buffer []float32, use func(t, n int, s slab) error) ([]float32, error) {
	t := 0
	for _, p := range j.parts {
		lo, hi := p.rows(cells)
		nx, rows := len(p.file.Lon), hi-lo+1
		n := l.recordsAtOnce(p.field, rows*nx)
		records := p.field.Records()
		for t0 := 0; t0 < records; t0 += n {
			if err := ctx.Err(); err != nil {
				return buffer, err
			}
			m := min(n, records-t0)
			buffer = room(buffer, m*rows*nx)
			if err := p.field.Read(buffer, t0, m, lo, rows); err != nil {
				return buffer, inFile(err, p.file.Name, p.field.Variable)
			}
			if err := use(t+t0, m, slab{p, buffer, lo, rows, nx}); err != nil {
				return buffer, err
			}
		}
		t += records
	}
	return buffer, nil
}

// rows gives the first and last row of the file that cells, in the order of the
// region's rows, lie in.
func (p *part) rows(cells []Cell) (lo, hi int) {
	lo, hi = p.row[cells[0].Row], p.row[cells[len(cells)-1].Row]
	return min(lo, hi), max(lo, hi)
}

// groups divides cells from to to into runs that are read together: of whole
// blocks of rows as far as a block's records fit into a window, so that no block
// is read twice, and without wide gaps.
func (l *Loader) groups(j *joined, from, to int) (list [][2]int) {
	const gap = 4096 // values; less is read faster than passed over
	first := from
	for i := from + 1; i < to; i++ {
		if l.cells[i].Row == l.cells[i-1].Row {
			continue
		}
		apart := j.apart(l.cells[i-1].Row, l.cells[i].Row)
		if slices.ContainsFunc(j.parts, func(p part) bool {
			lo, hi := p.rows(l.cells[first : i+1])
			near, far := p.rows(l.cells[i-1 : i+1])
			nx := len(p.file.Lon)
			record := (hi - lo + 1) * nx
			return record > l.window || apart && (record*max(1, p.field.ChunkTime) > l.window || (far-near-1)*nx > gap)
		}) {
			list = append(list, [2]int{first, i})
			first = i
		}
	}
	return append(list, [2]int{first, to})
}

// recordsAtOnce is how many records of the given size a window holds: whole
// blocks of the file where possible, and few enough to stay near the processor.
func (l *Loader) recordsAtOnce(f *Field, size int) int {
	const cached = 1 << 20 // values
	n := max(1, min(l.window, cached)/size)
	if c := f.ChunkTime; c > 0 {
		switch {
		case n >= c:
			n = n / c * c
		case l.window/size >= c:
			n = c
		}
	}
	return n
}

// inFile names the file and variable of an error that names none.
func inFile(err error, file, variable string) error {
	if _, ok := err.(*weather.FileError); ok {
		return err
	}
	return &weather.FileError{File: file, Field: variable, Err: err}
}
