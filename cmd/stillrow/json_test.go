package main

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"stillrow/cmd/stillrow/study"
	"stillrow/data"
	"stillrow/ingest"
	"stillrow/rank"
	"stillrow/rank/cost"
	"stillrow/simulate"
	"stillrow/simulate/collector"
	"stillrow/simulate/result"
	"stillrow/simulate/sun"
)

// keys gives the keys of a JSON object, sorted.
func keys(t *testing.T, text string, path ...string) []string {
	t.Helper()
	var v any
	if err := json.Unmarshal([]byte(text), &v); err != nil {
		t.Fatalf("%v in %s", err, text)
	}
	for _, p := range path {
		if p == "0" {
			v = v.([]any)[0]
		} else {
			v = v.(map[string]any)[p]
		}
	}
	var list []string
	for k := range v.(map[string]any) {
		list = append(list, k)
	}
	slices.Sort(list)
	return list
}

// A heatResult is one of the results of site --json, as a reader of it would
// declare it.
type heatResult struct {
	Design   map[string]float64 `json:"design"`
	Outlet   float64            `json:"outlet_c"`
	Use      string             `json:"use"`
	Heat     float64            `json:"heat_kwh_m2"`
	Months   []float64          `json:"month_kwh_m2"`
	LCOH     *float64           `json:"lcoh_per_kwh"`
	Gas      float64            `json:"gas_heat_per_kwh"`
	Ratio    *float64           `json:"gas_ratio"`
	Split    []rank.Part        `json:"lcoh_split"`
	CO2      *float64           `json:"co2_avoided_kg_m2_year"`
	Cautions []string           `json:"cautions"`
}

func decode[T any](t *testing.T, r done) (v T) {
	t.Helper()
	if r.status != exitDone {
		t.Fatalf("status %d: %s", r.status, r.stderr)
	}
	if err := json.Unmarshal([]byte(r.stdout), &v); err != nil {
		t.Fatalf("%v in %s", err, r.stdout)
	}
	return v
}

// expectKeys wants exactly these keys in an object.
func expectKeys(t *testing.T, r done, want string, path ...string) {
	t.Helper()
	words := strings.Fields(want)
	slices.Sort(words)
	if got := keys(t, r.stdout, path...); !slices.Equal(got, words) {
		t.Errorf("%v: keys %v, want %v", path, got, words)
	}
}

// The optics command says to the last digit what the optics themselves give.
func TestOpticsJSON(t *testing.T) {
	path := write(t, filepath.Join(t.TempDir(), "study.toml"), testStudy+"[mirror]\nreflectance = 0.83\n")
	text := `{"mirror_tilt_deg":77.5,"mirror_length_m":1.3,"setback_m":0.07,"row_pitch_m":3.1}`
	r := stillrow(t, "optics", "--study", path, "--json", "--profile", "-5,0,12.25,37.5,90,150", "--design", text)
	expectKeys(t, r, "design rows d_sky d_gnd")
	expectKeys(t, r, "profile_deg f_dir f_mir f_spill path_m reflected_deg", "rows", "0")
	expectKeys(t, r, "receiver_width_m mirror_length_m mirror_tilt_deg setback_m raise_m row_pitch_m row_azimuth_deg", "design")
	got := decode[struct {
		Design map[string]float64   `json:"design"`
		Rows   []map[string]float64 `json:"rows"`
		Sky    float64              `json:"d_sky"`
		Ground float64              `json:"d_gnd"`
	}](t, r)
	s, err := study.Load(path, []byte(testStudy+"[mirror]\nreflectance = 0.83\n"), data.FS, study.DefaultBook)
	if err != nil {
		t.Fatal(err)
	}
	d := collector.Design{ReceiverWidth: 1, MirrorLength: 1.3, MirrorTilt: 77.5, Setback: 0.07, RowPitch: 3.1}
	section := collector.NewSection(d, s.Mirror)
	if sky, ground := section.Diffuse(); got.Sky != sky || got.Ground != ground {
		t.Errorf("diffuse %v and %v, want %v and %v", got.Sky, got.Ground, sky, ground)
	}
	angles := []float64{-5, 0, 12.25, 37.5, 90, 150}
	if len(got.Rows) != len(angles) {
		t.Fatalf("%d rows for %d angles", len(got.Rows), len(angles))
	}
	light := false
	for i, a := range angles {
		f := section.Factors(sun.Angle(a) * sun.Degree)
		want := map[string]float64{"profile_deg": a, "f_dir": f.Direct, "f_mir": f.Fmir, "f_spill": f.Spill, "path_m": f.Path, "reflected_deg": f.Nominal.Degrees()}
		if !maps.Equal(got.Rows[i], want) {
			t.Errorf("row %d: %v, want %v", i, got.Rows[i], want)
		}
		light = light || f.Fmir > 0
	}
	if !light {
		t.Error("the mirror sends nothing at any angle: the comparison shows nothing")
	}
	for name, v := range map[string]float64{"receiver_width_m": 1, "mirror_length_m": 1.3, "mirror_tilt_deg": 77.5, "setback_m": 0.07, "row_pitch_m": 3.1} {
		if got.Design[name] != v {
			t.Errorf("design: %s is %g, want %g", name, got.Design[name], v)
		}
	}
	// A single row has no pitch and no length; what --design leaves out is the
	// study's first candidate.
	r = stillrow(t, "optics", "--study", path, "--json", "--profile", "30")
	expectKeys(t, r, "receiver_width_m mirror_length_m mirror_tilt_deg setback_m raise_m row_azimuth_deg", "design")
	if !strings.Contains(r.stdout, `"mirror_tilt_deg": 70,`) {
		t.Errorf("want the study's first candidate: %s", r.stdout)
	}
}

