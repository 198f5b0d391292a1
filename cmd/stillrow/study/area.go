package study

import (
	"fmt"
	"path/filepath"

	"stillrow/data/area"
)

// An AreaFile is the file that [map] within names.
type AreaFile struct {
	Path string // relative names are from the folder of the study file
	at   Fault  // where the key stands
}

// Open reads the area. An error is Faults.
func (f *AreaFile) Open() (*area.Area, error) {
	a, err := area.Read(f.Path)
	if err != nil {
		at := f.at
		at.Problem = fmt.Sprintf("map.within: %v", err)
		return nil, Faults{&at}
	}
	return a, nil
}

// within reads [map] within; nil where it is left out.
func (r *reader) within() *AreaFile {
	const key = "map.within"
	if !r.has(key) {
		return nil
	}
	name := r.text(key, byDefault(""))
	if name == "" {
		r.fault(key, `%s = "", want the name of a GeoJSON file of polygons`, key)
	}
	if !filepath.IsAbs(name) {
		name = filepath.Join(filepath.Dir(r.doc.file), name)
	}
	at := r.doc.at(key)
	return &AreaFile{name, Fault{File: r.doc.file, Line: at.line, Column: at.column}}
}
