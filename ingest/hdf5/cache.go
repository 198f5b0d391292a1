package hdf5

import (
	"container/list"
	"sync"
)

// cacheLimit bounds the decoded chunks kept of a dataset, in bytes.
const cacheLimit = 16 << 20

// A cache keeps the chunks of a dataset that were used last. The zero value is
// ready to use.
type cache struct {
	mu    sync.Mutex
	bytes int
	order list.List // of kept, the last used first
	found map[int]*list.Element
}

type kept struct {
	number int
	data   []byte
}

// get gives the data of a chunk, nil where they are not kept. They must not be
// changed.
func (c *cache) get(number int) []byte {
	c.mu.Lock()
	defer c.mu.Unlock()
	e := c.found[number]
	if e == nil {
		return nil
	}
	c.order.MoveToFront(e)
	return e.Value.(kept).data
}

// put keeps the data of a chunk and tells whether it did: not where they are
// too long, nor where another goroutine came first.
func (c *cache) put(number int, data []byte) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	if cap(data) > cacheLimit || c.found[number] != nil {
		return false
	}
	if c.found == nil {
		c.found = make(map[int]*list.Element)
	}
	c.found[number] = c.order.PushFront(kept{number, data})
	c.bytes += cap(data)
	for c.bytes > cacheLimit {
		e := c.order.Back()
		k := c.order.Remove(e).(kept)
		delete(c.found, k.number)
		c.bytes -= cap(k.data)
	}
	return true
}