// The worked case of Reda and Andreas, Solar position algorithm, NREL/TP-560-34302
// (2008), table A5.1: 39.872046° without refraction, 194.340241° from north.
func TestSunJSON(t *testing.T) {
	r := stillrow(t, "sun", "--json", "--at", "39.742476,-105.1786", "--time", "2003-10-17T12:30:30-07:00")
	expectKeys(t, r, "altitude_deg azimuth_deg profile_deg")
	got := decode[sunJSON](t, r)
	if math.Abs(got.Altitude-39.872046) > 0.01 || math.Abs(got.Azimuth-194.340241) > 0.02 {
		t.Errorf("%+v, want 39.872046° up and 194.340241°", got)
	}
	// The profile angle is atan(tan altitude / cos of the azimuth from the row's normal).
	const rad = math.Pi / 180
	if want := math.Atan2(math.Tan(got.Altitude*rad), math.Cos((got.Azimuth-180)*rad)) / rad; math.Abs(got.Profile-want) > 1e-9 {
		t.Errorf("profile %v°, want %v°", got.Profile, want)
	}
	where := sun.NewPlace(39.742476*sun.Degree, -105.1786*sun.Degree)
	v := where.Sun(sun.JulianDate(2003, 10, 17, 19+30./60+30./3600))
	if got.Altitude != v.Altitude().Degrees() || got.Azimuth != where.Azimuth(v).Degrees() {
		t.Errorf("%+v, want all the digits of %v and %v", got, v.Altitude().Degrees(), where.Azimuth(v).Degrees())
	}
	// In the south the equatorward horizon is the northern one.
	south := decode[sunJSON](t, stillrow(t, "sun", "--json", "--at", "-33.9,151.2", "--time", "2026-06-21T02:00:00Z"))
	if !(south.Profile > 0 && south.Profile < 90) || math.Cos(south.Azimuth*rad) < 0.99 {
		t.Errorf("over Sydney at noon: %+v", south)
	}
}

func TestCostJSON(t *testing.T) {
	path := write(t, filepath.Join(t.TempDir(), "study.toml"), testStudy)
	r := stillrow(t, "cost", "--study", path, "--heat", "412.5", "--json", "--design", `{"mirror_length_m":1.2}`)
	expectKeys(t, r, "lcoh_per_kwh pv_cost pv_heat_kwh cash_flow")
	expectKeys(t, r, "year cost heat_kwh", "cash_flow", "0")
	got := decode[cost.Levelised](t, r)
	s, err := study.Load(path, []byte(testStudy), data.FS, study.DefaultBook)
	if err != nil {
		t.Fatal(err)
	}
	d := result.Design(s.Designs[0])
	d.MirrorLength = 1.2
	want, err := s.Plan.Levelise(d, 412.5)
	if err != nil {
		t.Fatal(err)
	}
	if *got.LCOH != *want.LCOH || got.PVCost != want.PVCost || got.PVHeat != want.PVHeat || !slices.Equal(got.CashFlow, want.CashFlow) {
		t.Errorf("%+v, want all the digits of %+v", got, want)
	}
	// The flow, discounted by hand, gives the present values and their quotient.
	pvCost, pvHeat, before := 0.0, 0.0, math.Inf(-1)
	for _, p := range got.CashFlow {
		factor := math.Pow(1+s.Plan.DiscountRate, -p.Year)
		pvCost, pvHeat = pvCost+p.Cost*factor, pvHeat+p.Heat*factor
		if p.Year <= before {
			t.Errorf("year %g after %g", p.Year, before)
		}
		before = p.Year
	}
	last := got.CashFlow[len(got.CashFlow)-1]
	if last.Year != float64(s.Plan.HorizonYears) || last.Cost >= 0 {
		t.Errorf("last payment %+v, want a credit at the horizon", last)
	}
	for _, c := range [][2]float64{{pvCost, got.PVCost}, {pvHeat, got.PVHeat}, {pvCost / pvHeat, *got.LCOH}} {
		if math.Abs(c[0]-c[1]) > 1e-9*c[1] {
			t.Errorf("%v by the flow, %v as given", c[0], c[1])
		}
	}
}

