package cf

import (
	"stillrow/ingest/netcdf"
)

// A slab reads a variable in the order of grid.Field, in its unit.
type slab struct {
	v       *netcdf.Var
	t, y, x int // places of time, latitude and longitude among the dimensions of v; t is −1 where it has no time
	nx      int // columns taken

	static        bool  // the first record stands for all
	records       []int // index in the file of each record; nil where all are taken
	scale, offset float64
	divisor       []float64 // of each record, besides scale; nil where there is none
}

// slab finds the dimensions of a variable, and its time coordinate. Dimensions
// of length 1 are passed over.
func (r *reader) slab(v *netcdf.Var) (*slab, *netcdf.Var, error) {
	s := &slab{v: v, t: -1, y: -1, x: -1, nx: r.coord.nx}
	timeDim, coord := r.timeDim(v)
	for i, d := range v.Dims {
		place := &s.t
		switch d {
		case r.coord.lat:
			place = &s.y
		case r.coord.lon:
			place = &s.x
		case timeDim:
		default:
			dim := r.file.Dims[d]
			switch {
			case dim.Len == 1:
				continue
			case timeDim < 0:
				return nil, nil, r.fail(v.Name, "no time axis: no variable says when the %d entries of %s are", dim.Len, dim.Name)
			}
			return nil, nil, r.fail(v.Name, "%s has %d entries, want one", dim.Name, dim.Len)
		}
		if *place >= 0 {
			return nil, nil, r.fail(v.Name, "has the dimension %s twice", r.file.Dims[d].Name)
		}
		*place = i
	}
	for place, name := range map[int]string{s.y: latitude.name, s.x: longitude.name} {
		if place < 0 {
			return nil, nil, r.fail(v.Name, "has no %s dimension", name)
		}
	}
	return s, coord, nil
}

// read is grid.Field.Read.
func (s *slab) read(dst []float32, t, nt, y, ny int) error {
	size := ny * s.nx
	for i := 0; i < nt; {
		from, n := t+i, nt-i
		if s.records != nil { // a run of records that follow each other in the file too
			from = s.records[t+i]
			for n = 1; i+n < nt && s.records[t+i+n] == from+n; {
				n++
			}
		}
		if s.static {
			from, n = 0, 1
		}
		if err := s.readRun(dst[i*size:(i+n)*size], from, n, y, ny); err != nil {
			return err
		}
		i += n
	}
	for i := range nt {
		scale := s.scale
		if s.divisor != nil {
			scale /= s.divisor[t+i]
		}
		record := dst[i*size : (i+1)*size]
		for k, x := range record {
			record[k] = float32(float64(x)*scale + s.offset)
		}
	}
	return nil
}

// readRun reads records from to from+n of the file as stored, turned to time,
// latitude, longitude.
func (s *slab) readRun(dst []float32, from, n, y, ny int) error {
	start, count := make([]int, len(s.v.Dims)), make([]int, len(s.v.Dims))
	for i := range count {
		count[i] = 1
	}
	if s.t >= 0 {
		start[s.t], count[s.t] = from, n
	}
	start[s.y], count[s.y] = y, ny
	count[s.x] = s.nx
	if s.t < s.y && s.y < s.x {
		return s.v.ReadFloat32(dst, start, count)
	}
	stored := make([]float32, len(dst))
	if err := s.v.ReadFloat32(stored, start, count); err != nil {
		return err
	}
	stride := func(place int) int {
		if place < 0 {
			return 0
		}
		step := 1
		for _, c := range count[place+1:] {
			step *= c
		}
		return step
	}
	dt, dy, dx := stride(s.t), stride(s.y), stride(s.x)
	k := 0
	for it := range n {
		for iy := range ny {
			at := it*dt + iy*dy
			for range s.nx {
				dst[k] = stored[at]
				k, at = k+1, at+dx
			}
		}
	}
	return nil
}

// chunk gives the records and rows of a stored block.
func (s *slab) chunk() (records, rows int) {
	if s.v.Chunk == nil {
		return 0, 0
	}
	if s.t >= 0 && !s.static {
		records = s.v.Chunk[s.t]
	}
	return records, s.v.Chunk[s.y]
}

// count is the number of records.
func (s *slab) count() int {
	switch {
	case s.records != nil:
		return len(s.records)
	case s.t < 0 || s.static:
		return 1
	}
	return s.v.Shape()[s.t]
}
