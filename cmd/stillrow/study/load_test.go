package study

import (
	"bytes"
	"io/fs"
	"math"
	"path"
	"reflect"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"stillrow/data"
	"stillrow/rank/cost"
	"stillrow/simulate/collector"
	"stillrow/simulate/film"
)

func mustLoad(t *testing.T, text string) *Study {
	t.Helper()
	s, err := load(text)
	if err != nil {
		t.Fatalf("%v in\n%s", err, text)
	}
	return s
}

// setting gives the resolved value of a key and its source.
func setting(t *testing.T, s *Study, key string) Setting {
	t.Helper()
	i := slices.IndexFunc(s.Settings, func(set Setting) bool { return set.Key == key })
	if i < 0 {
		t.Errorf("no setting %s", key)
		return Setting{}
	}
	return s.Settings[i]
}

// What the shortest study stands for.
func TestDefaults(t *testing.T) {
	s := mustLoad(t, least)
	want := collector.Design{ReceiverWidth: 1, MirrorLength: 1, MirrorTilt: 80}
	if len(s.Designs) != 1 || s.Designs[0] != want {
		t.Errorf("designs %+v, want %+v", s.Designs, want)
	}
	if want := []collector.Outlet{{In: 35, Out: 45}, {In: 50, Out: 60}}; !slices.Equal(s.Outlets, want) {
		t.Errorf("outlets %v, want %v", s.Outlets, want)
	}
	if want := (collector.Mirror{Reflectance: 0.8, Cleanliness: 0.95, SlopeError: 5, Scatter: 3, UVReflectance: 0.7, WindLimit: 15}); s.Mirror != want {
		t.Errorf("mirror %+v, want %+v", s.Mirror, want)
	}
	if s.Ground.Albedo != 0.2 || !math.IsNaN(s.Ground.FieldDepth) || s.BandDeg != 2 {
		t.Errorf("ground %+v, bands of %g°", s.Ground, s.BandDeg)
	}
	if len(s.Uses) != 1 || s.Uses[0].Name != "year" || slices.Contains(s.Uses[0].Months[:], false) {
		t.Errorf("uses %+v, want all twelve months", s.Uses)
	}
	preset, _, err := film.Preset(film.Names()[0])
	if err != nil {
		t.Fatal(err)
	}
	if s.Preset != film.Names()[0] || s.Receiver.Eta0b != preset.Eta0b || s.Receiver.C1 != preset.C1 || s.Receiver.Kd != preset.Kd {
		t.Errorf("receiver %q %+v, want the first preset %+v", s.Preset, s.Receiver, preset)
	}
	for key, source := range map[string]string{
		"designs.mirror_tilt_deg": "study", "designs.setback_m": "default", "mirror.reflectance": "default",
		"receiver.eta0b": "preset " + film.Names()[0], "cost.horizon_years": "book default.toml",
		"cost.item[0].price": "book default.toml", "gas.price_per_kwh": "book default.toml", "study.currency": "book default.toml",
	} {
		if got, _, _ := strings.Cut(setting(t, s, key).Source, ", assumption: "); got != source {
			t.Errorf("%s comes from %q, want %q", key, got, source)
		}
	}
}

// A receiver of its own coefficients has no losses but those stated, and the
// diffuse modifier follows from the beam's unless it is given.
func TestOwnReceiver(t *testing.T) {
	s := mustLoad(t, least+"[receiver]\neta0b = 0.8\nc1 = 6\niam = { b0 = 0.12 }\n")
	r := s.Receiver
	if s.Preset != "" || r.Eta0b != 0.8 || r.C1 != 6 || r.C2 != 0 || r.C3 != 0 || r.C4 != 0 || r.C5 != 0 || r.C6 != 0 || r.Night != collector.Hold {
		t.Errorf("preset %q, receiver %+v", s.Preset, r)
	}
	if want := collector.Diffuse(collector.B0(0.12)); r.Kd != want || setting(t, s, "receiver.kd").Source != "computed from receiver.iam" {
		t.Errorf("kd %v, want %v computed from the modifier", r.Kd, want)
	}
	if s := mustLoad(t, least+"[receiver]\neta0b = 0.8\nc1 = 6\nkd = 0.9\niam = { b0 = 0.12 }\n"); s.Receiver.Kd != 0.9 {
		t.Errorf("kd %v, want the study's 0.9", s.Receiver.Kd)
	}
	s = mustLoad(t, least+"[receiver]\npreset = \"two films\"\nc1 = 2.5\nnight = \"drain\"\n")
	preset, _, err := film.Preset("two films")
	if err != nil {
		t.Fatal(err)
	}
	if s.Receiver.C1 != 2.5 || s.Receiver.C2 != preset.C2 || s.Receiver.Night != collector.Drain {
		t.Errorf("a preset refined by one key: %+v", s.Receiver)
	}
}

