package grid

import (
	"context"
	"fmt"
	"os"

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
// Where a band's rows can be read apart from the others, each Load reads them
// from the files, which passes every file once in all. Where the files are stored
// in blocks of more rows than a band holds, or a band holds less than a row, the
// first Load reads the files once, block by block, into a scratch file in which
// each band lies together.
type Loader struct {
	region  *Region
	cells   []Cell
	fields  []loaded // of a band of one cell
	perCell int      // values of a cell
	size    int      // cells in a band at the most
	rows    int      // rows in a block of the files
	bounds  []int    // first cell of each band, and the number of cells
	scratch *scratch // nil where the files serve
	window  int      // values read at a time
}

// NewLoader plans the loading of cells, which are in the order of their rows,
// into bands of at most the given number of bytes each. dir is where a scratch
// file goes if one is needed.
func (r *Region) NewLoader(cells []Cell, bytes int64, dir string) (*Loader, error) {
	l := &Loader{region: r, cells: cells}
	for _, j := range r.fields {
		if j == nil {
			continue
		}
		l.fields = append(l.fields, loaded{joined: j, records: j.records(), at: l.perCell})
		l.perCell += j.records()
	}
	// A quarter is for the records being read.
	l.window = int(bytes / 4 / 4)
	l.size = min(int(bytes/4*3/4)/max(l.perCell, 1), len(cells))
	if l.size == 0 && len(cells) > 0 {
		return nil, fmt.Errorf("one cell has %d records, %d MiB: more than the memory allowed holds", l.perCell, l.perCell*4>>20)
	}
	width := len(r.Lon)
	l.rows = 1
	for _, f := range l.fields {
		for _, p := range f.parts {
			width = max(width, len(p.file.Lon))
			l.rows = max(l.rows, p.field.ChunkRows)
		}
	}
	if l.window < width {
		return nil, fmt.Errorf("a row has %d columns: more than the memory allowed holds", width)
	}
	if l.size < len(cells) && !l.alignRows() {
		l.scratch = &scratch{dir: dir}
	}
	l.bounds = l.divide()
	return l, nil
}

// alignRows tells whether bands can hold whole rows and whole blocks of the
// files.
func (l *Loader) alignRows() bool {
	in := map[int]int{} // cells in a block of rows
	for _, c := range l.cells {
		block := c.Row / l.rows
		if in[block]++; in[block] > l.size {
			return false
		}
	}
	return true
}

// Bands is how many bands there are; band k has the cells Cells(k).
func (l *Loader) Bands() int { return len(l.bounds) - 1 }

// Cells gives the cells of band k.
func (l *Loader) Cells(k int) []Cell { return l.cells[l.bounds[k]:l.bounds[k+1]] }

// divide gives the bounds of the bands, which end with a row where blocks of
// the files are to stay whole.
func (l *Loader) divide() []int {
	b := []int{0}
	for from := 0; from < len(l.cells); from = b[len(b)-1] {
		to := min(from+l.size, len(l.cells))
		if l.scratch == nil && to < len(l.cells) {
			for to > from+1 && l.cells[to].Row/l.rows == l.cells[to-1].Row/l.rows {
				to--
			}
		}
		b = append(b, to)
	}
	return b
}

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
	for _, f := range b.fields {
		err := l.pass(ctx, f.joined, b.cells, func(t, n int, slab slab) error {
			for i, c := range b.cells {
				to := b.values[f.at+i*f.records+t:][:n]
				slab.cell(c, to)
			}
			return nil
		})
		if err != nil {
			return err
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
// number.
func (l *Loader) pass(ctx context.Context, j *joined, cells []Cell, use func(t, n int, s slab) error) error {
	t := 0
	var buffer []float32
	for _, p := range j.parts {
		lo, hi := p.row[cells[0].Row], p.row[cells[0].Row]
		for _, c := range cells {
			lo, hi = min(lo, p.row[c.Row]), max(hi, p.row[c.Row])
		}
		nx, rows := len(p.file.Lon), hi-lo+1
		n := l.recordsAtOnce(p.field, rows*nx)
		records := p.field.Records()
		for t0 := 0; t0 < records; t0 += n {
			if err := ctx.Err(); err != nil {
				return err
			}
			m := min(n, records-t0)
			buffer = room(buffer, m*rows*nx)
			s := slab{p, buffer, lo, rows, nx}
			if err := p.field.Read(s.values, t0, m, lo, rows); err != nil {
				return inFile(err, p.file.Name, p.field.Variable)
			}
			if err := use(t+t0, m, s); err != nil {
				return err
			}
		}
		t += records
	}
	return nil
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

// A scratch file holds, band by band and window by window, the records of each
// cell of the band together.
type scratch struct {
	dir    string
	file   *os.File
	size   int64
	blocks [][]block // of each band
}

// A block is n records of a field from record t on, for some cells of a band.
type block struct {
	field    int
	from, to int // cells of the band
	t, n     int
	at       int64
}

// Close removes the scratch file, if there is one.
func (l *Loader) Close() error {
	if l.scratch == nil || l.scratch.file == nil {
		return nil
	}
	name := l.scratch.file.Name()
	err := l.scratch.file.Close()
	if e := os.Remove(name); err == nil {
		err = e
	}
	l.scratch.file = nil
	return err
}
