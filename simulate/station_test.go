package simulate_test

import (
	"context"
	"math"
	"path/filepath"
	"testing"

	"stillrow/ingest/weather/realfiles"
	"stillrow/simulate"
	"stillrow/simulate/collector"
)

// A year of a real station, hour by hour: no value that is no number, the water
// within the bounds of earth, the energy balanced to 1e-6, light only from what
// falls on receiver and mirror, and the run's heat that of the steps in double
// precision.
func TestStationHours(t *testing.T) {
	var paths []string
	for _, pattern := range []string{"epw/*.epw", "tmy3csv/*.tmy3"} {
		found, err := filepath.Glob(filepath.Join(realfiles.Path(t, filepath.Dir(pattern)), filepath.Base(pattern)))
		if err != nil {
			t.Fatal(err)
		}
		paths = append(paths, found...)
	}
	if len(paths) < 13 {
		t.Fatalf("%d stations with a whole year, want 13 or more", len(paths))
	}
	r := preset(t, "film over air gap")
	designs := []collector.Design{
		{ReceiverWidth: 1, MirrorTilt: 90},
		{ReceiverWidth: 1, MirrorLength: 1, MirrorTilt: 70, RowPitch: 3},
		{ReceiverWidth: 1, MirrorLength: 1.5, MirrorTilt: 110, Setback: .1, Raise: .2, RowLength: 40},
	}
	const albedo = .2
	plan, err := simulate.Prepare(context.Background(), simulate.Options{
		Designs: designs, Receiver: r, Mirror: filmMirror, Ground: collector.Ground{Albedo: albedo, FieldDepth: math.NaN()},
		Outlets: []collector.Outlet{{In: 25, Out: 35}},
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range paths {
		s, y := station(t, path)
		for d, design := range designs {
			steps, err := plan.Hourly(s, y, d, 0)
			if err != nil {
				t.Fatal(err)
			}
			sinT, cosT := math.Sincos(design.MirrorTilt * math.Pi / 180)
			var falls, absorbed, delivered, kernel, balance float64
			for st := range steps {
				for _, v := range []float64{st.Absorbed, st.After.T, st.Ledger.Delivered, st.Ledger.Lost, st.KernelHeat} {
					if math.IsNaN(v) || math.IsInf(v, 0) {
						t.Fatalf("%s, design %d, hour %d: %+v", s.Name, d, st.Hour, st.Ledger)
					}
				}
				if st.After.T < -60 || st.After.T > 120 || st.Absorbed < 0 || st.Ledger.Delivered < 0 {
					t.Fatalf("%s, design %d, hour %d: %.1f °C, absorbed %.1f, delivered %.1f", s.Name, d, st.Hour, st.After.T, st.Absorbed, st.Ledger.Delivered)
				}
				if st.Sky.Fraction == 0 && st.Absorbed > r.Eta0b*(st.DHI+st.Air.GHI) {
					t.Fatalf("%s, design %d, hour %d: absorbs %.1f W/m² of a sun that is down", s.Name, d, st.Hour, st.Absorbed)
				}
				var receiver, mirror float64
				for _, ray := range st.Light.Rays {
					sin, cos := math.Sincos(float64(ray.Psi))
					receiver += ray.DNI * ray.S2 * sin
					mirror += ray.DNI * ray.S2 * max(0, sin*cosT+cos*sinT)
				}
				diffuse := st.Light.Isotropic
				falls += receiver + diffuse + filmMirror.Rho()*design.MirrorLength*(mirror+diffuse+st.Light.Ground)
				absorbed += st.Absorbed
				delivered += st.Ledger.Delivered
				kernel += st.KernelHeat
				balance += st.Ledger.Balance()
			}
			if !(delivered > 0 && delivered < absorbed && absorbed < r.Eta0b*falls) {
				t.Errorf("%s, design %d: delivers %.0f of %.0f Wh/m² absorbed, where %.0f fall", s.Name, d, delivered, absorbed, falls)
			}
			if math.Abs(balance) > 1e-6*absorbed {
				t.Errorf("%s, design %d: balance off by %.2g of the light absorbed", s.Name, d, balance/absorbed)
			}
			if math.Abs(kernel-delivered) > .005*delivered {
				t.Errorf("%s, design %d: the run delivers %.0f, the steps %.0f Wh/m²", s.Name, d, kernel, delivered)
			}
		}
	}
}
