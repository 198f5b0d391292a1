package study

import "strings"

// suggest names the known key of the same table that an unknown one was
// probably meant to be, as the tail of an error text, or gives "".
func (d *document) suggest(key string) string {
	table := parent(key)
	best, least := "", min(3, (len(key)-len(table))/3+1) // two slips at most, fewer in a short name
	for known := range d.asked {
		if parent(known) != table || strings.HasSuffix(known, "]") {
			continue
		}
		n := slips(key[len(table):], known[len(table):])
		if n < least || n == least && best != "" && known < best {
			best, least = known, n
		}
	}
	if best == "" {
		return ""
	}
	return ": is " + strings.TrimPrefix(best[len(table):], ".") + " meant?"
}

// slips counts the letters to put in, take out or change between a and b.
func slips(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range a {
		diagonal := row[0]
		row[0] = i + 1
		for j := range b {
			cost := diagonal
			if a[i] != b[j] {
				cost++
			}
			diagonal = row[j+1]
			row[j+1] = min(cost, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
