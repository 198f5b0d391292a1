package row

import (
	"fmt"
	"math"
	"strconv"
)

// PlaceID makes an id of a place that has no other: "33.8678S_151.2073E".
func PlaceID(lat, lon float64) string {
	return fmt.Sprintf("%s%s_%s%s", degrees(lat), letter(lat, "N", "S"), degrees(lon), letter(lon, "E", "W"))
}

// PlaceName names a place that has no other name: "33.8678° S, 151.2073° E".
func PlaceName(lat, lon float64) string {
	return fmt.Sprintf("%s° %s, %s° %s", degrees(lat), letter(lat, "N", "S"), degrees(lon), letter(lon, "E", "W"))
}

// degrees gives at most five decimals, a metre on the ground.
func degrees(v float64) string {
	return strconv.FormatFloat(math.Round(math.Abs(v)*1e5)/1e5, 'f', -1, 64)
}

func letter(v float64, positive, negative string) string {
	if v < 0 {
		return negative
	}
	return positive
}