// Steps are the numbers a person would write: from + i·step in decimals.
func TestSteps(t *testing.T) {
	for _, tt := range []struct {
		text string
		want []float64
	}{
		{"{ from = 0.1, to = 0.7, step = 0.1 }", []float64{0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7}},
		{"{ from = 0.9, to = 1.2, step = 0.05 }", []float64{0.9, 0.95, 1, 1.05, 1.1, 1.15, 1.2}},
		{"{ from = 10, to = 90, step = 40 }", []float64{10, 50, 90}},
		{"{ from = 50, to = 99, step = 25 }", []float64{50, 75}},
		{"{ from = 1.005, to = 1.035, step = 0.01 }", []float64{1.005, 1.015, 1.025, 1.035}},
		{"{ from = 2, to = 2, step = 1 }", []float64{2}},
		{"{ from = 2, to = 2.5, step = 1 }", []float64{2}},
		{"7", []float64{7}},
		{"[3, 1.5, 2]", []float64{3, 1.5, 2}}, // as written, not sorted
	} {
		s := mustLoad(t, "[designs]\nmirror_length_m = "+tt.text+"\n")
		var got []float64
		for _, d := range s.Designs {
			got = append(got, d.MirrorLength)
		}
		if !slices.Equal(got, tt.want) {
			t.Errorf("%s: %v, want %v", tt.text, got, tt.want)
		}
	}
}

// Candidates are numbered through the product W, L, β, b, r, P, ℓ, δ with the
// last fastest, whatever the order in which the file has them.
func TestOrderOfDesigns(t *testing.T) {
	s := mustLoad(t, `[designs]
row_azimuth_deg = [0, 5]
row_length_m = [50, 60]
row_pitch_m = [3, 4]
raise_m = [0, 0.1]
setback_m = [0, 0.2]
mirror_tilt_deg = [80, 90]
mirror_length_m = [1, 1.5]
receiver_width_m = [1, 1.2]
`)
	if len(s.Designs) != 256 {
		t.Fatalf("%d designs, want 2⁸", len(s.Designs))
	}
	values := [8][2]float64{{1, 1.2}, {1, 1.5}, {80, 90}, {0, 0.2}, {0, 0.1}, {3, 4}, {50, 60}, {0, 5}}
	for n, d := range s.Designs {
		bit := func(i int) float64 { return values[i][n>>(7-i)&1] }
		want := collector.Design{ReceiverWidth: bit(0), MirrorLength: bit(1), MirrorTilt: bit(2), Setback: bit(3),
			Raise: bit(4), RowPitch: bit(5), RowLength: bit(6), RowAzimuth: bit(7)}
		if d != want {
			t.Fatalf("design %d is %+v, want %+v", n, d, want)
		}
	}
}

func TestInlets(t *testing.T) {
	for _, tt := range []struct {
		text string
		want []collector.Outlet
	}{
		{"outlet_c = 45", []collector.Outlet{{In: 35, Out: 45}}},
		{"outlet_c = [60, 40]\ninlet_c = 30", []collector.Outlet{{In: 30, Out: 60}, {In: 30, Out: 40}}},
		{"outlet_c = [60, 40]\ninlet_c = [50, 20]", []collector.Outlet{{In: 50, Out: 60}, {In: 20, Out: 40}}},
		{"outlet_c = [60, 40]\ninlet_drop_k = 15", []collector.Outlet{{In: 45, Out: 60}, {In: 25, Out: 40}}},
		{"outlet_c = 40\ninlet_c = 40", []collector.Outlet{{In: 40, Out: 40}}},
	} {
		if s := mustLoad(t, least+"[heat]\n"+tt.text+"\n"); !slices.Equal(s.Outlets, tt.want) {
			t.Errorf("%s: %v, want %v", tt.text, s.Outlets, tt.want)
		}
	}
}

