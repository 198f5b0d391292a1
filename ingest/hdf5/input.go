package hdf5

import (
	"fmt"
	"io"
)

// undefined is the address of what the file does not hold.
const undefined int64 = -1

// mostStructure bounds a single structure, which in a large file of which one
// byte is wrong could claim to be as large as the file.
const mostStructure = 64 << 20

// An input is the file, and the widths that its superblock states. It is used
// by one goroutine; renew gives another one its own.
type input struct {
	r      io.ReaderAt
	size   int64
	base   int64 // byte of the file that is address 0
	offset int   // bytes of an address
	length int   // bytes of a size

	// limit bounds the bytes of structure read by one walk and left is what
	// remains of it. A file has no need to have its structure read more often
	// than its size; trees with cycles would have it read without end.
	limit, left int64

	heaps map[int64]map[uint32][]byte // objects of the global heap collections read so far
}

func (in *input) renew() *input {
	again := *in
	again.left, again.heaps = in.limit, nil
	return &again
}

// spend takes n bytes from what a walk may still read.
func (in *input) spend(what string, addr, n int64) error {
	in.left -= n + 32
	if in.left < 0 {
		return damaged(what, in.base+addr, "structures refer to each other without end")
	}
	return nil
}

// read gives the n bytes at an address.
func (in *input) read(what string, addr, n int64) (*cursor, error) {
	room := in.size - in.base
	if addr < 0 || n < 0 || addr > room || n > room-addr {
		return nil, damaged(what, in.base+addr, "%d bytes lie beyond the end of the file at %d", n, in.size)
	}
	if n > mostStructure {
		return nil, damaged(what, in.base+addr, "it claims %d bytes, more than the %d that are read at once", n, mostStructure)
	}
	if err := in.spend(what, addr, n); err != nil {
		return nil, err
	}
	b := make([]byte, n)
	if err := in.readAt(what, b, addr); err != nil {
		return nil, err
	}
	return &cursor{what: what, b: b, at: in.base + addr, offsetSize: in.offset, lengthSize: in.length}, nil
}

// readUpTo is read, of fewer bytes where the file ends before.
func (in *input) readUpTo(what string, addr, n int64) (*cursor, error) {
	if addr >= 0 && addr <= in.size-in.base {
		n = min(n, in.size-in.base-addr)
	}
	return in.read(what, addr, n)
}

// readAt fills b with the bytes at an address, without counting them.
func (in *input) readAt(what string, b []byte, addr int64) error {
	if addr < 0 || addr > in.size-in.base-int64(len(b)) {
		return damaged(what, in.base+addr, "%d bytes lie beyond the end of the file at %d", len(b), in.size)
	}
	if n, err := in.r.ReadAt(b, in.base+addr); n < len(b) {
		if err == nil || err == io.EOF {
			err = io.ErrUnexpectedEOF
		}
		return fmt.Errorf("%s at byte %d: %w", what, in.base+addr, err)
	}
	return nil
}

func damaged(what string, at int64, format string, args ...any) error {
	return fmt.Errorf("%s at byte %d: %s", what, at, fmt.Sprintf(format, args...))
}

func unsupported(format string, args ...any) error {
	return fmt.Errorf("%w: %s", ErrUnsupported, fmt.Sprintf(format, args...))
}
