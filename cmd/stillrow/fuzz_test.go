package main

import (
	"errors"
	"strings"
	"testing"
)

// FuzzDesign reads any text as --design: an error of use that names the flag,
// or a design within its limits.
func FuzzDesign(f *testing.F) {
	s, err := studyFlag{}.load("default")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(`{"mirror_tilt_deg":80,"mirror_length_m":1}`)
	f.Add(`{"Mirror_Tilt_Deg":80}`)
	f.Add(`{"mirror_tilt_deg":null}{}`)
	f.Fuzz(func(t *testing.T, text string) {
		d, err := designFlag{Design: text}.pick(s)
		var use usageError
		switch {
		case err == nil:
			if err := d.Validate(); err != nil {
				t.Errorf("%q: %v", text, err)
			}
		case !errors.As(err, &use) || !strings.HasPrefix(err.Error(), "--design: ") || strings.Contains(err.Error(), "\n"):
			t.Errorf("%q: %T %q", text, err, err)
		}
	})
}

// FuzzAt reads any text as --at.
func FuzzAt(f *testing.F) {
	f.Add("35.5,-41")
	f.Add(" 1e400 , NaN")
	f.Fuzz(func(t *testing.T, text string) {
		p, err := parseAt(text)
		switch {
		case err == nil && !(p.lat >= -90 && p.lat <= 90 && p.lon >= -180 && p.lon <= 180):
			t.Errorf("%q: %v", text, p)
		case err != nil && !strings.HasPrefix(err.Error(), "--at="):
			t.Errorf("%q: %q", text, err)
		}
	})
}