func TestUses(t *testing.T) {
	s := mustLoad(t, least+"[[use]]\nname = \"a\"\nmonths = [12, 1]\n[[use]]\nname = \"b\"\nseason = \"heating\"\n[[use]]\nname = \"c\"\ndemand = [1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 2.5]\n")
	if len(s.Uses) != 3 {
		t.Fatalf("%d uses", len(s.Uses))
	}
	if want := [12]bool{0: true, 11: true}; s.Uses[0].Months != want {
		t.Errorf("months %v, want December and January", s.Uses[0].Months)
	}
	if s.Uses[1].Season != "heating" || s.Uses[1].Threshold != 30 || s.Uses[1].Months != [12]bool{} {
		t.Errorf("season %+v", s.Uses[1])
	}
	if s.Uses[2].Demand != [12]float64{0: 1, 11: 2.5} {
		t.Errorf("demand %v", s.Uses[2].Demand)
	}
}

// books are two invented cost books; one leaves out what has a default.
var books = fstest.MapFS{
	"books/default.toml": {Data: []byte("[book]\nname = \"default\"\ncurrency = \"EUR\"\n[cost]\nhorizon_years = 10\ndiscount_rate = 0.05\nfade = 0\nlabour_per_h = 20\nsite_receiver_m2 = 100\n[[cost.item]]\nname = \"film\"\nunit = \"receiver_m2\"\nprice = 2\nlife_years = 3\nfilm = \"clear\"\n[[cost.item]]\nname = \"pump\"\nunit = \"site\"\nprice = 900\nlife_years = 9\n[gas]\nprice_per_kwh = 0.06\nbasis = \"hhv\"\nboiler_efficiency = 0.9\n")},
	"books/north.toml":   {Data: []byte("[book]\nname = \"north\"\ncurrency = \"NOK\"\n[cost]\nhorizon_years = 12\n[[cost.item]]\nname = \"film\"\nunit = \"receiver_m2\"\nprice = 25\nlife_years = 2\n[gas]\nprice_per_kwh = 0.7\nboiler_efficiency = 0.95\n")},
}

