package cf

import (
	"slices"

	"stillrow/ingest/grid"
)

// pairWind keeps either the speed or both components of the wind, whichever is
// nearer to 10 m.
func (r *reader) pairWind() {
	find := func(q grid.Quantity) *grid.Field {
		if i := slices.IndexFunc(r.out.Fields, func(f grid.Field) bool { return f.Quantity == q }); i >= 0 {
			return &r.out.Fields[i]
		}
		return nil
	}
	speed, east, north := find(grid.Wind), find(grid.WindEast), find(grid.WindNorth)
	switch {
	case east == nil && north == nil:
	case east == nil || north == nil:
		r.drop("one component of the wind without the other; left", grid.WindEast, grid.WindNorth)
	case east.Height != north.Height:
		r.drop("components of the wind at different heights; left", grid.WindEast, grid.WindNorth)
	case speed == nil:
	case far(speed.Height, 10) <= far(east.Height, 10):
		r.drop("left for the wind speed", grid.WindEast, grid.WindNorth)
	default:
		r.drop("left for the components of the wind nearer to 10 m", grid.Wind)
	}
}

// drop takes fields out again, saying why.
func (r *reader) drop(why string, quantities ...grid.Quantity) {
	r.out.Fields = slices.DeleteFunc(r.out.Fields, func(f grid.Field) bool {
		gone := slices.Contains(quantities, f.Quantity)
		if gone {
			r.warn(f.Variable, "%s", why)
		}
		return gone
	})
}
