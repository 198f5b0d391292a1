package study

import (
	"fmt"
	"regexp"
	"strings"
	"testing"

	"stillrow/data"
)

// least is the shortest study there is: what it leaves out has defaults.
const least = "[designs]\nmirror_tilt_deg = 80\n"

func load(text string) (*Study, error) { return Load("s.toml", []byte(text), data.FS, DefaultBook) }

// faultsOf gives the faults of a text, which must have some.
func faultsOf(t *testing.T, name, text string) Faults {
	t.Helper()
	_, err := load(text)
	if err == nil {
		t.Errorf("%s: no error", name)
		return nil
	}
	faults, ok := err.(Faults)
	if !ok {
		t.Errorf("%s: %T, want Faults: %v", name, err, err)
	}
	return faults
}

// An entry is a key with values that it must refuse. before is what must stand
// above the key, its table included.
type entry struct {
	before, key string
	bad         string // TOML values with " | " between; wrong kinds are added
	text        bool   // the key takes a text, not a number
}

var entries = []entry{
	{"[study]", "name", "", true},
	{"[study]", "currency", "", true},
	{"[receiver]", "preset", `"bare iron"`, true},
	{"[receiver]", "night", `"noon"`, true},
	{"[receiver]", "eta0b", "-0.01 | 1.01", false},
	{"[receiver]", "kd", "-0.01 | 2.01", false},
	{"[receiver]", "c1", "-0.01 | 1001", false},
	{"[receiver]", "c2", "-0.01 | 11", false},
	{"[receiver]", "c3", "-0.01 | 1001", false},
	{"[receiver]", "c4", "-0.01 | 2.01", false},
	{"[receiver]", "c5", "-1 | 2e8", false},
	{"[receiver]", "c6", "-0.01 | 1.01", false},
	{"[receiver]", "water_depth_m", "-0.01 | 2.01", false},
	{"[receiver]", "wind_factor", "-0.01 | 2.01", false},
	{"[receiver]", "frost_lock_c", "-51 | 51", false},
	{"[receiver]", "softening_black_c", "-101 | 401", false},
	{"[receiver]", "softening_clear_c", "-101 | 401", false},
	{"[receiver]", "foam_limit_c", "-101 | 401", false},
	{"[receiver]\n[receiver.iam]", "b0", "-0.01 | 1.01", false},
	{"[receiver]\n[receiver.iam]", "table", "3 | [] | [[0, 1], [30]] | [[0, 1], [-1, 0.9]] | [[30, 1], [0, 1]]", false},
	{"[receiver]\n[receiver.iam]", "films", "3 | []", false},
	{"[mirror]", "reflectance", "-0.01 | 1.01", false},
	{"[mirror]", "cleanliness", "-0.01 | 1.01", false},
	{"[mirror]", "slope_error_mrad", "-0.01 | 201", false},
	{"[mirror]", "scatter_mrad", "-0.01 | 201", false},
	{"[mirror]", "uv_reflectance", "-0.01 | 1.01", false},
	{"[mirror]", "wind_limit_m_s", "0 | 101", false},
	{"[ground]", "albedo", "-0.01 | 1.01", false},
	{"[ground]", "field_depth_m", "-0.01 | 1e6", false},
	{"[designs]", "receiver_width_m", "0 | -1 | 101 | [] | {} | { from = 1, to = 2 }", false},
	{"[designs]", "mirror_length_m", "-1 | 101 | []", false},
	{"[designs]", "mirror_tilt_deg", "0 | 180 | 200 | -10 | []", false},
	{"[designs]", "setback_m", "-0.01 | 101 | []", false},
	{"[designs]", "raise_m", "-0.01 | 101 | []", false},
	{"[designs]", "row_pitch_m", "-1 | 0.9 | 1001 | []", false},
	{"[designs]", "row_length_m", "-1 | 2e6 | []", false},
	{"[designs]", "row_azimuth_deg", "-91 | 91 | []", false},
	{"[heat]", "outlet_c", "0 | 101 | []", false},
	{"[heat]", "inlet_c", "-1 | 61 | 101 | [30] | [30, 30, 30]", false},
	{"[heat]", "inlet_drop_k", "-1 | 46 | 101", false},
	{"[heat]", "delivered_share", "0 | 1.01", false},
	{"[[use]]", "name", "", true},
	{"[[use]]\nname = \"u\"", "months", "0 | 13 | 1.5 | []", false},
	{"[[use]]\nname = \"u\"", "season", `"spring"`, true},
	{"[[use]]\nname = \"u\"\nseason = \"cooling\"", "threshold", "-1", false},
	{"[[use]]\nname = \"u\"\nmonths = [1]", "demand", "-1 | [1, 2] | [0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0]", false},
	{"[cost]", "book", `"atlantis" | "../books/default"`, true},
	{"[cost]", "horizon_years", "0 | 101 | 2.5", false},
	{"[cost]", "discount_rate", "-0.01 | 1.01", false},
	{"[cost]", "fade", "-0.01 | 1", false},
	{"[cost]", "labour_per_h", "-1", false},
	{"[cost]", "site_receiver_m2", "-1 | 0", false}, // the book has items per site
	{"[cost]", "running_per_kwh", "-1", false},
	{"[[cost.item]]\nunit = \"row_m\"\nlife_years = 1", "name", "", true},
	{"[[cost.item]]\nname = \"i\"\nlife_years = 1", "unit", `"acre"`, true},
	{"[[cost.item]]\nname = \"i\"\nunit = \"row_m\"\nlife_years = 1", "price", "-1", false},
	{"[[cost.item]]\nname = \"i\"\nunit = \"row_m\"\nlife_years = 1", "labour_h", "-1", false},
	{"[[cost.item]]\nname = \"i\"\nunit = \"row_m\"", "life_years", "0 | 1001", false},
	{"[[cost.item]]\nname = \"i\"\nunit = \"row_m\"\nlife_years = 1", "running_per_year", "-1", false},
	{"[[cost.item]]\nname = \"i\"\nunit = \"row_m\"\nlife_years = 1", "film", `"green"`, true},
	{"[gas]", "price_per_kwh", "0 | -1", false},
	{"[gas]", "basis", `"net"`, true},
	{"[gas]", "boiler_efficiency", "0 | 1.21", false},
	{"[gas]", "boiler_running_per_kwh", "-1", false},
	{"[gas]", "carbon_price_per_kg", "-1", false},
	{"[wear]", "uv_share", "-0.01 | 1.01", false},
	{"[wear]", "clear_uv_transmitted", "-0.01 | 1.01", false},
	{"[wear]", "activation_kj_mol", "-1 | 501", false},
	{"[wear]", "reference_c", "-51 | 151", false},
	{"[wear]", "clear_uv_kwh_m2_year", "0 | 2e6", false},
	{"[wear]", "clear_warm_h_year", "0 | 2e6", false},
	{"[wear]", "black_uv_kwh_m2_year", "0 | 2e6", false},
	{"[wear]", "black_warm_h_year", "0 | 2e6", false},
	{"[wear]", "mirror_uv_kwh_m2_year", "0 | 2e6", false},
	{"[wear]", "mirror_warm_h_year", "0 | 2e6", false},
	{"[[use]]\nname = \"u\"\nseason = \"cooling\"", "base_c", "18 | 15.5", false},
	{"[[use]]\nname = \"u\"\nmonths = [1]", "demand_kwh_m2", "0 | -1", false},
	{"[spread]", "draws", "99 | 100001 | 100.5", false},
	{"[spread]", "eta0b_percent", "-1 | 51", false},
	{"[spread]", "c1_percent", "-1 | 51", false},
	{"[spread]", "reflectance_percent", "-1 | 51", false},
	{"[spread]", "irradiance_percent", "-1 | 51", false},
	{"[spread]", "gas_price_percent", "-1 | 51", false},
	{"[spread]", "price_correlation", "-0.01 | 1.01", false},
	{"[rank]", "by", `"beauty"`, true},
	{"[rank]\nby = \"heat\"", "cost_cap_per_kwh", "0 | -1", false},
	{"[map]", "band_deg", "0 | 91", false},
}

