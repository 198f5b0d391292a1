package rank

import (
	"encoding/csv"
	"io"
	"math"
	"strconv"

	"stillrow/simulate/result"
)

// A sheetColumn is one column of a CSV table of Ts.
type sheetColumn[T any] struct {
	name, unit, meaning string
	text                func(*T) string
}

func writeSheet[T any](w io.Writer, columns []sheetColumn[T], rows []T) error {
	out := csv.NewWriter(w)
	line := make([]string, len(columns))
	for i, c := range columns {
		line[i] = c.name
	}
	if err := out.Write(line); err != nil {
		return err
	}
	for i := range rows {
		for k, c := range columns {
			line[k] = c.text(&rows[i])
		}
		if err := out.Write(line); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// describedSheet lists the columns of a CSV table.
func describedSheet[T any](file string, columns []sheetColumn[T]) (list []result.Column) {
	for _, c := range columns {
		list = append(list, result.Column{File: file, Name: c.name, Unit: c.unit, Meaning: c.meaning})
	}
	return list
}

// short is the shortest decimal that reads back as v.
func short(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// fixed writes four decimals, and nothing for nil.
func fixed(v *float64) string {
	if v == nil {
		return ""
	}
	return strconv.FormatFloat(math.Round(*v*1e4)/1e4+0, 'f', 4, 64) // + 0 turns -0 into 0
}
