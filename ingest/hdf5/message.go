package hdf5

// Kinds of header messages.
const (
	msgDataspace    = 0x01
	msgLinkInfo     = 0x02
	msgDatatype     = 0x03
	msgOldFill      = 0x04
	msgFill         = 0x05
	msgLink         = 0x06
	msgExternal     = 0x07
	msgLayout       = 0x08
	msgFilters      = 0x0b
	msgAttribute    = 0x0c
	msgContinuation = 0x10
	msgSymbolTable  = 0x11
	msgAttrInfo     = 0x15
)

// A message is one of the parts of an object header.
type message struct {
	kind   int
	shared bool // the body says where the message proper is
	order  int  // of creation, 0 where the file does not keep it
	body   *cursor
}

// has tells whether there is a message of a kind.
func has(messages []message, kind int) bool {
	for _, m := range messages {
		if m.kind == kind {
			return true
		}
	}
	return false
}

// one gives the body of the first message of a kind, followed to where it is
// shared, and nil where there is none.
func (in *input) one(messages []message, kind int) (*cursor, error) {
	for _, m := range messages {
		if m.kind != kind {
			continue
		}
		if !m.shared {
			return m.body, nil
		}
		return in.shared(m.body, kind)
	}
	return nil, nil
}

// shared reads where a shared message is and gives its body: that of the
// message of the same kind in another object header.
func (in *input) shared(c *cursor, kind int) (*cursor, error) {
	version, where := c.u8(), c.u8()
	if version == 1 {
		c.skip(6)
	}
	if version == 3 && where == 1 {
		return nil, unsupported("shared message table, used at byte %d", c.at)
	}
	addr := c.address()
	if c.err != nil {
		return nil, c.err
	}
	messages, err := in.header(addr)
	if err != nil {
		return nil, err
	}
	for _, m := range messages {
		if m.kind == kind && !m.shared {
			return m.body, nil
		}
	}
	return nil, damaged(c.what, c.at, "no shared message of kind %d at %d", kind, in.base+addr)
}
