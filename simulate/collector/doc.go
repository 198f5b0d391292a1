// Package collector is the physics of one heater: the optics of a section of
// receiver and mirror, the receiver's heat balance within the hour, and the
// tables and forcings the kernel runs on. It opens no file and knows no site.
//
// The section plane has x pointing poleward and z up. The receiver lies on
// z = 0 from x = 0, its equatorward edge, to x = W; the mirror's foot is at
// (W+b, r). Directions in the plane are angles g from the x axis towards z, so
// that 180° < g < 360° points down. The profile angle ψ of the sun is 0 at the
// equatorward horizon and 90° overhead: sunlight travels along (cos ψ, −sin ψ).
//
// Irradiance is in W/m², heat per m² of receiver, temperature in °C.
package collector
