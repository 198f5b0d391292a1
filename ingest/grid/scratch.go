package grid

import (
	"context"
	"fmt"
	"os"
	"unsafe"
)

// scratchName is the pattern of scratch files; package weather sweeps up what
// an interrupted run left under it.
const scratchName = ".cells.*.part"

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

// spill reads the files once and writes the scratch file.
func (l *Loader) spill(ctx context.Context) error {
	s := l.scratch
	var err error
	if s.file, err = os.CreateTemp(s.dir, scratchName); err != nil {
		return fmt.Errorf("scratch file: %w", err)
	}
	s.blocks = make([][]block, l.Bands())
	var read, buffer []float32
	for k, f := range l.fields {
		for _, g := range l.groups(f.joined, 0, len(l.cells)) {
			read, err = l.pass(ctx, f.joined, l.cells[g[0]:g[1]], read, func(t, n int, slab slab) error {
				for b := range s.blocks {
					from, to := max(l.bounds[b], g[0]), min(l.bounds[b+1], g[1])
					if from >= to {
						continue
					}
					buffer = room(buffer, (to-from)*n)
					for i, c := range l.cells[from:to] {
						slab.cell(c, buffer[i*n:][:n])
					}
					s.blocks[b] = append(s.blocks[b], block{k, from - l.bounds[b], to - l.bounds[b], t, n, s.size})
					if _, err := s.file.WriteAt(bytesOf(buffer), s.size); err != nil {
						return fmt.Errorf("scratch file: %w", err)
					}
					s.size += int64(len(buffer)) * 4
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

// room gives n values of a buffer, a new one if need be.
func room(buffer []float32, n int) []float32 {
	if cap(buffer) < n {
		return make([]float32, n)
	}
	return buffer[:n]
}

// fromScratch fills a band from the scratch file.
func (l *Loader) fromScratch(ctx context.Context, b *Band, k int) error {
	if l.scratch.file == nil {
		if err := l.spill(ctx); err != nil {
			l.Close() // what there is of it is of no use
			return err
		}
	}
	var buffer []float32
	for _, s := range l.scratch.blocks[k] {
		if err := ctx.Err(); err != nil {
			return err
		}
		buffer = room(buffer, (s.to-s.from)*s.n)
		if _, err := l.scratch.file.ReadAt(bytesOf(buffer), s.at); err != nil {
			return fmt.Errorf("scratch file: %w", err)
		}
		f := b.fields[s.field]
		for i := s.from; i < s.to; i++ {
			copy(b.values[f.at+i*f.records+s.t:][:s.n], buffer[(i-s.from)*s.n:])
		}
	}
	return nil
}

// bytesOf gives the memory of v; the scratch file is read back by the same
// process, so byte order does not matter.
func bytesOf(v []float32) []byte {
	if len(v) == 0 {
		return nil
	}
	return unsafe.Slice((*byte)(unsafe.Pointer(&v[0])), 4*len(v))
}