// Site gives what ingest, simulate and rank give for the file, months unrounded.
func TestSiteJSON(t *testing.T) {
	dir := t.TempDir()
	good := write(t, filepath.Join(dir, "good.epw"), epwYear(nil))
	path := write(t, filepath.Join(dir, "study.toml"), testStudy)
	r := stillrow(t, "site", "--weather", good, "--study", path, "--json", "--all-designs")
	const resultKeys = "design outlet_c use heat_kwh_m2 month_kwh_m2 lcoh_per_kwh gas_heat_per_kwh gas_ratio buildable cautions " +
		"used_share breakeven_gas_price_per_kwh saving_per_m2_year payback_years co2_avoided_kg_m2_year lcoh_split runner_up lcoh_p10_per_kwh lcoh_p50_per_kwh lcoh_p90_per_kwh beats_gas_probability lcoh_spread_from_design_id"
	expectKeys(t, r, "site results")
	expectKeys(t, r, resultKeys, "results", "0")
	all := decode[struct{ Results []heatResult }](t, r).Results
	if len(all) != 4*2*2 {
		t.Fatalf("%d results, want 4 designs × 2 outlets × 2 uses", len(all))
	}

	// The file's place, 35° N 0° E, lies in Algeria.
	s, err := study.Load(path, []byte(testStudy), data.FS, "middle-east-north-africa/DZ")
	if err != nil {
		t.Fatal(err)
	}
	if where := decode[struct{ Site map[string]any }](t, r).Site; where["country"] != "DZ" || where["book"] != "middle-east-north-africa/DZ" {
		t.Errorf("country %v, book %v", where["country"], where["book"])
	}
	sources, err := ingest.Files([]string{good})
	if err != nil {
		t.Fatal(err)
	}
	raw, err := sources[0].Read(context.Background(), 0)
	if err != nil {
		t.Fatal(err)
	}
	site, year, _, err := ingest.One(raw, ingest.Closed)
	if err != nil {
		t.Fatal(err)
	}
	plan, err := simulate.Prepare(context.Background(), s.Simulation())
	if err != nil {
		t.Fatal(err)
	}
	block, err := plan.Site(site, year)
	if err != nil {
		t.Fatal(err)
	}
	table := plan.Table()
	cheapest := make(map[string]heatResult)
	for i, got := range all {
		d := i % 4 // candidates are numbered through the product, the last name fastest
		if got.Design["mirror_length_m"] != s.Designs[d].MirrorLength || got.Design["mirror_tilt_deg"] != s.Designs[d].MirrorTilt {
			t.Errorf("result %d is design %v, want %+v", i, got.Design, s.Designs[d])
		}
		o := slices.IndexFunc(s.Outlets, func(o collector.Outlet) bool { return o.Out == got.Outlet })
		window := 0.0
		for m, q := range block.Months(&table, o, d) {
			if got.Months[m] != float64(q) {
				t.Errorf("result %d, month %d: %v, want %v", i, m+1, got.Months[m], q)
			}
			if summer := m >= 5 && m <= 7; got.Use == "summer" && summer || got.Use == "winter" && site.HDD[m] > 10 {
				window += got.Months[m]
			}
		}
		if math.Abs(got.Heat-window) > 1e-12*window {
			t.Errorf("result %d: heat %v, the months of the use add up to %v", i, got.Heat, window)
		}
		if got.Gas != s.Gas.HeatCost() || got.LCOH == nil || got.Ratio == nil || *got.Ratio != *got.LCOH/got.Gas {
			t.Errorf("result %d: %+v", i, got)
			continue
		}
		sum := 0.0
		for _, p := range got.Split {
			sum += p.PerKWh
		}
		if math.Abs(sum-*got.LCOH) > 1e-12**got.LCOH || len(got.Split) < 5 {
			t.Errorf("result %d: the split adds up to %v, want %v: %v", i, sum, *got.LCOH, got.Split)
		}
		// Delivered, each kWh at the receiver saves the gas of IPCC 2006: 56.1 kg/GJ.
		delivered := got.Heat * s.Plan.DeliveredShare
		if most := delivered * 56.1 * 0.0036 / s.Gas.BoilerEfficiency; !(*got.CO2 <= most*(1+1e-12) && *got.CO2 > 0.8*most) {
			t.Errorf("result %d: %v kg of CO2 avoided, want %v less the fade", i, *got.CO2, most)
		}
		if len(got.Cautions) == 0 {
			t.Errorf("result %d has no cautions", i)
		}
		k := fmt.Sprint(got.Use, got.Outlet)
		if c, ok := cheapest[k]; !ok || *got.LCOH < *c.LCOH {
			cheapest[k] = got
		}
	}

	r = stillrow(t, "site", "--weather", good, "--study", path, "--json")
	expectKeys(t, r, resultKeys+" tornado", "results", "0")
	best := decode[struct{ Results []heatResult }](t, r).Results
	if len(best) != 4 {
		t.Fatalf("%d results, want one for each use and outlet", len(best))
	}
	for _, got := range best {
		if want := cheapest[fmt.Sprint(got.Use, got.Outlet)]; *got.LCOH != *want.LCOH || !maps.Equal(got.Design, want.Design) {
			t.Errorf("%s at %g °C: best %v at %v, the cheapest of all is %v at %v", got.Use, got.Outlet, got.Design, *got.LCOH, want.Design, *want.LCOH)
		}
	}
}

