package cf

import (
	"strings"

	"stillrow/ingest/netcdf"
)

// timeMethod gives what cell_methods says of time, lower case ("mean", "sum",
// "point", "mean within years"…), empty where it says nothing. Several methods
// of time are joined by a blank.
func timeMethod(v *netcdf.Var) string {
	text := strings.ToLower(v.Text("cell_methods"))
	var methods []string
	for text != "" {
		// Comments in brackets are for people.
		if open := strings.IndexByte(text, '('); open >= 0 {
			end := strings.IndexByte(text[open:], ')')
			if end < 0 {
				end = len(text) - open - 1
			}
			text = text[:open] + " " + text[open+end+1:]
			continue
		}
		break
	}
	words := strings.Fields(strings.ReplaceAll(text, ":", ": "))
	for i := 0; i < len(words); i++ {
		if !strings.HasSuffix(words[i], ":") {
			continue
		}
		ofTime := false
		for ; i < len(words) && strings.HasSuffix(words[i], ":"); i++ { // "time: lat: mean"
			name := strings.TrimSuffix(words[i], ":")
			ofTime = ofTime || strings.Contains(name, "time") || name == "t"
		}
		start := i
		for i < len(words) && !strings.HasSuffix(words[i], ":") {
			i++
		}
		if ofTime {
			methods = append(methods, words[start:i]...)
		}
		i--
	}
	return strings.Join(methods, " ")
}
