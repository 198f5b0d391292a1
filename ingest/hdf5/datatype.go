package hdf5

// A datatype is the type of stored values.
type datatype struct {
	class Class
	size  int    // bytes of a stored value
	big   bool   // big-endian
	space bool   // a string padded with spaces
	vlen  bool   // the values are in the global heap
	ref   bool   // an object reference, or a sequence of them
	why   string // what the type is, where class is Other
}

var otherTypes = map[int]string{2: "time type", 4: "bit field type", 5: "opaque type", 6: "compound type",
	7: "reference type", 8: "enumeration type", 9: "variable-length type", 10: "array type", 11: "complex type"}

// decodeDatatype decodes a datatype message.
func decodeDatatype(c *cursor) (datatype, error) {
	head := c.u8()
	bits := int(c.uint(3))
	t := datatype{class: Other, size: int(c.u32()), big: bits&1 != 0}
	switch class := head & 15; class {
	case 0:
		t.class = Uint
		if bits&8 != 0 {
			t.class = Int
		}
		offset, precision := c.u16(), c.u16()
		if offset != 0 || precision != 8*t.size || t.size != 1 && t.size != 2 && t.size != 4 && t.size != 8 {
			t.class, t.why = Other, "integer type of unusual width"
		}
	case 1:
		t.class = Float
		fields := [...]int{c.u16(), c.u16(), c.u8(), c.u8(), c.u8(), c.u8(), int(c.u32())}
		single := [...]int{0, 32, 23, 8, 0, 23, 127}
		double := [...]int{0, 64, 52, 11, 0, 52, 1023}
		if bits&0x40 != 0 || !(t.size == 4 && fields == single || t.size == 8 && fields == double) {
			t.class, t.why = Other, "floating-point type that is not 32 or 64 bits of IEEE 754"
		}
	case 3:
		t.class, t.big, t.space = String, false, bits&15 == 2
	case 7:
		t.ref, t.why = bits&15 == 0, otherTypes[class]
	case 9:
		t.vlen, t.why, t.big = true, otherTypes[class], false
		if bits&15 == 1 {
			t.class, t.space = String, bits>>4&15 == 2
		} else if base := c.u8(); base&15 == 7 {
			t.ref = int(c.uint(3))&15 == 0
		}
	default:
		t.why = otherTypes[class]
		if t.why == "" {
			t.why = "unknown type"
		}
	}
	if c.err == nil && t.size == 0 {
		c.fail("a type of 0 bytes")
	}
	return t, c.err
}
