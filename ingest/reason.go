package ingest

import (
	"errors"
	"fmt"
	"regexp"

	"stillrow/ingest/weather"
)

// namedReasons is how many different reasons of an input are kept.
const namedReasons = 20

// reasons collects why places of an input were set aside: what many share is
// told once, with their number and the first of them.
type reasons struct {
	list []*reason
	more int // places whose reason is not in list
}

// A reason is why some places were set aside.
type reason struct {
	kind   string // the text less what differs from place to place
	first  string // identifier of the first place, empty where text says it
	text   string // of the first place
	differ bool   // other places have other numbers in it
	places int
}

// differing finds what differs from place to place in one reason: numbers and
// lists of months.
var differing = func() *regexp.Regexp {
	const month = "(January|February|March|April|May|June|July|August|September|October|November|December)"
	return regexp.MustCompile(`[-−+]?\d+(\.\d+)?|(any month but )?` + month + "((,| and| to) " + month + ")*|any month")
}()

// add counts a place; id is empty where it has none or the error says it.
func (r *reasons) add(id, name string, err error) {
	text := err.Error()
	var f *weather.FileError
	if id != "" && errors.As(err, &f) && f.File == name && f.Line == 0 {
		text = f.Err.Error()
		if f.Field != "" {
			text = f.Field + ": " + text
		}
	}
	kind := text
	if id != "" {
		kind = differing.ReplaceAllString(text, "#")
	}
	for _, other := range r.list {
		if other.kind == kind {
			other.places++
			other.differ = other.differ || other.text != text
			return
		}
	}
	if len(r.list) == namedReasons {
		r.more++
		return
	}
	r.list = append(r.list, &reason{kind: kind, first: id, text: text, places: 1})
}

// lines tells the reasons, a line each. Things is what the places are called.
func (r *reasons) lines(name, things string) (lines []string) {
	for _, x := range r.list {
		switch {
		case x.first == "":
			lines = append(lines, x.text)
		case x.places == 1:
			lines = append(lines, fmt.Sprintf("%s: %s: %s", name, x.first, x.text))
		case x.differ:
			lines = append(lines, fmt.Sprintf("%s: %d %s, such as %s: %s", name, x.places, things, x.first, x.text))
		default:
			lines = append(lines, fmt.Sprintf("%s: %d %s, first %s: %s", name, x.places, things, x.first, x.text))
		}
	}
	if r.more > 0 {
		lines = append(lines, fmt.Sprintf("%s: %d more %s for other reasons", name, r.more, things))
	}
	return lines
}
