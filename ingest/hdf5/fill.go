package hdf5

// decodeFill decodes a fill value message of either kind; the value, in the
// file's order of bytes, is nil where none is defined.
func decodeFill(c *cursor, kind int) ([]byte, error) {
	defined := true
	if kind == msgFill {
		switch version := c.u8(); version {
		case 1, 2:
			c.skip(2) // when space is taken and filled
			defined = c.u8() != 0 || version == 1
		case 3:
			defined = c.u8()&0x20 != 0
		default:
			if c.err == nil {
				c.err = unsupported("version %d of the fill value at byte %d", version, c.at)
			}
		}
	}
	if !defined || c.err != nil {
		return nil, c.err
	}
	if n := int32(c.u32()); n > 0 { // −1 stands for undefined
		return c.bytes(int(n)), c.err
	}
	return nil, c.err
}
