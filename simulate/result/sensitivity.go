package result

// A Pick is a design at an outlet temperature, by their numbers in the Table.
type Pick struct{ Design, Outlet int }

// A Param is an input whose effect on heat is recorded.
type Param int

// The inputs. Irradiance is GHI, DNI and DHI alike, the bias of a source of
// weather; Reflectance is the mirror's as it stands in the field, cleanliness
// included.
const (
	Eta0b Param = iota
	C1
	Reflectance
	Irradiance
	Params
)

// String names a Param as the columns of SensitivityFile do.
func (p Param) String() string {
	return [Params]string{"eta0b", "c1", "reflectance", "irradiance"}[p]
}

// Steps are the relative changes of each Param that Low and High of a
// Sensitivity were simulated at: Low at 1 − step, High at 1 + step.
var Steps = [Params]float64{Eta0b: 0.05, C1: 0.25, Reflectance: 0.08, Irradiance: 0.08}

// A Sensitivity is the monthly heat of a pick with one input changed, kWh per
// m² of receiver. High is simulated at the whole step also where that takes an
// efficiency or a reflectance past 1: a point of the curve that no heater
// reaches. Whoever changes the input has to stop at 1.
type Sensitivity struct {
	Pick
	Low, High [Params][12]float32
}
