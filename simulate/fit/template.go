package fit

import _ "embed"

//go:embed template.csv
var template string

// Template returns a test file to fill in: the columns with their units, and
// invented points of a receiver with eta0b 0.82, b0 0.10, c1 9, c2 0.06,
// c3 2.5 and a mirror that multiplies the absorbed beam by 1.35. It can be
// fitted as it stands.
func Template() string { return template }
