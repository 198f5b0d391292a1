package main

import (
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/mattn/go-runewidth"

	"stillrow/ingest"
	"stillrow/ingest/weather"
)

// writeReport tells what became of each input, a line each: yearly sums are
// those of the one site, or the mean over many.
func writeReport(w io.Writer, sum ingest.Summary) error {
	rows := [][]string{{"file", "sites", "hours", "filled", "set aside", "GHI kWh/m²", "DNI kWh/m²", "clear hours"}}
	for _, in := range sum.Inputs {
		row := []string{filepath.Base(in.Name), strconv.Itoa(in.Sites), "", "", "", "", "", ""}
		switch {
		case in.Status == ingest.StatusSetAside && in.Cells != nil:
			row[4] = "whole file"
		case in.Status == ingest.StatusSetAside:
			row[4] = "1"
		case in.Cells != nil:
			row[4] = strconv.Itoa(in.Cells.SetAside)
		}
		if in.Status != ingest.StatusOK && in.Status != ingest.StatusSetAside {
			row[4] = in.Status
		}
		if in.Sites > 0 {
			row[2] = strconv.Itoa(in.Sites * weather.Hours)
			row[3] = strconv.Itoa(in.FilledHours)
			row[5] = sumOfYear(in.GHI, in.Cells, func(c *ingest.Cells) [2]float64 { return c.GHIRange })
			row[6] = sumOfYear(in.DNI, in.Cells, func(c *ingest.Cells) [2]float64 { return c.DNIRange })
			row[7] = fmt.Sprintf("%.0f %%", 100*in.ClearShare)
		}
		rows = append(rows, row)
	}
	wide := make([]int, len(rows[0]))
	for _, row := range rows {
		for i, text := range row {
			wide[i] = max(wide[i], runewidth.StringWidth(text))
		}
	}
	for _, row := range rows {
		line := ""
		for i, text := range row {
			if i == 0 {
				line += runewidth.FillRight(text, wide[i])
			} else {
				line += "  " + runewidth.FillLeft(text, wide[i])
			}
		}
		if _, err := fmt.Fprintln(w, strings.TrimRight(line, " ")); err != nil {
			return err
		}
	}
	_, err := fmt.Fprintf(w, "%s, %d set aside\n", count(sum.Sites, "site"), sum.SetAside)
	return err
}

// sumOfYear writes a sum of the year, with its range over the sites of a grid.
func sumOfYear(mean float64, c *ingest.Cells, of func(*ingest.Cells) [2]float64) string {
	if c == nil {
		return fmt.Sprintf("%.0f", mean)
	}
	r := of(c)
	return fmt.Sprintf("%.0f (%.0f to %.0f)", mean, r[0], r[1])
}
