package result

import (
	"fmt"
	"reflect"
	"strings"

	"github.com/parquet-go/parquet-go"
)

// The files of a heat folder, beside SensitivityFile. HeatFile takes its name
// last, so where it stands the others stand beside it.
const (
	HeatFile    = "heat.parquet"
	DesignsFile = "designs.parquet"
	SitesFile   = "sites.parquet"
)

// Keys of the metadata of HeatFile: the outlet temperatures in the order of the
// rows, and the checksums of the two files it belongs to.
const (
	keyOutlets = "stillrow.outlets_c"
	keyDesigns = "stillrow.designs_sha256"
	keySites   = "stillrow.sites_sha256"
)

// flagSeparator joins the flags of a site, as in the weather table.
const flagSeparator = ";"

// A Column says what one column of a file holds.
type Column struct {
	File, Name, Unit, Meaning string
}

// Columns lists the columns of the files that hold t, in file order.
func (t *Table) Columns() []Column {
	var list []Column
	for _, c := range heatColumns(t.Stress) {
		list = append(list, Column{HeatFile, c.name, c.unit, c.meaning})
	}
	for _, c := range designColumns {
		list = append(list, Column{DesignsFile, c.name, c.unit, c.meaning})
	}
	for _, c := range siteColumns() {
		list = append(list, Column{SitesFile, c.name, c.unit, c.meaning})
	}
	if t.Sensitivity {
		for _, c := range heatColumns(false)[:heatKeys] {
			list = append(list, Column{SensitivityFile, c.name, c.unit, c.meaning})
		}
		for _, c := range sensitivityColumns() {
			list = append(list, Column{SensitivityFile, c.name, "kWh/m²", c.meaning})
		}
	}
	return list
}

// A heatColumn is one column of HeatFile. A value column, one with values, is
// float32 and holds values(b)[i·stride] for outlet o and design d of block b,
// where i = o·len(Designs)+d. To store one more quantity, add a field to Block,
// its allocation to Blocks and a column here.
type heatColumn struct {
	name, unit, meaning string
	typ                 reflect.Type
	tag                 string
	values              func(b *Block) []float32
	stride              int
	least               float32 // smallest value that makes sense
	null                bool    // a NaN is null in the file
}

// heatKeys is the number of columns that say which row it is.
const heatKeys = 3

func heatColumns(stress bool) []heatColumn {
	list := []heatColumn{
		{name: "site_id", meaning: "site, as in " + SitesFile, typ: reflect.TypeFor[string](), tag: ",dict"},
		{name: "design_id", meaning: "design, as in " + DesignsFile, typ: reflect.TypeFor[int32](), tag: ",delta"},
		{name: "outlet_c", unit: "°C", meaning: "temperature of the delivered water", typ: reflect.TypeFor[float64](), tag: ",dict"},
	}
	for m := range 12 {
		list = append(list, heatColumn{
			name: fmt.Sprintf("month_%02d", m+1), unit: "kWh/m²", typ: reflect.TypeFor[float32](),
			meaning: fmt.Sprintf("heat of calendar month %d per m² of receiver, gross at the receiver", m+1),
			values:  func(b *Block) []float32 { return b.Heat[m:] },
			stride:  12,
		})
	}
	if !stress {
		return list
	}
	for i, s := range StressColumns {
		c := heatColumn{
			name: s.Name, unit: s.Unit, meaning: s.Meaning, typ: reflect.TypeFor[float32](),
			values: func(b *Block) []float32 { return b.Stress[i:] },
			stride: Stresses,
			null:   Stress(i) == GlareAzimuth,
		}
		if Stress(i) == DryStagnation {
			c.least = -273.15
		}
		if c.null {
			c.tag = ",optional"
		}
		list = append(list, c)
	}
	return list
}

func heatSchema(columns []heatColumn) *parquet.Schema {
	fields := make([]reflect.StructField, len(columns))
	for i, c := range columns {
		fields[i] = field(i, c.name+c.tag, c.typ)
	}
	return schemaOf("heat", fields)
}

