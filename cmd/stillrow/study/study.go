// Package study reads a study file: which designs to try, what they are made
// of, when their heat is wanted and what it may cost. Load checks every value
// and fills whatever the file leaves out, so that the stages get finished
// options; Study.Settings says of each value where it came from.
//
// The file is TOML. Units are in the key names; angles are in degrees,
// temperatures in °C. A key nobody reads is an error, so a slip of the pen
// never passes for a default.
package study

import (
	"fmt"
	"strings"
)

// A Fault is one thing wrong with a study file. Line and Column count from 1
// and are 0 where no place in the file can be named, as for a missing table.
type Fault struct {
	File         string
	Line, Column int
	Problem      string // key, value and what was wanted
}

// Error gives file:line:column: problem.
func (f *Fault) Error() string {
	if f.Line == 0 {
		return fmt.Sprintf("%s: %s", f.File, f.Problem)
	}
	return fmt.Sprintf("%s:%d:%d: %s", f.File, f.Line, f.Column, f.Problem)
}

// Faults are all the faults of a file, in the order of their places.
type Faults []*Fault

// Error gives one line for each fault.
func (f Faults) Error() string {
	lines := make([]string, len(f))
	for i, fault := range f {
		lines[i] = fault.Error()
	}
	return strings.Join(lines, "\n")
}

// A Setting is one value of the study as resolved.
type Setting struct {
	Key    string `json:"key"`
	Value  any    `json:"value"`  // number, text or list; nil where nothing is stated
	Source string `json:"source"` // "study", "default", "preset …", "book …" or how it was computed
}
