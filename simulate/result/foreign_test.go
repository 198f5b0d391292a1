package result

import (
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/parquet-go/parquet-go"
)

// A table rewritten by another tool, with a column more, other row groups that
// cut through sites, and dictionary pages, reads the same; with two rows
// exchanged it is refused.
func TestForeignHeatFile(t *testing.T) {
	dir := t.TempDir()
	table, blocks := made(30, 7, 35, 60)
	write(t, dir, table, blocks)
	path := filepath.Join(dir, HeatFile)
	type foreign struct {
		Note   string  `parquet:"a_note,optional"`
		Month1 float32 `parquet:"month_01,dict"`
		M2     float32 `parquet:"month_02"`
		M3     float32 `parquet:"month_03"`
		M4     float32 `parquet:"month_04"`
		M5     float32 `parquet:"month_05"`
		M6     float32 `parquet:"month_06"`
		M7     float32 `parquet:"month_07"`
		M8     float32 `parquet:"month_08"`
		M9     float32 `parquet:"month_09"`
		M10    float32 `parquet:"month_10,dict"`
		M11    float32 `parquet:"month_11"`
		M12    float32 `parquet:"month_12"`
		Outlet float64 `parquet:"outlet_c"`
		Design int32   `parquet:"design_id"`
		Site   string  `parquet:"site_id"`
	}
	rows, err := parquet.ReadFile[foreign](path)
	if err != nil {
		t.Fatal(err)
	}
	file, old, err := openParquet(path)
	if err != nil {
		t.Fatal(err)
	}
	file.Close()
	rewrite := func(options ...parquet.WriterOption) {
		options = append(options, parquet.MaxRowsPerRowGroup(97))
		for _, kv := range old.Metadata().KeyValueMetadata {
			options = append(options, parquet.KeyValueMetadata(kv.Key, kv.Value))
		}
		if err := parquet.WriteFile(path, rows, options...); err != nil {
			t.Fatal(err)
		}
	}
	rewrite()
	_, got, err := read(dir)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(blocks, got, sameFloats); d != "" {
		t.Errorf("-written +read:\n%.1000s", d)
	}
	rewrite(parquet.Compression(&parquet.Lz4Raw))
	if _, err := Open(dir); err == nil || !strings.Contains(err.Error(), "heat.parquet: column site_id is compressed with LZ4_RAW") {
		t.Errorf("LZ4_RAW: error %v, want a refusal", err)
	}
	rows[100], rows[101] = rows[101], rows[100]
	rewrite()
	if _, _, err := read(dir); err == nil || !strings.Contains(err.Error(), "heat.parquet: row 101: design_id = 3") {
		t.Errorf("two rows exchanged: error %v, want one naming row 101 and its design_id", err)
	}
}
