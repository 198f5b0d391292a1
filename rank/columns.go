package rank

import (
	"encoding/csv"
	"io"
	"reflect"
	"slices"
	"strings"

	"stillrow/rank/tile"
	"stillrow/simulate/result"
)

// ColumnsFile says what every column and property of the files means.
const ColumnsFile = "columns.csv"

// columns lists what this package writes, file by file, then others.
func columns(currency string, tiles bool, others []result.Column) []result.Column {
	list := described(reflect.TypeFor[row](), RankingFile, "parquet")
	list = append(list, described(reflect.TypeFor[mark](), "map-*.geojson", "json")...)
	if tiles {
		for _, p := range tile.Properties() {
			list = append(list, result.Column{File: TilesFile, Name: p[0], Unit: p[1], Meaning: p[2]})
		}
	}
	list = append(list, describedSheet(BandsFile, bandColumns)...)
	list = append(list, describedSheet(TiltsFile, ruleColumns)...)
	list = append(list,
		result.Column{File: ColumnsFile, Name: "file", Meaning: "file of the column or property"},
		result.Column{File: ColumnsFile, Name: "name", Meaning: "name of the column or property"},
		result.Column{File: ColumnsFile, Name: "unit", Meaning: "its unit; empty for text, numbers of things and ratios"},
		result.Column{File: ColumnsFile, Name: "meaning", Meaning: "what it holds"},
	)
	for i := range list {
		list[i].Unit = strings.ReplaceAll(list[i].Unit, "¤", currency)
	}
	return slices.Concat(list, others)
}

// described lists the fields of a struct type by the name in their tag key.
func described(t reflect.Type, file, key string) (list []result.Column) {
	for i := range t.NumField() {
		f := t.Field(i)
		if f.Anonymous {
			list = append(list, described(f.Type, file, key)...)
			continue
		}
		name, _, _ := strings.Cut(f.Tag.Get(key), ",")
		list = append(list, result.Column{File: file, Name: name, Unit: f.Tag.Get("unit"), Meaning: f.Tag.Get("meaning")})
	}
	return list
}

func writeColumns(w io.Writer, list []result.Column) error {
	out := csv.NewWriter(w)
	if err := out.Write([]string{"file", "name", "unit", "meaning"}); err != nil {
		return err
	}
	for _, c := range list {
		if err := out.Write([]string{c.File, c.Name, c.Unit, c.Meaning}); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}
