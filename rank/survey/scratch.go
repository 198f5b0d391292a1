package survey

import (
	"encoding/binary"
	"fmt"
	"os"
)

// batch is the number of places whose findings lie together, layer by layer:
// a layer is read in runs of as many.
const batch = 256

// recordSize is the size of a Finding in the file, bytes.
var recordSize = binary.Size(Finding{})

// A scratch is the file of findings: batch after batch, in each the layers one
// after the other, in each the places.
type scratch struct {
	file    *os.File
	layers  int
	pending [][]Finding // by layer, of the places of the last batch
	whole   int         // batches in the file
	buf     []byte
}

func newScratch(dir string, layers int) (scratch, error) {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return scratch{}, fmt.Errorf("output folder: %w", err)
	}
	f, err := os.CreateTemp(dir, ".findings.*.part")
	if err != nil {
		return scratch{}, fmt.Errorf("scratch file: %w", err)
	}
	return scratch{file: f, layers: layers, pending: make([][]Finding, layers)}, nil
}

func (s *scratch) add(findings []Finding) error {
	for l := range findings {
		s.pending[l] = append(s.pending[l], findings[l])
	}
	if len(s.pending) > 0 && len(s.pending[0]) == batch {
		return s.flush()
	}
	return nil
}

// flush writes the pending places. After a batch that is not full nothing can
// be added.
func (s *scratch) flush() error {
	if len(s.pending) == 0 || len(s.pending[0]) == 0 {
		return nil
	}
	s.buf = s.buf[:0]
	for l := range s.pending {
		var err error
		if s.buf, err = binary.Append(s.buf, binary.LittleEndian, s.pending[l]); err != nil {
			return fmt.Errorf("%s: %w", s.file.Name(), err)
		}
		s.buf = append(s.buf, make([]byte, (batch-len(s.pending[l]))*recordSize)...)
		s.pending[l] = s.pending[l][:0]
	}
	if _, err := s.file.WriteAt(s.buf, s.offset(0, s.whole*batch)); err != nil {
		return err // which names the file
	}
	s.whole++
	return nil
}

// offset is where the finding of a place lies.
func (s *scratch) offset(layer, place int) int64 {
	return int64((place/batch*s.layers+layer)*batch+place%batch) * int64(recordSize)
}

func (s *scratch) each(layer, places int, visit func(int, *Finding) error) error {
	buf, list := make([]byte, batch*recordSize), make([]Finding, batch)
	for first := 0; first < places; first += batch {
		n := min(batch, places-first)
		if _, err := s.file.ReadAt(buf[:n*recordSize], s.offset(layer, first)); err != nil {
			return fmt.Errorf("%s: %w", s.file.Name(), err)
		}
		if _, err := binary.Decode(buf[:n*recordSize], binary.LittleEndian, list[:n]); err != nil {
			return fmt.Errorf("%s: %w", s.file.Name(), err)
		}
		for i := range list[:n] {
			if err := visit(first+i, &list[i]); err != nil {
				return err
			}
		}
	}
	return nil
}

func (s *scratch) at(layer, place int, f *Finding) error {
	buf := make([]byte, recordSize)
	if _, err := s.file.ReadAt(buf, s.offset(layer, place)); err != nil {
		return fmt.Errorf("%s: %w", s.file.Name(), err)
	}
	if _, err := binary.Decode(buf, binary.LittleEndian, f); err != nil {
		return fmt.Errorf("%s: %w", s.file.Name(), err)
	}
	return nil
}

func (s *scratch) remove() {
	if s.file == nil {
		return
	}
	s.file.Close() // an error changes nothing: the file is thrown away
	os.Remove(s.file.Name())
	s.file = nil
}
