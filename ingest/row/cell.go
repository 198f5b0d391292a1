package row

import (
	"bytes"
	"errors"
	"fmt"
	"math"

	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
)

// A Column says how the cells of one column are read.
type Column struct {
	Name     string  // as the source spells it
	Missing  float64 // the source's code for no data
	Above    bool    // values above the code are no data too, else values below it
	ZeroGone bool    // 0 means no data as well
	Word     string  // what stands for no data besides, such as N/A; empty for nothing
	Factor   float64 // turns the source's unit into ours
	Offset   float64 // added after that
	Range    sky.Range
}

var errNotNumber = errors.New("not a number; taken as missing")

// Cells reads cells and keeps what was wrong with them.
type Cells struct {
	File  string
	Bad   []*weather.CellError // the first few
	Count int                  // all of them
}

// keptBadCells is how many bad cells of a file are kept to be named.
const keptBadCells = 10

// Value gives the value of a cell in our unit, NaN where it is empty, holds the
// missing code or cannot be used; the last is recorded.
func (c *Cells) Value(b []byte, line int, col *Column) float64 {
	v, ok := Number(b)
	if !ok {
		if b = bytes.TrimSpace(b); len(b) > 0 && (col.Word == "" || !bytes.EqualFold(b, []byte(col.Word))) {
			c.bad(b, line, col, errNotNumber)
		}
		return math.NaN()
	}
	if (col.Above && v >= col.Missing) || (!col.Above && v <= col.Missing) || (col.ZeroGone && v == 0) {
		return math.NaN()
	}
	v = v*col.Factor + col.Offset
	if !col.Range.Holds(v) {
		c.bad(b, line, col, fmt.Errorf("impossible, outside %.6g to %.6g; taken as missing",
			(col.Range.Min-col.Offset)/col.Factor, (col.Range.Max-col.Offset)/col.Factor))
		return math.NaN()
	}
	return v
}

func (c *Cells) bad(b []byte, line int, col *Column, err error) {
	c.Count++
	if len(c.Bad) < keptBadCells {
		c.Bad = append(c.Bad, &weather.CellError{File: c.File, Line: line, Column: col.Name, Value: clip(b), Err: err})
	}
}
