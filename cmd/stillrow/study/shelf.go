package study

import (
	"fmt"
	"io/fs"
	"path"
	"strings"
)

// A Shelf knows which cost book each country has.
type Shelf struct{ of map[string]string }

// Books reads every book, books/*.toml, and refuses a country in two of them.
// An error names file, line and column.
func Books(books fs.FS) (*Shelf, error) {
	list, err := fs.Glob(books, "books/*.toml")
	if err != nil {
		return nil, err
	}
	s := &Shelf{make(map[string]string)}
	for _, p := range list {
		b, err := readBook(books, strings.TrimSuffix(path.Base(p), ".toml"))
		if err != nil {
			return nil, err
		}
		for _, code := range b.countries {
			if other, ok := s.of[code]; ok {
				return nil, fmt.Errorf("%s: country %s is in the book %s too", b.file, code, other)
			}
			s.of[code] = b.name + "/" + code
		}
	}
	return s, nil
}

// Of names the book of a country, by its ISO 3166 alpha-2 code, as Load takes
// it; "" for a country that no book is for.
func (s *Shelf) Of(code string) string { return s.of[code] }

// LoadEach reads a study once for every book named, each a key of the result.
// The studies differ in Plan, Gas, Warnings and Settings alone, and in nothing
// where the study names a book itself. Their prices are in one currency: the
// study's, else the books' where they have one in common, else EUR.
func LoadEach(file string, text []byte, books fs.FS, names []string) (map[string]*Study, error) {
	list, err := loadEach(file, text, books, names, "")
	if err != nil {
		return nil, err
	}
	for _, s := range list {
		if s.Currency != list[names[0]].Currency {
			return loadEach(file, text, books, names, "EUR")
		}
	}
	return list, nil
}

func loadEach(file string, text []byte, books fs.FS, names []string, currency string) (map[string]*Study, error) {
	list := make(map[string]*Study)
	for _, name := range names {
		if list[name] != nil {
			continue
		}
		s, err := loadIn(file, text, books, name, currency)
		if err != nil {
			return nil, err
		}
		list[name] = s
	}
	return list, nil
}
