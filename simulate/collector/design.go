package collector

import (
	"fmt"
	"math"
)

// A Design is the section of one heater: a horizontal receiver and a flat
// mirror poleward of it. Lengths in m, angles in degrees as in the study file.
type Design struct {
	ReceiverWidth float64 `json:"receiver_width_m"`       // W
	MirrorLength  float64 `json:"mirror_length_m"`        // L, slant; 0 is no mirror
	MirrorTilt    float64 `json:"mirror_tilt_deg"`        // β, 90 is vertical, above 90 overhangs the receiver
	Setback       float64 `json:"setback_m"`              // b, gap from receiver to the mirror's foot
	Raise         float64 `json:"raise_m"`                // r, height of the mirror's foot
	RowPitch      float64 `json:"row_pitch_m,omitempty"`  // P; 0 is a single row
	RowLength     float64 `json:"row_length_m,omitempty"` // ℓ; 0 is endless
	RowAzimuth    float64 `json:"row_azimuth_deg"`        // δ, turn of the equatorward normal, + towards west
}

// Validate returns an error that names the first field out of range, as the
// study file spells it, and its value.
func (d Design) Validate() error {
	for _, c := range []struct {
		name   string
		v      float64
		ok     bool
		within string
	}{
		{"receiver_width_m", d.ReceiverWidth, d.ReceiverWidth > 0 && d.ReceiverWidth <= 100, "above 0 and at most 100"},
		{"mirror_length_m", d.MirrorLength, d.MirrorLength >= 0 && d.MirrorLength <= 100, "0 to 100"},
		{"mirror_tilt_deg", d.MirrorTilt, d.MirrorTilt > 0 && d.MirrorTilt < 180, "between 0 and 180, both excluded"},
		{"setback_m", d.Setback, d.Setback >= 0 && d.Setback <= 100, "0 to 100"},
		{"raise_m", d.Raise, d.Raise >= 0 && d.Raise <= 100, "0 to 100"},
		{"row_pitch_m", d.RowPitch, d.RowPitch == 0 || d.RowPitch > d.ReceiverWidth+d.Setback && d.RowPitch <= 1000, "above receiver_width_m + setback_m and at most 1000"},
		{"row_length_m", d.RowLength, d.RowLength >= 0 && d.RowLength <= 1e6, "0 to 1000000"},
		{"row_azimuth_deg", d.RowAzimuth, math.Abs(d.RowAzimuth) <= 90, "-90 to 90"},
	} {
		if !c.ok { // NaN fails every comparison and lands here too
			return fmt.Errorf("%s = %g, want %s", c.name, c.v, c.within)
		}
	}
	return nil
}
