package study

import (
	"io/fs"
	"runtime"
	"strings"
	"testing"

	"stillrow/data"
)

// FuzzLoad reads any text as a study: faults that name the file and the place,
// or a study within its limits, in memory that is in proportion to the text and
// the candidates.
func FuzzLoad(f *testing.F) {
	for _, name := range []string{"halvane/study.toml"} {
		if text, err := fs.ReadFile(data.FS, name); err == nil {
			f.Add(text)
		}
	}
	f.Add([]byte(least))
	f.Add([]byte(least + "[receiver]\neta0b = 0.8\niam = { table = [[0, 1], [60, 0.8]] }\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		s, err := Load("s.toml", text, data.FS, DefaultBook)
		runtime.ReadMemStats(&after)
		// A kB of paths a byte is what mostPath allows, at the worst.
		most := uint64(64<<20) + 1<<10*uint64(len(text))
		if s != nil {
			most += 1 << 10 * uint64(len(s.Designs))
		}
		if got := after.TotalAlloc - before.TotalAlloc; got > most {
			t.Errorf("%d bytes taken for a text of %d, want at most %d", got, len(text), most)
		}
		if err == nil {
			if n := len(s.Designs); n < 1 || n > MaxDesigns {
				t.Errorf("%d designs", n)
			}
			for i := range s.Designs {
				if err := s.Designs[i].Validate(); err != nil {
					t.Fatalf("design %d: %v", i, err)
				}
			}
			return
		}
		faults, ok := err.(Faults)
		if !ok || len(faults) == 0 {
			t.Fatalf("%T of %v", err, err)
		}
		lines := strings.Count(string(text), "\n") + 1
		for _, fault := range faults {
			if fault.File != "s.toml" || fault.Line > lines || strings.ContainsAny(fault.Problem, "\n\r") {
				t.Errorf("%q", fault.Error())
			}
		}
	})
}

// What a study may claim, and what is said of it.
func TestLoadLimits(t *testing.T) {
	for _, tt := range []struct{ name, text, want string }{
		{"designs by eight lists", "[designs]\nmirror_length_m = {from = 0.5, to = 5, step = 0.045}\nmirror_tilt_deg = {from = 10, to = 110, step = 1}\n" +
			"setback_m = {from = 0, to = 1, step = 0.01}\nraise_m = {from = 0, to = 1, step = 0.01}\nrow_pitch_m = {from = 10, to = 19, step = 1}\n",
			"s.toml:1:2: designs: 1040604010 candidates, want at most 1000000"},
		{"designs by one step", "[designs]\nmirror_tilt_deg = {from = 0, to = 100, step = 1e-7}\n",
			"s.toml:2:1: designs.mirror_tilt_deg: 1000000001 values, want at most 1000000"},
		{"text", "#" + strings.Repeat(" ", MostText), "s.toml: 1048577 bytes, want at most 1048576"},
		{"dotted key", least + strings.Repeat("a.", 20000) + "a = 1\n",
			"s.toml:3:249: a key of over 256 bytes with the tables it is in, want at most that"},
		{"table", "[" + strings.Repeat("a.", 20000) + "a]\n",
			"s.toml:1:258: a key of over 256 bytes with the tables it is in, want at most that"},
		{"tables in tables", least + "a = " + strings.Repeat("{a=", 5000) + "1" + strings.Repeat("}", 5000) + "\n",
			"s.toml:3:375: a key of over 256 bytes with the tables it is in, want at most that"},
	} {
		_, err := load(tt.text)
		if err == nil || err.Error() != tt.want {
			t.Errorf("%s: %.200v, want %s", tt.name, err, tt.want)
		}
	}
}
