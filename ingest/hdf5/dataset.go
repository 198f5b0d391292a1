package hdf5

import (
	"errors"
	"fmt"
	"slices"
	"sync"
)

// A Dataset is an array of values of one type. Reading from several goroutines
// at once is safe.
type Dataset struct {
	Name      string
	Class     Class
	Size      int // bytes of a value; 0 for strings of variable length, which cannot be read
	Shape     []int
	Unlimited []bool
	Chunk     []int // shape of a stored chunk, nil where the data are contiguous or in the header
	Attrs     []Attr
	Fill      []byte     // value of what was never written, in the host's order of bytes, nil where none is stated
	Scales    [][]string // for each dimension the names of the dimension scales attached, nil where there are none
	IsScale   bool       // the dataset is a dimension scale itself

	in      *input
	typ     datatype
	space   dataspace
	layout  layout
	filters pipeline
	fill    []byte // as Fill, in the file's order of bytes
	broken  error  // why the values cannot be read

	once  sync.Once // reads index
	index chunkIndex
	fault error // why there is no index
	cache cache
	pool  sync.Pool // buffers of chunks, as *[]byte
}

// dataset decodes the header of a dataset and gives the addresses of the
// scales of its dimensions. What is not read of it is kept as an error for Read.
func (in *input) dataset(name string, messages []message) (*Dataset, [][]int64, error) {
	d := &Dataset{Name: name, Class: Other, in: in}
	list, err := in.attributes(messages)
	if err != nil {
		return nil, nil, err
	}
	d.Attrs = list.shown
	for _, a := range d.Attrs {
		d.IsScale = d.IsScale || a.Name == "CLASS" && a.Text == "DIMENSION_SCALE"
	}
	for _, step := range []func([]message) error{d.readSpace, d.readType, d.readFilters, d.readLayout, d.readFill} {
		if err := step(messages); errors.Is(err, ErrUnsupported) {
			if d.broken == nil {
				d.broken = err
			}
		} else if err != nil {
			return nil, nil, err
		}
	}
	if d.broken == nil {
		d.broken = list.lost // a scale factor may be among them
	}
	if d.broken == nil && has(messages, msgExternal) {
		d.broken = unsupported("data in external files")
	}
	if d.broken == nil {
		if err := d.check(); err != nil {
			return nil, nil, err
		}
	}
	return d, list.scales, nil
}

func (d *Dataset) readSpace(messages []message) error {
	c, err := d.in.one(messages, msgDataspace)
	if err != nil || c == nil {
		return orMissing(err, "dataspace")
	}
	if d.space, err = decodeDataspace(c); err != nil {
		return err
	}
	d.Shape, d.Unlimited = slices.Clone(d.space.dims), d.space.unlimited
	if d.space.empty {
		return unsupported("a dataset without a shape")
	}
	return nil
}

func (d *Dataset) readType(messages []message) error {
	c, err := d.in.one(messages, msgDatatype)
	if err != nil || c == nil {
		return orMissing(err, "type")
	}
	if d.typ, err = decodeDatatype(c); err != nil {
		return err
	}
	d.Class, d.Size = d.typ.class, d.typ.size
	switch {
	case d.Class == Other:
		return unsupported("%s", d.typ.why)
	case d.typ.vlen:
		d.Size = 0
		return unsupported("strings of variable length as data")
	}
	return nil
}

func (d *Dataset) readFilters(messages []message) error {
	c, err := d.in.one(messages, msgFilters)
	if err != nil || c == nil {
		return err
	}
	if d.filters, err = decodePipeline(c); err != nil {
		return err
	}
	return d.filters.check()
}

func (d *Dataset) readLayout(messages []message) error {
	c, err := d.in.one(messages, msgLayout)
	if err != nil || c == nil {
		return orMissing(err, "layout")
	}
	if d.layout, err = decodeLayout(c); err != nil {
		return err
	}
	if d.layout.kind == layoutChunked {
		d.Chunk = slices.Clone(d.layout.chunk)
	}
	return nil
}

func (d *Dataset) readFill(messages []message) error {
	kind := msgFill
	if !has(messages, kind) {
		kind = msgOldFill
	}
	c, err := d.in.one(messages, kind)
	if err != nil || c == nil {
		return err
	}
	if d.fill, err = decodeFill(c, kind); err != nil || d.fill == nil || d.broken != nil {
		return err
	}
	if len(d.fill) != d.Size {
		return damaged("fill value", c.at, "%d bytes, where a value has %d", len(d.fill), d.Size)
	}
	d.Fill = slices.Clone(d.fill)
	d.native(d.Fill)
	return nil
}

func orMissing(err error, what string) error {
	if err == nil {
		err = fmt.Errorf("the header has no %s", what)
	}
	return err
}

// mostChunk bounds the bytes of a chunk, which has to lie in memory as a whole.
const mostChunk = 256 << 20

func (d *Dataset) chunkBytes() int {
	n, _ := product(append(slices.Clone(d.layout.chunk), d.Size)...)
	return n
}

// check compares the parts of the header with each other.
func (d *Dataset) check() error {
	n, ok := product(append(slices.Clone(d.Shape), d.Size)...)
	if !ok {
		return fmt.Errorf("a shape of %d values of %d bytes, want at most %d bytes", d.Shape, d.Size, mostBytes)
	}
	l := d.layout
	switch {
	case l.kind == layoutCompact && len(l.data) < n:
		return fmt.Errorf("%d bytes of data in the header, not %d", len(l.data), n)
	case l.kind == layoutContiguous && l.addr != undefined && l.size >= 0 && l.size < int64(n):
		return fmt.Errorf("%d bytes of contiguous data, not %d", l.size, n)
	case l.kind == layoutChunked && len(l.chunk) != len(d.Shape):
		return fmt.Errorf("chunks of %d dimensions, data of %d", len(l.chunk), len(d.Shape))
	case l.kind == layoutChunked && d.chunkBytes() > mostChunk:
		d.broken = fmt.Errorf("chunks of %d, %d bytes, want at most %d bytes; rewrite it in smaller ones by nccopy -c", l.chunk, d.chunkBytes(), mostChunk)
	case l.kind == layoutChunked && l.elementSize != d.Size:
		return fmt.Errorf("chunks of values of %d bytes, data of %d", l.elementSize, d.Size)
	}
	return nil
}
