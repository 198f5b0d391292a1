// Package data embeds what stillrow brings along: the demo's island, its study
// and the cost books. SOURCES.md says where each comes from.
package data

import "embed"

// FS holds halvane/ (climate.csv, outline.geojson, study.toml), books/ (cost
// books, one TOML file each), rates.toml (exchange) and world/ (countries.bin).
//
//go:embed halvane/climate.csv halvane/outline.geojson halvane/study.toml books/*.toml rates.toml world/countries.bin
var FS embed.FS
