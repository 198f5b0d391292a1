package raster

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
)

var (
	// exponent is one of a unit such as W m-2 day-1, which is no sign or number.
	exponent = regexp.MustCompile(`(^|[^a-z0-9])(m|s|d|day|h|hr|kg|month|year)(\*\*|\^)?-([12])($|[^0-9])`)
	// powers of metres without a sign.
	power = regexp.MustCompile(`(\*\*|\^)([0-9])`)
	// separator parts words; a point between digits is a decimal point, of a
	// resolution or version.
	separator = regexp.MustCompile(`[^a-z0-9.%°]+`)
	decimal   = regexp.MustCompile(`[0-9]\.[0-9]`)
	point     = regexp.MustCompile(`^\.+|\.+$`)
)

// words parts a text into lower-case words.
func words(s string) []string {
	s = strings.ToLower(s)
	s = strings.NewReplacer("²", "2", "−", "-", "⁻", "-", "¹", "1", "º", "°").Replace(s)
	for range 3 { // neighbours share a separator, so that one pass may skip every other
		s = exponent.ReplaceAllStringFunc(s, func(m string) string {
			p := exponent.FindStringSubmatch(m)
			if p[4] == "1" {
				return p[1] + p[2] + p[5]
			}
			return p[1] + p[2] + p[4] + p[5]
		})
	}
	s = power.ReplaceAllString(s, "$2")
	var out []string
	for _, w := range separator.Split(s, -1) {
		if strings.Contains(w, ".") && !decimal.MatchString(w) {
			for _, part := range strings.Split(w, ".") {
				if part != "" {
					out = append(out, part)
				}
			}
			continue
		}
		if w = point.ReplaceAllString(w, ""); w != "" {
			out = append(out, w)
		}
	}
	return out
}

// run finds a run of words that spells one of the forms, in as many words or
// all in one: "m s" is found in m_s and in ms. It gives the longest, the first
// of equals.
func run(in []string, forms []string) (at, n int, form string) {
	for _, f := range forms {
		parts := strings.Fields(f)
		joined := strings.Join(parts, "")
		for i := range in {
			switch {
			case i+len(parts) <= len(in) && slices.Equal(in[i:i+len(parts)], parts):
				if len(joined) > len(strings.ReplaceAll(form, " ", "")) {
					at, n, form = i, len(parts), f
				}
			case in[i] == joined:
				if len(joined) > len(strings.ReplaceAll(form, " ", "")) {
					at, n, form = i, 1, f
				}
			}
		}
	}
	return at, n, form
}

var monthNames = []string{"january", "february", "march", "april", "may", "june", "july",
	"august", "september", "october", "november", "december"}

// monthOf gives the month of a word, 1 to 12: two digits, or the name in full or
// its first three letters; 0 if it is none.
func monthOf(w string) int {
	w = strings.ToLower(w)
	for i, name := range monthNames {
		if w == name || w == name[:3] || w == "sept" && i == 8 {
			return i + 1
		}
	}
	if len(w) == 2 && (w[0] == '0' && w[1] >= '1' && w[1] <= '9' || w[0] == '1' && w[1] >= '0' && w[1] <= '2') {
		return int(w[0]-'0')*10 + int(w[1]-'0')
	}
	return 0
}

// ending is a month stuck to a word: ghi07, m07. Other words than these may end
// in the number of a version or an area.
var ending = regexp.MustCompile(`^([a-z]+)(0[1-9]|1[0-2])$`)

func stuck(w string) int {
	p := ending.FindStringSubmatch(w)
	if p == nil || slices.Contains(quantityForms, w) {
		return 0
	}
	if p[1] == "m" || p[1] == "mon" || p[1] == "month" || slices.Contains(quantityForms, p[1]) {
		return monthOf(p[2])
	}
	return 0
}

// findMonth finds the one month among words. Names count before numbers, and
// of several numbers the one that ends the text.
func findMonth(in []string) (int, error) {
	var named, numbered []int
	for _, w := range in {
		m := monthOf(w)
		switch {
		case m > 0 && w[0] > '9':
			named = append(named, m)
		case m > 0:
			numbered = append(numbered, m)
		case stuck(w) > 0:
			numbered = append(numbered, stuck(w))
		}
	}
	named, numbered = slices.Compact(named), slices.Compact(numbered)
	switch {
	case len(named) == 1:
		return named[0], nil
	case len(named) > 1:
		return 0, fmt.Errorf("two months, %d and %d, in %q", named[0], named[1], strings.Join(in, " "))
	case len(numbered) == 1:
		return numbered[0], nil
	case len(numbered) > 1:
		if last := monthOf(in[len(in)-1]); last > 0 {
			return last, nil
		}
		return 0, fmt.Errorf("which month, %d or %d, in %q? put it last", numbered[0], numbered[1], strings.Join(in, " "))
	}
	return 0, nil
}