// A cell is one column of a table of T, with the value it holds; null says
// that a value of 0 means none.
type cell[T any] struct {
	name, unit, meaning string
	null                bool
	at                  func(*T) any // *string, *float64, *int or *[]string
}

// number is the design's place in its table, which travels beside it in a row
// of DesignsFile.
type numbered struct {
	ID     int
	Design Design
}

var designColumns = []cell[numbered]{
	{name: "design_id", meaning: "number of the design, from 0", at: func(n *numbered) any { return &n.ID }},
	{name: "receiver_width_m", unit: "m", meaning: "width of the receiver", at: func(n *numbered) any { return &n.Design.ReceiverWidth }},
	{name: "mirror_length_m", unit: "m", meaning: "slant length of the mirror, 0 without one", at: func(n *numbered) any { return &n.Design.MirrorLength }},
	{name: "mirror_tilt_deg", unit: "°", meaning: "slope of the mirror: 90 is vertical, above 90 it overhangs the receiver", at: func(n *numbered) any { return &n.Design.MirrorTilt }},
	{name: "setback_m", unit: "m", meaning: "gap from the receiver to the mirror's foot", at: func(n *numbered) any { return &n.Design.Setback }},
	{name: "raise_m", unit: "m", meaning: "height of the mirror's foot above the receiver", at: func(n *numbered) any { return &n.Design.Raise }},
	{name: "row_pitch_m", unit: "m", null: true, meaning: "distance between rows, null for a single row", at: func(n *numbered) any { return &n.Design.RowPitch }},
	{name: "row_length_m", unit: "m", null: true, meaning: "length of a row, null for an endless one", at: func(n *numbered) any { return &n.Design.RowLength }},
	{name: "row_azimuth_deg", unit: "°", meaning: "turn of the row's equatorward normal, positive towards west", at: func(n *numbered) any { return &n.Design.RowAzimuth }},
}

func siteColumns() []cell[Site] {
	list := []cell[Site]{
		{name: "site_id", meaning: "unique name of the site", at: func(s *Site) any { return &s.ID }},
		{name: "name", meaning: "name of the place as its source spells it", at: func(s *Site) any { return &s.Name }},
		{name: "lat", unit: "°", meaning: "latitude, north positive", at: func(s *Site) any { return &s.Lat }},
		{name: "lon", unit: "°", meaning: "longitude, east positive", at: func(s *Site) any { return &s.Lon }},
		{name: "elevation_m", unit: "m", meaning: "height above sea level", at: func(s *Site) any { return &s.Elevation }},
		{name: "utc_offset_h", unit: "h", meaning: "local standard time minus UTC", at: func(s *Site) any { return &s.UTCOffset }},
		{name: "country", meaning: "country as its source spells it", at: func(s *Site) any { return &s.Country }},
		{name: "source", meaning: "data set and file the weather came from", at: func(s *Site) any { return &s.Source }},
		{name: "kind", meaning: "station or grid", at: func(s *Site) any { return &s.Kind }},
		{name: "cell_deg", unit: "°", meaning: "edge in latitude of the grid cell centred on the site, 0 for a station", at: func(s *Site) any { return &s.CellDeg }},
		{name: "cell_lon_deg", unit: "°", meaning: "edge of the cell in longitude, 0 for one like cell_deg", at: func(s *Site) any { return &s.CellLonDeg }},
		{name: "missing_hours", unit: "h", meaning: "hours that lack a value in the source", at: func(s *Site) any { return &s.MissingHours }},
		{name: "filled_hours", unit: "h", meaning: "hours with a value filled in", at: func(s *Site) any { return &s.FilledHours }},
		{name: "flags", meaning: "what was found in the weather and done to it, joined by " + flagSeparator, at: func(s *Site) any { return &s.Flags }},
		{name: "split_model", meaning: "model that split global irradiance into beam and diffuse, empty where the source had them", at: func(s *Site) any { return &s.SplitModel }},
		{name: "year_p10", meaning: "yearly GHI of a poor year, the 10th percentile of single years, over their mean; 0 for fewer than five years", at: func(s *Site) any { return &s.YearP10 }},
		{name: "year_p90", meaning: "yearly GHI of a rich year, the 90th percentile of single years, over their mean; 0 for fewer than five years", at: func(s *Site) any { return &s.YearP90 }},
	}
	for _, monthly := range []cell[Site]{
		{name: "year", meaning: "calendar year whose sun the month has", at: func(s *Site) any { return &s.Year }},
		{name: "clock_min", unit: "min", meaning: "shift of the interval whose sun is sampled, positive later", at: func(s *Site) any { return &s.ClockMin }},
		{name: "hdd", unit: "K·d", meaning: "heating degree days of the month, base 18.3 °C", at: func(s *Site) any { return &s.HDD }},
		{name: "cdd", unit: "K·d", meaning: "cooling degree days of the month, base 18.3 °C", at: func(s *Site) any { return &s.CDD }},
	} {
		for m := range 12 {
			list = append(list, cell[Site]{
				name: fmt.Sprintf("%s_%02d", monthly.name, m+1), unit: monthly.unit, meaning: monthly.meaning,
				at: func(s *Site) any {
					switch year := monthly.at(s).(type) {
					case *[12]int:
						return &year[m]
					case *[12]float64:
						return &year[m]
					}
					panic("result: a monthly column is neither of whole nor of real numbers")
				},
			})
		}
	}
	return list
}

