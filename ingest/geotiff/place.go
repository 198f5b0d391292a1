package geotiff

import (
	"errors"
	"fmt"
	"math"
)

// Keys of tagGeoKeys and their values.
const (
	keyModel      = 1024
	keyRaster     = 1025
	keyGeographic = 2048
	keyMeridian   = 2051
	keyAngle      = 2054
	keyProjected  = 3072

	modelProjected  = 1
	modelGeographic = 2
	rasterPoint     = 2
	greenwich       = 8901
	degree          = 9102
	degreeSigned    = 9122 // degree (supplier to define representation)
	userDefined     = 32767
)

// keys reads the short ones; those that lie in other tags are left out.
func (d *directory) keys() (map[uint64]uint64, error) {
	list, err := d.wholes(tagGeoKeys)
	if err != nil || list == nil {
		return nil, err
	}
	if len(list) < 4 || uint64(len(list)-4)/4 < list[3] {
		return nil, fmt.Errorf("tag %d: %d numbers for its keys: damaged", tagGeoKeys, len(list))
	}
	keys := map[uint64]uint64{}
	for k := range list[3] {
		if e := list[4+4*k:]; e[1] == 0 {
			keys[e[0]] = e[3]
		}
	}
	return keys, nil
}

// locate finds the centres of the cells.
func (g *Raster) locate(d *directory) error {
	keys, err := d.keys()
	if err != nil {
		return err
	}
	if err := g.checkSystem(keys); err != nil {
		return err
	}
	x, y, err := axes(d)
	if err != nil {
		return err
	}
	// The axes count from the corner of the first cell, or from its centre.
	half := 0.5
	if keys[keyRaster] == rasterPoint {
		half = 0
	}
	g.Lon, g.Lat = make([]float64, g.Width), make([]float64, g.Height)
	for i := range g.Lon {
		g.Lon[i] = x.origin + (float64(i)+half)*x.step
	}
	for i := range g.Lat {
		g.Lat[i] = y.origin + (float64(i)+half)*y.step
	}
	west, east := g.Lon[0], g.Lon[g.Width-1]
	first, last := g.Lat[0], g.Lat[g.Height-1]
	const slack = 1e-6
	switch inside := min(first, last) >= -90-slack && max(first, last) <= 90+slack && west >= -360-slack && east <= 720+slack; {
	case !inside && len(keys) == 0:
		return fmt.Errorf("no coordinate system, and centres x %g to %g, y %g to %g are not degrees; a projected raster is brought to degrees by: gdalwarp -s_srs EPSG:CODE -t_srs EPSG:4326 %s out.tif",
			west, east, first, last, g.Name)
	case !inside:
		return fmt.Errorf("centres at longitudes %g to %g, latitudes %g to %g are not on the earth", west, east, first, last)
	case east-west > 360+slack:
		return fmt.Errorf("columns go round the earth more than once, from %g to %g", west, east)
	}
	if len(keys) == 0 {
		g.Warnings = append(g.Warnings, g.Name+": names no coordinate system; its coordinates are taken as degrees")
	}
	return nil
}

// checkSystem refuses coordinates that are not degrees from Greenwich. The
// geodetic systems in use differ by some hundred metres, less than weather does.
func (g *Raster) checkSystem(keys map[uint64]uint64) error {
	if len(keys) == 0 {
		return nil
	}
	model, given := keys[keyModel]
	_, projected := keys[keyProjected]
	switch {
	case model == modelProjected || !given && projected:
		code := "of its own definition"
		if c := keys[keyProjected]; c != 0 && c != userDefined {
			code = fmt.Sprintf("EPSG:%d", c)
		}
		return fmt.Errorf("projected coordinates (%s), want degrees; bring it to them by: gdalwarp -t_srs EPSG:4326 %s out.tif", code, g.Name)
	case given && model != modelGeographic:
		return fmt.Errorf("coordinates of model %d, want geographic ones in degrees; bring it to them by: gdalwarp -t_srs EPSG:4326 %s out.tif", model, g.Name)
	}
	if a, ok := keys[keyAngle]; ok && a != degree && a != degreeSigned {
		return fmt.Errorf("angles in EPSG unit %d, want degrees; bring it to them by: gdalwarp -t_srs EPSG:4326 %s out.tif", a, g.Name)
	}
	if m, ok := keys[keyMeridian]; ok && m != greenwich {
		return fmt.Errorf("longitudes from EPSG meridian %d, want Greenwich; bring it to them by: gdalwarp -t_srs EPSG:4326 %s out.tif", m, g.Name)
	}
	return nil
}

// An axis runs through the cells of a row or column.
type axis struct{ origin, step float64 }

// axes reads the georeference: a scale and the point it starts from, or a matrix.
func axes(d *directory) (x, y axis, err error) {
	matrix, err := d.floats(tagTransform)
	if err != nil {
		return x, y, err
	}
	scale, err := d.floats(tagPixelScale)
	if err != nil {
		return x, y, err
	}
	tie, err := d.floats(tagTiepoint)
	if err != nil {
		return x, y, err
	}
	switch {
	case len(scale) >= 2 && len(tie) >= 6:
		x.step, y.step = scale[0], -scale[1]
		x.origin, y.origin = tie[3]-tie[0]*x.step, tie[4]-tie[1]*y.step
	case len(matrix) >= 8:
		if matrix[1] != 0 || matrix[4] != 0 {
			return x, y, errors.New("a turned or sheared raster; bring it to rows of one latitude by: gdalwarp -t_srs EPSG:4326 in.tif out.tif")
		}
		x, y = axis{matrix[3], matrix[0]}, axis{matrix[7], matrix[5]}
	case len(tie) >= 12:
		return x, y, errors.New("placed by ground control points alone; bring it to rows of one latitude by: gdalwarp -t_srs EPSG:4326 in.tif out.tif")
	default:
		return x, y, errors.New("no georeference in it (neither scale and tie point nor matrix); give it one by: gdal_translate -a_srs EPSG:4326 -a_ullr WEST NORTH EAST SOUTH in.tif out.tif")
	}
	for _, v := range []float64{x.origin, x.step, y.origin, y.step} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return x, y, errors.New("the georeference is not finite: damaged")
		}
	}
	switch {
	case !(x.step > 0):
		return x, y, fmt.Errorf("columns of %g° from east to west, want west to east", x.step)
	case y.step == 0:
		return x, y, errors.New("rows of 0°")
	}
	return x, y, nil
}