// path is the key with its table, as errors spell it.
func (e entry) path() string {
	header := ""
	for _, line := range strings.Split(e.before, "\n") {
		switch {
		case strings.HasPrefix(line, "[["):
			header = strings.Trim(line, "[]") + "[0]"
		case strings.HasPrefix(line, "["):
			header = strings.Trim(line, "[]")
		}
	}
	return header + "." + e.key
}

// Every key refuses values out of its range, of the wrong kind and not finite,
// in one line with the key and its place.
func TestRanges(t *testing.T) {
	for _, e := range entries {
		values := []string{"nan", "inf", "-inf", `"warm"`, "true", "1979-05-27"}
		if e.text {
			values = []string{"3", "nan", "true", "[]", "{}"}
		}
		if e.bad != "" {
			values = append(values, strings.Split(e.bad, " | ")...)
		}
		text := ""
		if e.before != "[designs]" {
			text = least
		}
		text += e.before + "\n"
		line := strings.Count(text, "\n") + 1
		for _, v := range values {
			name := e.path() + " = " + v
			faults := faultsOf(t, name, text+"  "+e.key+" = "+v+"\n")
			if len(faults) != 1 {
				t.Errorf("%s: %d faults, want 1:\n%v", name, len(faults), faults)
			}
			for _, f := range faults {
				if f.File != "s.toml" || f.Line != line || f.Column < 3 || !strings.Contains(f.Problem, e.path()) || strings.Contains(f.Problem, "\n") {
					t.Errorf("%s: %v, want s.toml:%d:3 or beyond and the key", name, f, line)
				}
			}
		}
	}
}

