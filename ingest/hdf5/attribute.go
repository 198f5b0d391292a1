package hdf5

import (
	"errors"
	"fmt"
	"sort"
)

// attributeList is the attributes of an object: those to show, and the
// addresses of the dimension scales of each dimension.
type attributeList struct {
	shown  []Attr
	scales [][]int64
	lost   error // why one that might change the values' meaning could not be read
}

// attributes reads the attributes of an object, in order of creation where it
// is kept. Those of types that are not read are left out; those that lie where
// this package cannot reach are lost.
func (in *input) attributes(messages []message) (attributeList, error) {
	var bodies []message
	for _, m := range messages {
		switch m.kind {
		case msgAttribute:
			bodies = append(bodies, m)
		case msgAttrInfo:
			dense, err := in.denseAttributes(m.body)
			if err != nil {
				return attributeList{}, err
			}
			bodies = append(bodies, dense...)
		}
	}
	sort.SliceStable(bodies, func(i, j int) bool { return bodies[i].order < bodies[j].order })
	var list attributeList
	for _, m := range bodies {
		var err error
		body := m.body
		if m.shared {
			body, err = in.shared(body, msgAttribute)
		}
		if err == nil {
			err = in.attribute(body, &list)
		}
		if errors.Is(err, ErrUnsupported) {
			list.lost = fmt.Errorf("attribute: %w", err)
		} else if err != nil {
			return list, err
		}
	}
	return list, nil
}

// denseAttributes gives the attribute messages that an attribute info message
// refers to.
func (in *input) denseAttributes(c *cursor) ([]message, error) {
	c.version(0)
	if flags := c.u8(); flags&1 != 0 {
		c.skip(2)
	}
	heapAt, tree := c.address(), c.address()
	if c.err != nil || heapAt == undefined || tree == undefined {
		return nil, c.err
	}
	heap, err := in.fractalHeap(heapAt)
	if err != nil {
		return nil, err
	}
	var list []message
	err = in.tree2(tree, func(kind int, r *cursor) error {
		id, flags, order := r.bytes(8), r.u8(), int(r.u32())
		if kind != 8 || r.err != nil {
			return damaged("attribute index", r.at, "a record of kind %d", kind)
		}
		body, err := heap.object(id)
		if err == nil {
			list = append(list, message{msgAttribute, flags&2 != 0, order, body})
		}
		return err
	})
	return list, err
}

// attribute decodes an attribute message into the list.
func (in *input) attribute(c *cursor, list *attributeList) error {
	version, flags := c.u8(), c.u8()
	nameSize, typeSize, spaceSize := c.u16(), c.u16(), c.u16()
	align := 1
	switch version {
	case 1:
		align, flags = 8, 0
	case 2:
	case 3:
		c.skip(1)
	default:
		if c.err == nil {
			c.err = unsupported("version %d of the attribute at byte %d", version, c.at)
		}
	}
	part := func(what string, n int) *cursor {
		from := c.pos
		p := c.sub(what, n)
		c.pad(from, align)
		return p
	}
	name := text(part("attribute name", nameSize).b, false)
	typeBody, spaceBody := part("attribute type", typeSize), part("attribute shape", spaceSize)
	if c.err != nil {
		return c.err
	}
	if flags&2 != 0 {
		return unsupported("shared dataspace of attribute %q", name)
	}
	if flags&1 != 0 {
		var err error
		if typeBody, err = in.shared(typeBody, msgDatatype); err != nil {
			return err
		}
	}
	t, err := decodeDatatype(typeBody)
	if err != nil {
		return err
	}
	s, err := decodeDataspace(spaceBody)
	if err != nil {
		return err
	}
	n := s.count()
	if n > c.left()/t.size {
		return damaged("attribute", c.at, "%q has %d values of %d bytes in %d bytes", name, n, t.size, c.left())
	}
	a := Attr{Name: name}
	switch {
	case name == "DIMENSION_LIST" && t.vlen && t.ref:
		list.scales, err = in.references(c, n)
		return err
	case t.class == String:
		if a.Text, err = in.texts(c, t, n); err != nil {
			return err
		}
	case t.class == Other:
		return nil
	default:
		a.Numbers = t.numbers(c.bytes(n * t.size))
	}
	list.shown = append(list.shown, a)
	return nil
}
