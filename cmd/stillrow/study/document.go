package study

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// A document is a TOML text taken apart by key. Keys are paths with dots and
// indices from 0: "cost.item[2].price".
type document struct {
	file   string
	values map[string]any   // every key, tables and list elements included
	places map[string]place // keys, and the elements of lists, where they stand
	keys   []string         // keys as written, in file order; no list elements
	asked  map[string]bool  // keys that a reader knows
	starts []int            // byte at which each line of the text starts
	long   *place           // of a key longer than mostPath
}

// Limits of the text of a study or book. Memory for the paths of keys grows with the keys
// times the length of each, which is why it is bounded.
const (
	MostText = 1 << 20 // bytes
	mostPath = 1 << 8  // bytes of a key with the tables that it is in
)

type place struct{ line, column int }

// parseDocument takes text apart; an error is a Faults.
func parseDocument(file string, text []byte) (*document, error) {
	text = bytes.TrimPrefix(text, []byte("\ufeff"))
	if fault := notText(file, text); fault != nil {
		return nil, Faults{fault}
	}
	var tree map[string]any
	if err := toml.Unmarshal(text, &tree); err != nil {
		fault := &Fault{File: file, Problem: strings.TrimPrefix(err.Error(), "toml: ")}
		var at *toml.DecodeError
		if errors.As(err, &at) {
			fault.Line, fault.Column = at.Position()
		}
		return nil, Faults{fault}
	}
	d := &document{
		file:   file,
		values: make(map[string]any),
		places: make(map[string]place),
		asked:  make(map[string]bool),
	}
	for line, at := range bytes.SplitAfter(text, []byte("\n")) {
		if line == 0 {
			d.starts = append(d.starts, 0)
		}
		d.starts = append(d.starts, d.starts[line]+len(at))
	}
	if d.locate(text); d.long != nil {
		return nil, Faults{{File: file, Line: d.long.line, Column: d.long.column,
			Problem: fmt.Sprintf("a key of over %d bytes with the tables it is in, want at most that", mostPath)}}
	}
	d.flatten("", tree)
	return d, nil
}

// notText says why text cannot be a study file at all.
func notText(file string, text []byte) *Fault {
	switch {
	case len(text) > MostText:
		return &Fault{File: file, Problem: fmt.Sprintf("%d bytes, want at most %d", len(text), MostText)}
	case len(bytes.TrimSpace(text)) == 0:
		return &Fault{File: file, Problem: "empty file, want a study"}
	case bytes.HasPrefix(text, []byte("\xff\xfe")) || bytes.HasPrefix(text, []byte("\xfe\xff")):
		return &Fault{File: file, Line: 1, Column: 1, Problem: "text is UTF-16, want UTF-8"}
	}
	for line, rest := 1, text; len(rest) > 0; line++ {
		row, after, _ := bytes.Cut(rest, []byte("\n"))
		if i := bytes.IndexByte(row, 0); i >= 0 {
			return &Fault{File: file, Line: line, Column: i + 1, Problem: "byte 0, want a text file"}
		}
		for i := 0; i < len(row); {
			r, n := utf8.DecodeRune(row[i:])
			if r == utf8.RuneError && n == 1 {
				return &Fault{File: file, Line: line, Column: i + 1, Problem: fmt.Sprintf("byte 0x%02x, want UTF-8 text", row[i])}
			}
			i += n
		}
		rest = after
	}
	return nil
}

// flatten files every value of the tree under its path.
func (d *document) flatten(path string, v any) {
	if path != "" {
		d.values[path] = v
	}
	switch v := v.(type) {
	case map[string]any:
		for name, child := range v {
			d.flatten(join(path, name), child)
		}
	case []any:
		for i, child := range v {
			d.flatten(index(path, i), child)
		}
	}
}

// locate files the place of every key and list element.
func (d *document) locate(text []byte) {
	var p unstable.Parser
	p.Reset(text)
	count := make(map[string]int) // elements so far of each list of tables
	table := ""
	for d.long == nil && p.NextExpression() {
		e := p.Expression()
		switch e.Kind {
		case unstable.KeyValue:
			d.locatePair(table, e)
		case unstable.Table, unstable.ArrayTable:
			table = ""
			for it := e.Key(); d.long == nil && it.Next(); {
				table = join(table, string(it.Node().Data))
				last := it.IsLast()
				d.put(table, it.Node(), true)
				if last && e.Kind == unstable.ArrayTable {
					count[table]++
				}
				if n := count[table]; n > 0 {
					table = index(table, n-1)
					d.put(table, it.Node(), false)
				}
			}
		}
	}
}

func (d *document) locatePair(table string, pair *unstable.Node) {
	path := table
	for it := pair.Key(); d.long == nil && it.Next(); {
		path = join(path, string(it.Node().Data))
		d.put(path, it.Node(), true)
	}
	d.locateValue(path, pair.Value())
}

func (d *document) locateValue(path string, v *unstable.Node) {
	switch v.Kind {
	case unstable.InlineTable:
		for it := v.Children(); d.long == nil && it.Next(); {
			if it.Node().Kind == unstable.KeyValue {
				d.locatePair(path, it.Node())
			}
		}
	case unstable.Array:
		i := 0
		for it := v.Children(); d.long == nil && it.Next(); {
			if it.Node().Kind == unstable.Comment {
				continue
			}
			element := index(path, i)
			if it.Node().Raw.Length > 0 { // a list within a list has no place of its own
				d.put(element, it.Node(), false)
			}
			d.locateValue(element, it.Node())
			i++
		}
	}
}

// put files a place; the first one of a path stands.
func (d *document) put(path string, n *unstable.Node, key bool) {
	if _, ok := d.places[path]; ok {
		return
	}
	line, on := slices.BinarySearch(d.starts, int(n.Raw.Offset))
	if !on {
		line-- // the parser's own places are counted from the top for each key
	}
	at := place{line + 1, int(n.Raw.Offset) - d.starts[line] + 1}
	if len(path) > mostPath {
		d.long = &at
		return
	}
	d.places[path] = at
	if key {
		d.keys = append(d.keys, path)
	}
}

// at gives the place of a key, or of the nearest key that holds it.
func (d *document) at(path string) place {
	for path != "" {
		if at, ok := d.places[path]; ok {
			return at
		}
		path = parent(path)
	}
	return place{}
}

// ask gives a value and marks its key, and those it lies in, as known.
func (d *document) ask(path string) (any, bool) {
	for p := path; p != "" && !d.asked[p]; p = parent(p) {
		d.asked[p] = true
	}
	v, ok := d.values[path]
	return v, ok
}

// unknown gives the keys nobody asked for, in file order, the outermost only.
func (d *document) unknown() []string {
	var list []string
	for _, key := range d.keys {
		if !d.asked[key] && (parent(key) == "" || d.asked[parent(key)]) {
			list = append(list, key)
		}
	}
	return list
}

func join(path, name string) string {
	bare := name != "" && strings.Trim(name, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_-") == ""
	if !bare { // a dot or bracket inside a name is none of the path's
		name = strings.NewReplacer(".", `\x2e`, "[", `\x5b`).Replace(strconv.Quote(name))
	}
	if path == "" {
		return name
	}
	return path + "." + name
}

func index(path string, i int) string { return path + "[" + strconv.Itoa(i) + "]" }

// parent cuts the last name or index off a path.
func parent(path string) string { return path[:max(0, strings.LastIndexAny(path, ".["))] }
