package film

import (
	"math"

	"stillrow/simulate/collector"
	"stillrow/simulate/sun"
)

// Refractive indices in sunlight.
const (
	airIndex   = 1
	waterIndex = 1.333 // handbook value at 589 nm, 20 °C
)

// Transmittance gives the share of unpolarised light, at incidence angle theta
// in air, that passes the clear films into the water.
func (s *Stack) Transmittance(theta sun.Angle) float64 {
	into, _ := s.light(theta)
	return into
}

// light gives the share of light at incidence angle theta that enters the
// water and the share absorbed by the film lying on it: multiple reflections
// within and between the films, each polarisation carried apart through the
// stack. Source: as collector.FilmStack, with water below the last film.
func (s *Stack) light(theta sun.Angle) (into, absorbed float64) {
	if theta.Degrees() >= 90 {
		return 0, 0
	}
	for _, pol := range []polarisation{perpendicular, parallel} {
		t, back := 1.0, 0.0 // of the films so far; back: reflectance seen from below
		for i, c := range s.Clear {
			last := i == len(s.Clear)-1
			below := float64(airIndex)
			if last {
				below = waterIndex
			}
			ft, top, bottom := c.slab(math.Sin(float64(theta)), pol, below)
			between := 1 / (1 - back*top)
			if last {
				absorbed += t * between * (1 - ft - top) / 2
			}
			t, back = t*between*ft, bottom+ft*ft*back*between
		}
		into += t / 2
	}
	return into, absorbed
}

type polarisation int

const (
	perpendicular polarisation = iota // to the plane of incidence
	parallel
)

// slab gives the film's transmittance, the same in both directions, and its
// reflectance seen from above and from below, with air above and a medium of
// index n below. sin is the sine of the incidence angle in air.
func (c Clear) slab(sin float64, pol polarisation, n float64) (t, top, bottom float64) {
	upper := face(airIndex, c.N, sin, pol)
	lower := face(c.N, n, sin, pol)
	a := math.Exp(-c.KL / cosIn(c.N, sin))
	inside := 1 / (1 - upper*lower*a*a)
	t = (1 - upper) * (1 - lower) * a * inside
	top = upper + (1-upper)*(1-upper)*a*a*lower*inside
	bottom = lower + (1-lower)*(1-lower)*a*a*upper*inside
	return t, top, bottom
}

// face gives Fresnel's reflectance of the face between media of index n1 and
// n2 for light whose incidence angle in air has the given sine.
func face(n1, n2, sin float64, pol polarisation) float64 {
	c1, c2 := cosIn(n1, sin), cosIn(n2, sin)
	if pol == parallel {
		c1, c2 = c2, c1
	}
	r := (n1*c1 - n2*c2) / (n1*c1 + n2*c2)
	return r * r
}

// cosIn gives the cosine of the refracted angle in a medium of index n.
func cosIn(n, sin float64) float64 { return math.Sqrt(1 - sin*sin/(n*n)) }

// optics is a stack's optical side: as an IAM, the share of light that becomes
// heat in the water over that share at normal incidence.
type optics struct {
	stack  *Stack
	kept   float64 // share of the light in the water that becomes heat there
	normal float64 // gain at normal incidence
}

// optics prepares the modifier. Light that the black film does not absorb is
// reflected diffusely. By reciprocity the share of diffuse light in the water
// that the films let out is their transmittance for diffuse light falling in,
// over the square of the water's index; the rest, mostly totally reflected,
// meets the black film again.
// Source: Duffie and Beckman 2013, section 5.5; Snell's law for the square.
func (s *Stack) optics() optics {
	o := optics{stack: s, kept: 1, normal: 1}
	escape := collector.Diffuse(transmittance{s}) / (waterIndex * waterIndex)
	alpha := s.Black.Absorptance
	o.kept = alpha / (1 - (1-alpha)*(1-escape))
	o.normal = o.gain(0)
	return o
}

// gain gives the share of light falling on clean films at theta that becomes
// heat in the water.
func (o optics) gain(theta sun.Angle) float64 {
	into, absorbed := o.stack.light(theta)
	return into*o.kept + absorbed
}

// At gives the modifier at incidence angle theta.
func (o optics) At(theta sun.Angle) float64 { return o.gain(theta) / o.normal }

// transmittance lets collector.Diffuse average a stack's transmittance.
type transmittance struct{ *Stack }

func (t transmittance) At(theta sun.Angle) float64 { return t.Transmittance(theta) }
