package fit

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// A table sets rows of cells in columns as wide as their longest cell.
type table struct {
	align string // one letter for each column: l or r
	rows  [][]string
}

func (t *table) row(cells ...string) { t.rows = append(t.rows, cells) }

// write indents every line by two spaces and leaves none at its end.
func (t *table) write(w io.Writer) {
	var width []int
	for _, cells := range t.rows {
		for k, c := range cells {
			if k == len(width) {
				width = append(width, 0)
			}
			width[k] = max(width[k], utf8.RuneCountInString(c))
		}
	}
	for _, cells := range t.rows {
		var line strings.Builder
		for k, c := range cells {
			pad := strings.Repeat(" ", width[k]-utf8.RuneCountInString(c))
			if k < len(t.align) && t.align[k] == 'l' {
				line.WriteString("  " + c + pad)
			} else {
				line.WriteString("  " + pad + c)
			}
		}
		fmt.Fprintln(w, strings.TrimRight(line.String(), " "))
	}
}
