package hdf5

import "errors"

const signature = "\x89HDF\r\n\x1a\n"

// superblock finds and reads the superblock, sets the widths of the input, and
// gives the address of the root group's object header.
func (in *input) superblock() (root int64, err error) {
	at := int64(0)
	for {
		c, err := in.read("superblock", at, 8)
		if err != nil || at > 1<<40 {
			return 0, errors.New("not an HDF5 file: its signature is missing")
		}
		if string(c.b) == signature {
			break
		}
		at = max(512, 2*at)
	}
	c, err := in.readUpTo("superblock", at, 128)
	if err != nil {
		return 0, err
	}
	c.skip(8)
	version := c.u8()
	switch version {
	case 0, 1:
		c.skip(4)
		in.widths(c, c.u8(), c.u8())
		c.skip(1 + 2 + 2 + 4)
		if version == 1 {
			c.skip(4)
		}
	case 2, 3:
		in.widths(c, c.u8(), c.u8())
		c.skip(1)
	default:
		return 0, unsupported("superblock version %d", version)
	}
	base := c.address()
	c.skip(in.offset) // free space, or the extension, of which nothing is needed here
	end := c.address()
	if version < 2 {
		c.skip(in.offset) // driver information
		c.skip(in.offset) // name of the root group
	}
	root = c.address()
	if version >= 2 {
		c.checksum()
	}
	if c.err != nil {
		return 0, c.err
	}
	if base == undefined || base > in.size || root == undefined || end == undefined {
		return 0, damaged("superblock", at, "an address is missing")
	}
	if end > in.size {
		return 0, damaged("superblock", at, "the file is cut off: it has %d bytes, not %d", in.size, end)
	}
	in.base = base
	return root, nil
}

// widths takes over the bytes of addresses and sizes.
func (in *input) widths(c *cursor, offset, length int) {
	for _, n := range [...]int{offset, length} {
		if n != 2 && n != 4 && n != 8 {
			c.fail("addresses of %d and sizes of %d bytes", offset, length)
			offset, length = 8, 8
		}
	}
	in.offset, in.length = offset, length
	c.offsetSize, c.lengthSize = offset, length
}
