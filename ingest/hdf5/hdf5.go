// Package hdf5 reads the part of HDF5 that NetCDF-4 files of gridded weather
// use: the attributes and datasets of the root group, and hyperslabs of their
// values. It knows nothing of NetCDF beyond dimension scales.
//
// Read are superblocks 0 to 3, object headers 1 and 2, groups as symbol tables,
// compact and dense links, attributes in all three places, contiguous, compact
// and chunked data with every chunk index, the filters deflate, shuffle and
// fletcher32, integers and IEEE floats of either byte order, and strings. What
// a file uses beyond that is an error that wraps ErrUnsupported, at the dataset
// that uses it: the rest of the file stays readable.
//
// Damaged files give errors that name the structure and its byte offset. Every
// checksum is verified, and what is allocated or walked is bounded by the size
// of the file.
//
// Source: HDF5 File Format Specification Version 3.0, The HDF Group; HDF5
// Dimension Scale Specification.
package hdf5

import (
	"errors"
	"fmt"
	"io"
)

// ErrUnsupported is wrapped by errors about features that are not read; their
// text names the feature.
var ErrUnsupported = errors.New("HDF5 feature not read")

// A File is what the root group of an HDF5 file holds.
type File struct {
	Attrs    []Attr
	Datasets []*Dataset // in order of creation where the file keeps it, else by name
	Groups   []string   // names of sub-groups, which are not entered
}

// An Attr is an attribute: text, or numbers. References, and types that
// datasets could not have either, are left out of lists of Attr.
type Attr struct {
	Name    string
	Text    string    // several strings are joined by ", "
	Numbers []float64 // nil for text
}

// A Class is the kind of a dataset's values.
type Class int

// The classes. The values of Other cannot be read.
const (
	Int Class = iota
	Uint
	Float
	String
	Other
)

// Open reads the structure of the file of size bytes behind r, which is kept
// and must allow reading from several goroutines at once, as io.ReaderAt says.
// A file that is cut off or damaged in its structure is refused.
func Open(r io.ReaderAt, size int64) (*File, error) {
	in := &input{r: r, size: size, limit: 8*size + 1<<20}
	in.left = in.limit
	root, err := in.superblock()
	if err != nil {
		return nil, err
	}
	messages, err := in.header(root)
	if err != nil {
		return nil, fmt.Errorf("root group: %w", err)
	}
	f := &File{}
	list, err := in.attributes(messages)
	if err != nil {
		return nil, fmt.Errorf("root group: %w", err)
	}
	f.Attrs = list.shown
	links, err := in.links(messages)
	if err != nil {
		return nil, fmt.Errorf("root group: %w", err)
	}
	names := make(map[int64]string)
	var refs [][][]int64
	for _, l := range links {
		messages, err := in.header(l.addr)
		if err != nil {
			return nil, fmt.Errorf("object %q: %w", l.name, err)
		}
		switch {
		case has(messages, msgLayout):
			d, scales, err := in.dataset(l.name, messages)
			if err != nil {
				return nil, fmt.Errorf("variable %q: %w", l.name, err)
			}
			f.Datasets = append(f.Datasets, d)
			refs = append(refs, scales)
			names[l.addr] = l.name
		case has(messages, msgLinkInfo) || has(messages, msgSymbolTable):
			f.Groups = append(f.Groups, l.name)
		}
	}
	for i, d := range f.Datasets {
		d.Scales = named(refs[i], names)
	}
	in.heaps = nil // the datasets keep in, but have no use for them
	return f, nil
}

// named gives the names of the datasets at the addresses that a DIMENSION_LIST
// holds; scales outside the root group are left out.
func named(refs [][]int64, names map[int64]string) [][]string {
	if refs == nil {
		return nil
	}
	out := make([][]string, len(refs))
	for i, list := range refs {
		for _, addr := range list {
			if name, ok := names[addr]; ok {
				out[i] = append(out[i], name)
			}
		}
	}
	return out
}
