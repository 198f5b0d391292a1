package weather

import (
	"slices"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/compress/zstd"
)

// dictionaryLimit ends a dictionary in bytes: reading one site means reading
// the dictionary of its row group, so beyond this size (16384 distinct values)
// further pages of the row group are written plain.
const dictionaryLimit = 64 << 10

// hoursSchema gives each column the encoding that measured best. All columns
// are required: a finished year lacks nothing.
func hoursSchema() *parquet.Schema {
	g := orderedGroup{}
	g.add(siteIDColumn.Name, parquet.Encoded(parquet.String(), &parquet.RLEDictionary))
	g.add(hourColumn.Name, parquet.Encoded(parquet.Leaf(parquet.Int32Type), &parquet.DeltaBinaryPacked))
	for _, c := range valueColumns {
		g.add(c.Name, parquet.Encoded(parquet.Leaf(parquet.FloatType), &parquet.RLEDictionary))
	}
	return parquet.NewSchema("weather_hours", g)
}

func hoursOptions() []parquet.WriterOption {
	options := append(fileOptions(),
		hoursSchema(),
		// A page holds 35 kB of indexes; it must never fill up before its flush.
		parquet.PageBufferSize(256<<10),
		parquet.DictionaryMaxBytes(dictionaryLimit),
		parquet.SkipPageBounds(hourColumn.Name),
	)
	for _, c := range valueColumns {
		options = append(options, parquet.SkipPageBounds(c.Name))
	}
	return options
}

// sitesSchema is that of the site table: plain values, which zstd shrinks well
// enough.
func sitesSchema(columns []siteColumn) *parquet.Schema {
	g := orderedGroup{}
	for _, c := range columns {
		switch c.of(new(entry)).(type) {
		case *string, *[]string:
			g.add(c.Name, parquet.String())
		case *int:
			g.add(c.Name, parquet.Leaf(parquet.Int32Type))
		case *float64:
			g.add(c.Name, parquet.Leaf(parquet.DoubleType))
		}
	}
	return parquet.NewSchema("weather_sites", g)
}

// fileOptions are common to all files. Data pages of version 1 and zstd are
// what the most readers understand; bounds in page headers nobody reads. The
// library adds a checksum to every page and proves it on reading.
func fileOptions() []parquet.WriterOption {
	return []parquet.WriterOption{
		// Left alone, the library puts its own version here, or not, depending
		// on how the program was built.
		parquet.CreatedBy("stillrow", "1", "parquet-go"),
		parquet.Compression(&zstd.Codec{Level: zstd.SpeedFastest}), // level 1
		parquet.DataPageVersion(1),
		parquet.DataPageStatistics(false),
		// Bounds are cut off at this length; identifiers should not be.
		parquet.ColumnIndexSizeLimit(func([]string) int { return 128 }),
	}
}

// An orderedGroup is a parquet.Group that keeps its fields in the order they
// were added; the library's own sorts them by name.
type orderedGroup struct {
	parquet.Group
	names []string
}

func (g *orderedGroup) add(name string, node parquet.Node) {
	if g.Group == nil {
		g.Group = make(parquet.Group)
	}
	g.Group[name] = node
	g.names = append(g.names, name)
}

// Fields returns the fields in the order of add.
func (g orderedGroup) Fields() []parquet.Field {
	fields := g.Group.Fields()
	slices.SortFunc(fields, func(a, b parquet.Field) int {
		return slices.Index(g.names, a.Name()) - slices.Index(g.names, b.Name())
	})
	return fields
}