// The table above has every key that a study may have: every one that Load
// reports as resolved, and those it reads only when they are there.
func TestRangesHaveEveryKey(t *testing.T) {
	known := make(map[string]bool)
	for _, e := range entries {
		known[e.path()] = true
	}
	s, err := load(least + "[receiver]\neta0b = 0.8\nc1 = 6\niam = { films = [{ n = 1.5, kl = 0.1 }] }\n[[use]]\nname = \"u\"\nseason = \"heating\"\n")
	if err != nil {
		t.Fatal(err)
	}
	numbers := regexp.MustCompile(`\[\d+\]`)
	for _, set := range s.Settings {
		key := numbers.ReplaceAllString(set.Key, "[0]")
		key = strings.TrimSuffix(strings.TrimSuffix(key, ".low"), ".high") // TestFigures
		switch {
		case key == "designs", strings.HasPrefix(key, "receiver.iam.films[0]."): // the product; TestFaults
		case !known[key]:
			t.Errorf("no range of %s is tested", key)
		}
	}
}

// Faults with a place of their own, inside lists and inline tables.
func TestFaults(t *testing.T) {
	for _, tt := range []struct {
		name, text string
		want       []string // one for each fault, in order
	}{
		{"element of a list", "[designs]\nmirror_tilt_deg = [80, \"x\"]\n",
			[]string{`s.toml:2:24: designs.mirror_tilt_deg[1] = "x", want a number`}},
		{"element over several lines", "[heat]\noutlet_c = [40, # warm\n  120]\n" + least,
			[]string{"s.toml:3:3: heat.outlet_c[1] = 120, want above 0 and at most 100"}},
		{"step", "[designs]\nmirror_tilt_deg = { from = 60, to = 90, step = 0 }\n",
			[]string{"s.toml:2:41: designs.mirror_tilt_deg.step = 0, want above 0"}},
		{"to below from", "[designs]\nmirror_tilt_deg = { from = 60, to = 50, step = 5 }\n",
			[]string{"s.toml:2:32: designs.mirror_tilt_deg.to = 50, want at least from = 60"}},
		{"step missing", "[designs]\nmirror_tilt_deg = { from = 60, to = 90 }\n",
			[]string{"s.toml:2:1: designs.mirror_tilt_deg: step is missing, want {from, to, step}"}},
		{"film", least + "[receiver]\niam = { films = [{ n = 0.5, kl = 0.1 }] }\n",
			[]string{"s.toml:4:20: receiver.iam.films[0].n = 0.5, want 1 to 5"}},
		{"a preset that is none, read on", "[receiver]\npreset = \"glass\"\nnight = \"warm\"\niam = { b0 = 0.1 }\n" + least,
			[]string{`s.toml:2:1: receiver.preset = "glass", want "wet film"`, `s.toml:3:1: receiver.night = "warm", want "hold" or "drain"`}},
		{"area of a map", least + "[map]\nwithin = 3\n", []string{"s.toml:4:1: map.within = 3, want a text"}},
		{"area without a name", least + "[map]\nwithin = \"\"\n", []string{`s.toml:4:1: map.within = "", want the name of a GeoJSON file`}},
		{"film without kl", least + "[receiver]\niam = { films = [{ n = 1.5 }] }\n",
			[]string{"s.toml:4:18: receiver.iam.films[0]: kl is missing, want {n, kl}"}},
		{"two modifiers", least + "[receiver]\niam = { b0 = 0.1, films = [] }\n",
			[]string{"s.toml:4:1: receiver.iam: 2 of films, table and b0 given, want exactly one"}},
		{"not a table", "study = 3\n" + least, []string{"s.toml:1:1: study = 3, want a table"}},
		{"no designs", "[study]\nname = \"x\"\n", []string{"s.toml: no candidate designs: [designs] is missing"}},
		{"empty designs", "[study]\n[designs]\n", []string{"s.toml:2:2: no candidate designs: [designs] is empty"}},
		{"empty list", "[designs]\nmirror_tilt_deg = []\n",
			[]string{"s.toml:2:1: designs.mirror_tilt_deg = [], no candidate designs"}},
		{"several, in the order of the file", "[mirror]\nreflectance = 2\n[study]\nname = 4\n[designs]\nmirror_tilt_deg = 200\n",
			[]string{"s.toml:2:1: mirror.reflectance = 2, want 0 to 1", "s.toml:4:1: study.name = 4, want a text",
				"s.toml:6:1: designs.mirror_tilt_deg = 200, want between 0 and 180, both excluded"}},
		{"unknown keys, all of them", "title = 1\n[designs]\nmirror_tilt_deg = 80\nwindows = 2\n[[use]]\nname = \"u\"\nmonths = [1]\ncolour = 3\n[paint]\ncoats = 2\n[receiver]\nc9 = 1\niam = { b0 = 0.1, b1 = 2 }\n",
			[]string{"s.toml:1:1: unknown key title", "s.toml:4:1: unknown key designs.windows", "s.toml:8:1: unknown key use[0].colour",
				"s.toml:9:2: unknown key paint", "s.toml:12:1: unknown key receiver.c9", "s.toml:13:19: unknown key receiver.iam.b1"}},
		{"a slip of the pen", "[designs]\nmirror_tlit_deg = 80\nmirror_tilt_deg = 80\n",
			[]string{"s.toml:2:1: unknown key designs.mirror_tlit_deg: is mirror_tilt_deg meant?"}},
		{"a name in quotes", least + "\"receiver.c1\" = 3\n", []string{`s.toml:3:1: unknown key designs."receiver\x2ec1"`}},
		{"a key twice", "[designs]\nmirror_tilt_deg = 80\nmirror_tilt_deg = 81\n", []string{"s.toml:3:1: "}},
		{"inlet above one of the outlets", least + "[heat]\noutlet_c = [40, 60]\ninlet_c = [30, 65]\n",
			[]string{"s.toml:5:16: heat.inlet_c[1] = 65, want at most its outlet_c = 60"}},
		{"one inlet above an outlet", least + "[heat]\noutlet_c = [40, 60]\ninlet_c = 50\n",
			[]string{"s.toml:5:1: heat.inlet_c = 50, want at most its outlet_c = 40"}},
		{"as many inlets", least + "[heat]\noutlet_c = [40, 60]\ninlet_c = [30]\n",
			[]string{"s.toml:5:1: heat.inlet_c lists 1 temperatures, want one or as many as outlet_c, 2"}},
		{"inlet and drop", least + "[heat]\noutlet_c = 40\ninlet_c = 30\ninlet_drop_k = 5\n",
			[]string{"s.toml:6:1: heat.inlet_drop_k beside heat.inlet_c, want one of them"}},
		{"outlet twice", least + "[heat]\noutlet_c = [40, 40]\n", []string{"s.toml:4:17: heat.outlet_c lists 40 twice"}},
		{"use without a name", least + "[[use]]\nmonths = [1]\n", []string{"s.toml:3:3: use[0].name is missing"}},
		{"use of no time", least + "[[use]]\nname = \"u\"\n", []string{"s.toml:3:3: "}},
		{"use twice", least + "[[use]]\nname = \"u\"\nmonths = [1]\n[[use]]\nname = \"u\"\nmonths = [2]\n",
			[]string{`s.toml:7:1: use[1].name = "u", but use[0] has that name too`}},
		{"months beside season", least + "[[use]]\nname = \"u\"\nmonths = [1]\nseason = \"cooling\"\n",
			[]string{"s.toml:6:1: use[0].season beside use[0].months, want one of them"}},
		{"base without season", least + "[[use]]\nname = \"u\"\nmonths = [1]\nbase_c = 18.3\n", []string{"s.toml:6:1: use[0].base_c without use[0].season"}},
		{"another base", least + "[[use]]\nname = \"u\"\nseason = \"heating\"\nbase_c = 15.5\n", []string{"s.toml:6:1: use[0].base_c = 15.5, want 18.3: "}},
		{"use with no months", least + "[[use]]\nname = \"u\"\nmonths = []\n", []string{"s.toml:5:1: use[0].months = [], want at least one month"}},
		{"heat without a cap", least + "[rank]\nby = \"heat\"\n", []string{`s.toml:4:1: rank.by = "heat" without rank.cost_cap_per_kwh`}},
		{"a cap without heat", least + "[rank]\ncost_cap_per_kwh = 0.05\n", []string{`s.toml:4:1: rank.cost_cap_per_kwh beside rank.by = "lcoh"`}},
		{"month twice", least + "[[use]]\nname = \"u\"\nmonths = [1, 2, 1]\n", []string{"s.toml:5:17: use[0].months lists month 1 twice"}},
		{"threshold without season", least + "[[use]]\nname = \"u\"\nmonths = [1]\nthreshold = 3\n", []string{"s.toml:6:1: use[0].threshold without use[0].season"}},
		{"item without unit and life", least + "[[cost.item]]\nname = \"i\"\n",
			[]string{"s.toml:3:8: cost.item[0].unit is missing", "s.toml:3:8: cost.item[0].life_years is missing"}},
		{"ground without a pitch", least + "[[cost.item]]\nname = \"i\"\nunit = \"ground_m2\"\nlife_years = 1\n",
			[]string{"s.toml:5:1: cost.item[0].unit = \"ground_m2\", want another unit, or designs.row_pitch_m"}},
		{"prices in another money", "[study]\ncurrency = \"SEK\"\n" + least, []string{"s.toml:2:1: study.currency = \"SEK\", but the cost book default"}},
		{"not TOML", "[study\n" + least, []string{"s.toml:1:"}},
		{"no value", least + "setback_m =\n", []string{"s.toml:3:"}},
		{"empty", " \r\n\t", []string{"s.toml: empty file, want a study"}},
		{"only a mark of byte order", "\ufeff", []string{"s.toml: empty file, want a study"}},
		{"UTF-16", "\xff\xfe[\x00d\x00]\x00", []string{"s.toml:1:1: text is UTF-16, want UTF-8"}},
		{"binary", least + "\x00\x01", []string{"s.toml:3:1: byte 0, want a text file"}},
		{"Latin-1", least + "# r\xe9sum\xe9\n", []string{"s.toml:3:4: byte 0xe9, want UTF-8 text"}},
	} {
		faults := faultsOf(t, tt.name, tt.text)
		if len(faults) != len(tt.want) {
			t.Errorf("%s: %d faults, want %d:\n%v", tt.name, len(faults), len(tt.want), faults)
			continue
		}
		for i, f := range faults {
			if !strings.HasPrefix(f.Error(), tt.want[i]) {
				t.Errorf("%s:\n got %v\nwant %s", tt.name, f, tt.want[i])
			}
		}
	}
}

// Products and steps with no bound are refused by number, not by running out
// of memory.
func TestTooManyDesigns(t *testing.T) {
	hundred := "[" + strings.Repeat("0.1, ", 100) + "]"
	for _, tt := range []struct{ text, number string }{
		{"[designs]\nsetback_m = " + hundred + "\nraise_m = " + hundred + "\nmirror_tilt_deg = { from = 1, to = 101, step = 1 }\n", "1010000 candidates"},
		{"[designs]\nmirror_tilt_deg = { from = 1, to = 179, step = 1e-6 }\n", "178000001 values"},
		{"[designs]\nmirror_tilt_deg = { from = 1, to = 179, step = 1e-300 }\n", "values"},
	} {
		faults := faultsOf(t, tt.number, tt.text)
		if len(faults) != 1 || faults[0].Line == 0 || !strings.Contains(faults[0].Problem, tt.number) ||
			!strings.Contains(faults[0].Problem, fmt.Sprintf("want at most %d", MaxDesigns)) {
			t.Errorf("want %s and the limit: %v", tt.number, faults)
		}
	}
}