// typ is the type of the column's values in the file.
func (c *cell[T]) typ() reflect.Type {
	switch c.at(new(T)).(type) {
	case *float64:
		return reflect.TypeFor[float64]()
	case *int:
		return reflect.TypeFor[int32]()
	}
	return reflect.TypeFor[string]()
}

func cellSchema[T any](name string, cells []cell[T]) *parquet.Schema {
	fields := make([]reflect.StructField, len(cells))
	for i := range cells {
		tag := cells[i].name
		if cells[i].null {
			tag += ",optional"
		}
		fields[i] = field(i, tag, cells[i].typ())
	}
	return schemaOf(name, fields)
}

// get is the value of the column in a row of the file.
func (c *cell[T]) get(of *T) parquet.Value {
	switch p := c.at(of).(type) {
	case *string:
		return parquet.ByteArrayValue([]byte(valid(*p)))
	case *[]string:
		return parquet.ByteArrayValue([]byte(valid(strings.Join(*p, flagSeparator))))
	case *int:
		return parquet.Int32Value(int32(*p))
	case *float64:
		if c.null && *p == 0 {
			return parquet.NullValue()
		}
		return parquet.DoubleValue(*p)
	}
	panic("result: a cell of a type that has no column")
}

// set takes the value of the column out of a row.
func (c *cell[T]) set(of *T, v parquet.Value) {
	switch p := c.at(of).(type) {
	case *string:
		*p = string(v.ByteArray())
	case *[]string:
		if text := v.ByteArray(); len(text) > 0 {
			*p = strings.Split(string(text), flagSeparator)
		}
	case *int:
		*p = int(v.Int32())
	case *float64:
		if *p = 0; !v.IsNull() {
			*p = v.Double()
		}
	}
}

// valid repairs text that is not UTF-8, which Parquet readers refuse.
func valid(s string) string { return strings.ToValidUTF8(s, "\uFFFD") }

// field is member i of a struct type made up at run time, the one way to give
// parquet-go a schema whose columns keep the order of a list.
func field(i int, tag string, t reflect.Type) reflect.StructField {
	return reflect.StructField{Name: fmt.Sprintf("F%d", i), Type: t, Tag: reflect.StructTag(fmt.Sprintf("parquet:%q", tag))}
}

func schemaOf(name string, fields []reflect.StructField) *parquet.Schema {
	return parquet.NewSchema(name, parquet.SchemaOf(reflect.New(reflect.StructOf(fields)).Interface()))
}

// KeyFingerprint is the key of a table's metadata for the digest of what made
// it: program, study and weather.
const KeyFingerprint = "stillrow.fingerprint"

// keyWeather is the key of the digest of the weather table that the heat is of.
const keyWeather = "stillrow.weather"