// No heat in the months of a use: no cost, no ratio, no design.
func TestNoHeatIsNull(t *testing.T) {
	dir := t.TempDir()
	good := write(t, filepath.Join(dir, "good.epw"), epwYear(nil))
	study := write(t, filepath.Join(dir, "study.toml"), strings.Replace(testStudy, "c1 = 7.0", "c1 = 70.0", 1))
	r := stillrow(t, "site", "--weather", good, "--study", study, "--json")
	for _, part := range []string{`"design": null`, `"lcoh_per_kwh": null`, `"gas_ratio": null`, `"heat_kwh_m2": 0`} {
		if r.status != exitDone || !strings.Contains(r.stdout, part) {
			t.Errorf("status %d, no %s in %s%s", r.status, part, r.stderr, r.stdout)
		}
	}
}

// An input that leaves no heat leaves no cost, which JSON has no number for.
func TestTornadoWithoutHeat(t *testing.T) {
	text, err := json.Marshal(tornadoBar{Input: "irradiance", AtLow: finite(math.Inf(1)), AtHigh: finite(2)})
	if err != nil || !strings.Contains(string(text), `"lcoh_at_low_per_kwh":null,"lcoh_at_high_per_kwh":2`) {
		t.Errorf("%s, %v", text, err)
	}
}

// The text of a site gives each caution once, as the design that calls for it
// most does: its glare and its frost are the greatest of the results.
func TestSiteTextWarnsOfTheWorst(t *testing.T) {
	empty := t.TempDir() // no earlier run's weather table
	r := stillrow(t, "site", "--quiet", "--at", "36.5,-42", "--out", empty)
	if r.status != exitDone || r.stderr != "" {
		t.Fatalf("status %d: %s", r.status, r.stderr)
	}
	type report struct{ Results []heatResult }
	all := decode[report](t, stillrow(t, "site", "--quiet", "--at", "36.5,-42", "--out", empty, "--json"))
	text := strings.Join(strings.Fields(strings.ReplaceAll(r.stdout, "\n- ", "\n")), " ")
	for topic, hours := range map[string]string{"Glare: ": "for about %f sunlit hours", "Frost: ": "for about %f h a year"} {
		worst, count := 0.0, 0
		for _, res := range all.Results {
			for _, c := range res.Cautions {
				var h float64
				if _, err := fmt.Sscanf(c, topic+hours, &h); err == nil {
					worst, count = max(worst, h), count+1
				}
			}
		}
		want := topic + strings.Replace(hours, "%f", fmt.Sprint(worst), 1)
		if count < 2 || !strings.Contains(text, want) || strings.Count(text, topic) != 1 {
			t.Errorf("%d results warn of %s; the text lacks %q", count, topic, want)
		}
	}
}
