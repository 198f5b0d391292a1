package data_test

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"stillrow/cmd/stillrow/study"
	"stillrow/data"
)

const studyFile = "halvane/study.toml"

// keys are what a study may say, without the alternatives within receiver.iam.
var keys = map[string]string{
	"study": "name currency",
	"receiver": "preset eta0b iam kd c1 c2 c3 c4 c5 c6 water_depth_m wind_factor night frost_lock_c " +
		"softening_clear_c softening_black_c foam_limit_c",
	"mirror": "reflectance cleanliness slope_error_mrad scatter_mrad uv_reflectance wind_limit_m_s",
	"ground": "albedo field_depth_m",
	"designs": "receiver_width_m mirror_length_m mirror_tilt_deg setback_m raise_m row_pitch_m row_length_m " +
		"row_azimuth_deg",
	"heat": "outlet_c inlet_c inlet_drop_k delivered_share",
	"use":  "name months season threshold base_c demand demand_kwh_m2",
	"wear": "uv_share clear_uv_transmitted activation_kj_mol reference_c clear_uv_kwh_m2_year clear_warm_h_year " +
		"black_uv_kwh_m2_year black_warm_h_year mirror_uv_kwh_m2_year mirror_warm_h_year",
	"cost":      "book horizon_years discount_rate fade labour_per_h site_receiver_m2 running_per_kwh",
	"cost.item": "name unit price labour_h life_years running_per_year film",
	"gas":       "price_per_kwh basis boiler_efficiency boiler_running_per_kwh carbon_price_per_kg",
	"spread": "draws eta0b_percent c1_percent reflectance_percent irradiance_percent gas_price_percent " +
		"price_correlation",
	"rank": "by cost_cap_per_kwh",
	"map":  "band_deg within",
}

var (
	tableLine = regexp.MustCompile(`^(# )?\[+([a-z._]+)\]+`)
	keyLine   = regexp.MustCompile(`^(# )?([a-z0-9_]+) = `)
)

func readStudy(t *testing.T) []string {
	t.Helper()
	text, err := data.FS.ReadFile(studyFile)
	if err != nil {
		t.Fatal(err)
	}
	return strings.Split(string(text), "\n")
}

// The study that "example study" prints shows every key there is.
func TestStudyShowsEveryKey(t *testing.T) {
	shown := map[string][]string{}
	table := ""
	for _, line := range readStudy(t) {
		if m := tableLine.FindStringSubmatch(line); m != nil {
			table = m[2]
		} else if m := keyLine.FindStringSubmatch(line); m != nil && !slices.Contains(shown[table], m[2]) {
			shown[table] = append(shown[table], m[2])
		}
	}
	for table, names := range keys {
		want := strings.Fields(names)
		for _, name := range want {
			if !slices.Contains(shown[table], name) {
				t.Errorf("[%s] %s is not shown", table, name)
			}
		}
		for _, name := range shown[table] {
			if !slices.Contains(want, name) {
				t.Errorf("[%s] %s is shown, but no key of the table", table, name)
			}
		}
	}
}

// Whoever takes the "#" off a key gets a study that works: each is tried by
// itself, an alternative in place of what it is one for.
func TestStudyKeysCanBeUsed(t *testing.T) {
	lines := readStudy(t)
	instead := map[string]string{"inlet_c": "inlet_drop_k", "season": "months"}
	tried := 0
	for i, line := range lines {
		if !strings.HasPrefix(line, "# ") {
			continue
		}
		edited := slices.Clone(lines)
		open := func(j int) { edited[j] = strings.TrimPrefix(lines[j], "# ") }
		table := tableLine.FindStringSubmatch(line)
		key := keyLine.FindStringSubmatch(line)
		switch {
		case table != nil: // with all its keys
			for j := i; strings.HasPrefix(lines[j], "# "); j++ {
				open(j)
			}
		case key == nil || inBlock(lines, i):
			continue
		case key[2] == "threshold", key[2] == "base_c": // go with the season above them
			continue
		default:
			open(i)
			if key[2] == "season" {
				open(i + 1)
			}
			for j := i - 1; j >= 0 && !tableLine.MatchString(lines[j]); j-- {
				if key[2] == "cost_cap_per_kwh" { // goes with a measure of its own
					edited[j] = strings.Replace(edited[j], `by = "lcoh"`, `by = "heat"`, 1)
				}
				if other := instead[key[2]]; other != "" && strings.HasPrefix(lines[j], other+" = ") {
					edited[j] = ""
				}
			}
		}
		tried++
		if _, err := study.Load(studyFile, []byte(strings.Join(edited, "\n")), data.FS, "halvane"); err != nil {
			t.Errorf("with line %d, %q: %v", i+1, line, err)
		}
	}
	if tried < 30 {
		t.Errorf("only %d keys tried", tried)
	}
}

// inBlock tells whether line i belongs to a table that is itself a comment.
func inBlock(lines []string, i int) bool {
	for ; i >= 0 && strings.HasPrefix(lines[i], "# "); i-- {
		if tableLine.MatchString(lines[i]) {
			return true
		}
	}
	return false
}

func TestStudyOfTheDemo(t *testing.T) {
	s, err := study.Load(studyFile, []byte(strings.Join(readStudy(t), "\n")), data.FS, "halvane")
	if err != nil {
		t.Fatal(err)
	}
	if n := len(s.Designs); n < 60 || n > 100 {
		t.Errorf("%d designs, want 60 to 100", n)
	}
	if len(s.Outlets) != 4 || len(s.Uses) != 3 {
		t.Errorf("%d outlets, %d uses, want 4 and 3", len(s.Outlets), len(s.Uses))
	}
}
