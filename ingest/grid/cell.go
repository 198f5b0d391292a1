package grid

import (
	"context"
	"math"
	"strconv"
	"strings"

	"stillrow/ingest/series"
	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
)

// Len is how many cells the band has.
func (b *Band) Len() int { return len(b.cells) }

// ID is the identifier of cell i.
func (b *Band) ID(i int) string { return b.region.id(b.cells[i]) }

func (r *Region) id(c Cell) string { return cellID(r.Lat[c.Row], r.Lon[c.Col]) }

// Empty tells whether cell i has no irradiance or no air temperature in any
// record: sea, land or what else the data set leaves out.
func (b *Band) Empty(i int) bool {
	for _, j := range b.region.needs() {
		if !some(b.column(j.quantity, i)) {
			return true
		}
	}
	return false
}

func some(v []float32) bool {
	for _, x := range v {
		if x == x {
			return true
		}
	}
	return false
}

// column gives all records of a quantity at cell i, in the band's memory; nil
// where the region has none.
func (b *Band) column(q Quantity, i int) []float32 {
	for _, f := range b.fields {
		if f.quantity == q {
			return b.values[f.at+i*f.records:][:f.records:f.records]
		}
	}
	return nil
}

// Series gives the records of cell i, hours or nearly so. Its values lie in the
// band's memory, which the next Load uses again.
func (b *Band) Series(i int, ground *Ground) *series.Series {
	r := b.region
	s := &series.Series{Site: r.site(b.cells[i], ground), Local: r.local, Independent: r.independent()}
	if s.Local {
		s.Site.UTCOffset = math.Round(s.Site.Lon/15) + 0 // of −0 too
	}
	for q, to := range map[Quantity]*series.Column{
		GHI: &s.GHI, DNI: &s.DNI, DHI: &s.DHI, DirectHorizontal: &s.DirectHorizontal,
		AirTemperature: &s.AirTemperature, DewPoint: &s.DewPoint, RelHumidity: &s.RelHumidity,
		SpecificHumidity: &s.SpecificHumidity, VapourPressure: &s.VapourPressure, Pressure: &s.Pressure,
		SkyInfrared: &s.SkyInfrared, TotalCloud: &s.TotalCloud, Snow: &s.Snow,
		Wind: &s.Wind, WindEast: &s.WindEast, WindNorth: &s.WindNorth,
	} {
		if v := b.column(q, i); v != nil && some(v) {
			*to = series.Column{Axis: r.fields[q].axis, Values: v}
		}
	}
	s.WindHeight = r.windHeight()
	if ground.heights == nil && s.Pressure.Axis != nil {
		s.Site.Elevation = sky.Height(mean(s.Pressure.Values))
		s.Site.Flags[0] = FlagHeightFromPressure
	}
	return s
}

// Flags of a cell's site; package repair says what they mean.
const (
	FlagHeightAbsent       = "elevation_absent"
	FlagHeightFromPressure = "elevation_from_pressure"
	FlagStampFound         = "stamp_found_by_noon"
	FlagStampGiven         = "stamp_given"
)

func (r *Region) windHeight() float64 {
	for _, q := range []Quantity{Wind, WindEast} {
		if j := r.fields[q]; j != nil {
			return j.parts[0].field.Height
		}
	}
	return 0
}

// site names a cell and its place.
func (r *Region) site(c Cell, ground *Ground) weather.Site {
	lat, lon := r.Lat[c.Row], r.Lon[c.Col]
	edgeLat, edgeLon := r.edges(c)
	s := weather.Site{
		ID: cellID(lat, lon), Name: cellName(lat, lon), Lat: lat, Lon: lon,
		Source: r.source(), Kind: weather.KindGrid, CellDeg: edgeLat * ground.every, CellLonDeg: edgeLon * ground.every,
	}
	if ground.heights == nil {
		s.Flags = []string{FlagHeightAbsent}
	} else if h := ground.heights[c.Row*len(r.Lon)+c.Col]; h == h {
		s.Elevation = float64(h)
	} else {
		s.Flags = []string{FlagHeightAbsent}
	}
	if r.stampFlag != "" {
		s.Flags = append(s.Flags, r.stampFlag)
	}
	return s
}

// cellID makes an identifier of a place, such as n31.7188w110.0312.
func cellID(lat, lon float64) string {
	return hemisphere(lat, "n", "s") + hemisphere(lon, "e", "w")
}

func cellName(lat, lon float64) string {
	f := func(v float64, plus, minus string) string {
		text := hemisphere(v, plus, minus)
		return text[1:] + "°" + strings.ToUpper(text[:1])
	}
	return f(lat, "n", "s") + " " + f(lon, "e", "w")
}

// hemisphere writes degrees with up to four decimals, a dozen metres.
func hemisphere(v float64, plus, minus string) string {
	v = math.Round(v*1e4) / 1e4
	letter := plus
	if v < 0 {
		letter = minus
	}
	return letter + strconv.FormatFloat(math.Abs(v), 'f', -1, 64)
}

// A Ground is what of a region does not change with time: the heights of its
// cells.
type Ground struct {
	heights []float32 // m, nil where no file has them
	every   float64   // cells that one stands for, either way
}

// Ground reads the heights of all cells; every is that of Select.
func (r *Region) Ground(ctx context.Context, every int) (*Ground, error) {
	g := &Ground{every: float64(max(every, 1))}
	p := r.static
	if p == nil {
		return g, nil
	}
	nx := len(p.file.Lon)
	rows := max(1, p.field.ChunkRows) // read at a time
	var block []float32
	first, n := 0, 0 // rows of the file in block
	for _, y := range p.row {
		if y < first || y >= first+n {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			first = y / rows * rows
			n = min(rows, len(p.file.Lat)-first)
			block = room(block, n*nx)
			if err := p.field.Read(block, 0, 1, first, n); err != nil {
				return nil, inFile(err, p.file.Name, p.field.Variable)
			}
		}
		for _, x := range p.col {
			g.heights = append(g.heights, block[(y-first)*nx+x])
		}
	}
	return g, nil
}

// mean leaves out missing values; NaN of none.
func mean(v []float32) float64 {
	sum, n := 0.0, 0
	for _, x := range v {
		if x == x {
			sum += float64(x)
			n++
		}
	}
	return sum / float64(n)
}