// The book fills what the study leaves out, key by key, but one item of the
// study replaces all of the book's; each value says where it came from.
func TestBookFills(t *testing.T) {
	loadBooks := func(text, otherwise string) *Study {
		t.Helper()
		s, err := Load("s.toml", []byte(text), books, otherwise)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	s := loadBooks(least+"[cost]\nhorizon_years = 15\n", DefaultBook)
	want := cost.Plan{
		Items: []cost.Item{
			{Name: "film", Unit: cost.ReceiverM2, Price: 2, LifeYears: 3, Film: cost.ClearFilm},
			{Name: "pump", Unit: cost.WholeSite, Price: 900, LifeYears: 9},
		},
		HorizonYears: 15, DiscountRate: 0.05, LabourPerH: 20, SiteReceiverM2: 100, DeliveredShare: 1,
	}
	if !reflect.DeepEqual(s.Plan, want) {
		t.Errorf("plan\n%+v, want\n%+v", s.Plan, want)
	}
	if want := (cost.Gas{PricePerKWh: 0.06, Basis: cost.HigherHeatingValue, BoilerEfficiency: 0.9}); s.Gas != want {
		t.Errorf("gas %+v, want %+v", s.Gas, want)
	}
	for key, source := range map[string]string{
		"cost.horizon_years": "study", "cost.discount_rate": "book default.toml", "cost.item[1].price": "book default.toml",
		"gas.boiler_efficiency": "book default.toml", "gas.basis": "book default.toml",
		"gas.carbon_price_per_kg": "default", // the book does not have it
	} {
		if got := setting(t, s, key).Source; got != source {
			t.Errorf("%s comes from %q, want %q", key, got, source)
		}
	}

	s = loadBooks(least+"[[cost.item]]\nname = \"all in one\"\nunit = \"mirror_m2\"\nprice = 5\nlabour_h = 0.5\nlife_years = 4\nrunning_per_year = 0.1\n[gas]\nprice_per_kwh = 0.05\n", DefaultBook)
	if len(s.Plan.Items) != 1 || s.Plan.Items[0] != (cost.Item{Name: "all in one", Unit: cost.MirrorM2, Price: 5, LabourH: 0.5, LifeYears: 4, RunningPerYear: 0.1}) {
		t.Errorf("items %+v, want the study's alone", s.Plan.Items)
	}
	if s.Gas.Basis != cost.LowerHeatingValue || setting(t, s, "gas.basis").Source != "default" {
		t.Errorf("gas price of the study on %q: the book's basis goes with the book's price", s.Gas.Basis)
	}
	if slices.ContainsFunc(s.Settings, func(set Setting) bool { return strings.HasPrefix(set.Key, "cost.item[1]") }) {
		t.Error("the settings list items of the book that the study replaced")
	}

	// The book of the place, and one the study names against it.
	if s := loadBooks(least, "north"); s.Plan.HorizonYears != 12 || s.Currency != "NOK" || setting(t, s, "cost.book").Source != "default" {
		t.Errorf("book of the place: %+v in %s", s.Plan, s.Currency)
	}
	if s := loadBooks(least+"[cost]\nbook = \"default\"\n", "north"); s.Currency != "EUR" || s.Plan.HorizonYears != 10 {
		t.Errorf("book of the study: %+v in %s", s.Plan, s.Currency)
	}
	if _, err := Load("s.toml", []byte(least+"[cost]\nbook = \"south\"\n"), books, DefaultBook); err == nil || err.Error() != `s.toml:4:1: cost.book = "south", want one of "default", "north"` {
		t.Errorf("a book that is not there: %v", err)
	}
}

// A book that prices another number of clear films than the receiver has makes
// heat look too cheap or too dear; prices of the study's own are its own affair.
func TestFilmsPriced(t *testing.T) {
	for _, tt := range []struct {
		name, text, otherwise, want string
	}{
		{"one film, two priced", least, DefaultBook, "too dear"},
		{"two films, two priced", least + "[receiver]\npreset = \"film over air gap\"\n", DefaultBook, ""},
		{"three films, two priced", least + "[receiver]\npreset = \"two films\"\n", DefaultBook, "too cheap"},
		{"two films on the island", least + "[receiver]\npreset = \"film over air gap\"\n", "halvane", ""},
		{"own items", least + "[receiver]\npreset = \"two films\"\n[[cost.item]]\nname = \"all\"\nunit = \"receiver_m2\"\nprice = 30\nlife_years = 5\n", DefaultBook, ""},
		{"own receiver", least + "[receiver]\neta0b = 0.8\nc1 = 6\nc5 = 5000\n", DefaultBook, ""},
	} {
		s, err := Load("s.toml", []byte(tt.text), data.FS, tt.otherwise)
		if err != nil {
			t.Fatalf("%s: %v", tt.name, err)
		}
		if got := strings.Join(s.Warnings, "\n"); (got == "") != (tt.want == "") || !strings.Contains(got, tt.want) {
			t.Errorf("%s: warned %q, want %q in it", tt.name, got, tt.want)
		}
	}
}

// Land of a book counts where the rows have a pitch, and the settings tell
// where it does not; land of the study's own is refused without one (TestFaults).
func TestLandOfABook(t *testing.T) {
	land := func(s *Study) bool {
		return slices.ContainsFunc(s.Plan.Items, func(it cost.Item) bool { return it.Unit == cost.GroundM2 })
	}
	s := mustLoad(t, least+"row_pitch_m = 3\n[receiver]\npreset = \"film over air gap\"\n")
	if !land(s) {
		t.Error("land does not count")
	}
	all := len(s.Plan.Items)
	s = mustLoad(t, least+"[receiver]\npreset = \"film over air gap\"\n")
	if land(s) || len(s.Plan.Items) != all-1 {
		t.Errorf("land counts: %v, %d items", land(s), len(s.Plan.Items))
	}
	told := 0
	for _, set := range s.Settings {
		if set.Value == "land" {
			t.Errorf("%s is noted, but does not count", set.Key)
		}
		if strings.Contains(set.Source, "land is left out: without designs.row_pitch_m") {
			told++
		}
	}
	if told != 1 {
		t.Errorf("told %d times that land is left out", told)
	}
}

// Electricity for the pumps: 0.005 kWh at 0.10 EUR in the default book, at the
// place's own price elsewhere, unless the study states what a kWh costs to run.
func TestPumping(t *testing.T) {
	for _, tt := range []struct {
		text, book string
		want, high float64
		source     string
	}{
		{"", DefaultBook, 0.0005, 0.0005 * math.Exp(math.Hypot(math.Log(1.6), math.Log(2.4))), "0.005 kWh of electricity at 0.1 EUR; book default.toml, assumption: kWh of pump"},
		{"[study]\ncurrency = \"EUR\"\n", "european-union/PT", 0.001, 0.001 * math.Exp(math.Hypot(math.Log(1.5), math.Log(2.4))), "0.005 kWh of electricity at 0.2 EUR; book default.toml, assumption: kWh of pump"},
		{"[cost]\nrunning_per_kwh = 0.004\n", DefaultBook, 0.004, 0, "study"},
		{"", "halvane", 0, 0, "default"},
	} {
		s, err := Load("s.toml", []byte(least+tt.text), data.FS, tt.book)
		if err != nil {
			t.Fatal(err)
		}
		got := setting(t, s, "cost.running_per_kwh")
		if math.Abs(s.Plan.RunningPerKWh-tt.want) > 1e-12 || math.Abs(s.Plan.RunningRange.High-tt.high) > 1e-12 || !strings.HasPrefix(got.Source, tt.source) {
			t.Errorf("%s: %v up to %v from %q", tt.book, s.Plan.RunningPerKWh, s.Plan.RunningRange.High, got.Source)
		}
	}
}

// The same study in any of the ways editors save text.
func TestEncodings(t *testing.T) {
	text, err := data.FS.ReadFile("halvane/study.toml")
	if err != nil {
		t.Fatal(err)
	}
	want := mustLoad(t, string(text))
	for name, saved := range map[string][]byte{
		"mark of byte order": append([]byte("\ufeff"), text...),
		"CRLF":               bytes.ReplaceAll(text, []byte("\n"), []byte("\r\n")),
		"no last newline":    bytes.TrimRight(text, "\n"),
	} {
		got := mustLoad(t, string(saved))
		if !slices.Equal(got.Designs, want.Designs) || !slices.Equal(got.Outlets, want.Outlets) || !reflect.DeepEqual(got.Plan, want.Plan) ||
			len(got.Settings) != len(want.Settings) {
			t.Errorf("%s: another study", name)
		}
	}
	// Places count lines and columns of the file as saved.
	if _, err := load("\ufeff[designs]\r\n\r\nmirror_tilt_deg = 200\r\n"); err == nil || !strings.HasPrefix(err.Error(), "s.toml:3:1: designs.mirror_tilt_deg = 200") {
		t.Errorf("place after CRLF: %v", err)
	}
}

// The embedded books fill every figure of cost and gas.
func TestEmbeddedBooks(t *testing.T) {
	paths, err := fs.Glob(data.FS, "books/*.toml")
	if err != nil || len(paths) < 3 {
		t.Fatalf("books %v, %v", paths, err)
	}
	for _, p := range paths {
		name := strings.TrimSuffix(path.Base(p), ".toml")
		s, err := Load("s.toml", []byte(least), data.FS, name)
		if err != nil {
			t.Fatal(err)
		}
		for _, key := range []string{"cost.horizon_years", "cost.discount_rate", "cost.fade", "cost.labour_per_h", "cost.site_receiver_m2",
			"gas.price_per_kwh", "gas.basis", "gas.boiler_efficiency", "gas.boiler_running_per_kwh", "gas.carbon_price_per_kg"} {
			if got := setting(t, s, key).Source; !strings.HasPrefix(got, "book ") {
				t.Errorf("%s: %s comes from %q", name, key, got)
			}
		}
		if len(s.Plan.Items) == 0 || s.Gas.PricePerKWh <= 0 {
			t.Errorf("%s: %d items, gas at %g", name, len(s.Plan.Items), s.Gas.PricePerKWh)
		}
	}
}
