package main

import (
	"fmt"
	"path/filepath"
	"sync"

	"stillrow/data/outfile"
	"stillrow/ingest"
	"stillrow/ingest/weather"
	"stillrow/rank"
	"stillrow/simulate/result"
)

type ingestCmd struct {
	Files []string `arg:"" name:"F" help:"Weather files, folders or globs."`
	Out   string   `required:"" help:"Folder of the weather table." placeholder:"DIR"`
	Arrow bool     `help:"Also write the table as an Arrow IPC stream, weather.arrows."`
	clockFlag
	gridFlags
	workFlags
}

func (*ingestCmd) Help() string {
	return `Reads weather, repairs its years and writes the weather table: sites.parquet and the hours in hours-*.parquet, with run.json beside them. A table that is there keeps its other sites: those read now are added, or take the place of the same site_id.

Read are EPW and TMY3 files, hourly CSV of NSRDB PSM and NASA POWER, CF NetCDF grids of hours (or of 2, 3, 4 or 6 hours) or of months, monthly GeoTIFF and ESRI ASCII grids, and monthly CSV (lat,lon,month,ghi_w_m2,air_temperature_c,...). Grid files of the same cells are joined: one may carry the irradiance and another the temperature, or each its own years.

Example: stillrow ingest --out weather --within region.geojson radiation-*.nc temperature-*.nc`
}

func (c *ingestCmd) Run(e *env) error {
	if err := c.check(); err != nil {
		return err
	}
	sources, err := ingest.Files(c.Files)
	if err != nil {
		return usageError{err}
	}
	within, err := c.region(nil)
	if err != nil {
		return err
	}
	held, err := e.lock(c.Out, "ingest", c.Quiet)
	if err != nil {
		return err
	}
	defer held.Release()
	times := startTiming(c.workers())
	sum, err := ingestTo(e, ingest.Options{Sources: sources, Out: c.Out, Update: true, Clock: c.clock()}, within, &c.gridFlags, &c.workFlags)
	if err != nil {
		return err
	}
	times.stage("ingest")
	record := newRecord("ingest", nil, "")
	record.Clock = c.Clock
	record.ingested(sum)
	if record.Within, err = within.record(); err != nil {
		return err
	}
	if record.Files, err = weatherFiles(c.Out, ""); err != nil {
		return err
	}
	if c.Arrow {
		if err := writeArrow(c.Out); err != nil {
			return err
		}
		record.Files = append(record.Files, arrowFile)
		times.stage("arrow")
	}
	if err := record.write(c.Out, times); err != nil {
		return err
	}
	if err := ingest.DropJournal(c.Out); err != nil {
		return err
	}
	if err := writeReport(e.stdout, sum); err != nil {
		return err
	}
	return setAside(e, sum)
}

// count writes a number of things.
func count(n int, thing string) string {
	if n != 1 {
		thing += "s"
	}
	return fmt.Sprintf("%d %s", n, thing)
}

const arrowFile = "weather.arrows"

func writeArrow(dir string) error {
	t, err := weather.Open(dir)
	if err != nil {
		return err
	}
	defer t.Close()
	return outfile.Write(filepath.Join(dir, arrowFile), t.WriteIPC)
}

type simulateCmd struct {
	Weather string `help:"Folder of the weather table." placeholder:"DIR"`
	studyFlag
	Out string `required:"" help:"Folder of the heat table." placeholder:"DIR"`
	shardFlags
	workFlags
}

func (*simulateCmd) Help() string {
	return `Simulates every site of a weather table and writes the heat table: heat.parquet, designs.parquet, sites.parquet and, of the designs that do best at the study's prices, how they answer to changed inputs in sensitivity.parquet, with run.json beside them.

Example: stillrow simulate --weather weather --study mine.toml --out heat`
}

func (c *simulateCmd) Run(e *env) error {
	if err := c.check(); err != nil {
		return err
	}
	if c.Shard != "" {
		return c.shardFlags.run(e, "simulate", c.Out, c.Weather, c.Study, c.workFlags)
	}
	if c.Weather == "" {
		return usagef("--weather: want the folder of a weather table")
	}
	table, err := weather.Open(c.Weather)
	if err != nil {
		return err
	}
	defer table.Close()
	m, err := c.markets(resultSites(table.Sites))
	if err != nil {
		return err
	}
	held, err := e.lock(c.Out, "simulate", c.Quiet)
	if err != nil {
		return err
	}
	defer held.Release()
	times := startTiming(c.workers())
	j := &job{command: "simulate", study: c.study(), markets: m, table: table, out: c.Out, heat: c.Out, flags: c.workFlags}
	defer j.close()
	if err := j.run(e, times); err != nil {
		return err
	}
	if err := j.tables(c.Weather); err != nil {
		return err
	}
	if err := j.end(e, times, "simulate"); err != nil {
		return err
	}
	if err := dropParts(c.Out); err != nil {
		return err
	}
	return j.tell(e)
}

type rankCmd struct {
	Heat string `required:"" help:"Folder of the heat table." placeholder:"DIR"`
	studyFlag
	outFlag
	withinFlag
	tilesFlag
	quietFlag
	Workers int `hidden:""` // files written at a time: ranking is one pass over the table
}

func (*rankCmd) Help() string {
	return `Prices the heat of a heat table and writes ranking.parquet, map-*.geojson with their pictures in .png and .svg, the page map.html, bands.csv, tilts.csv and columns.csv. Of the study it takes uses, costs, gas, rank and map; designs and outlets are those of the table.

Example: stillrow rank --heat heat --study mine.toml --out result`
}

func (c *rankCmd) Run(e *env) error {
	heat, err := result.Open(c.Heat)
	if err != nil {
		return err
	}
	sites, priced, from := heat.Sites(), heat.Table(), heat.Weather()
	if err := heat.Close(); err != nil {
		return err
	}
	m, err := c.markets(sites)
	if err != nil {
		return err
	}
	if m.within, err = c.region(m.study()); err != nil {
		return err
	}
	e.warn(m.warnings())
	held, err := e.lock(c.Out, "rank", c.Quiet)
	if err != nil {
		return err
	}
	defer held.Release()
	times := startTiming(1)
	step, end := e.progress("rank", c.Quiet)
	o := m.ranking()
	o.Table, o.Out, o.Tiles, o.Workers, o.Progress = priced, c.Out, c.Tiles, c.Workers, step
	m.spread(&o)
	if err := m.frame(&o, sites); err != nil {
		return err
	}
	end = sync.OnceFunc(end)
	if writing, endWriting := e.writing(c.Quiet); writing != nil {
		defer endWriting()
		o.Writing = func(done, of int) {
			end() // a terminal shows one bar at a time
			writing(done, of)
		}
	}
	record := newRecord("rank", m, c.study())
	if record.Within, err = m.within.record(); err != nil {
		return err
	}
	if record.Tables, err = inputFiles(c.Heat, heatFiles(priced)); err != nil {
		return err
	}
	if o.Fingerprint, err = record.fingerprint(from); err != nil {
		return err
	}
	sum, err := rank.Run(e.ctx, c.Heat, o)
	end()
	if err != nil {
		return m.within.explain(err)
	}
	times.stage("rank")
	record.Counts.Sites = sum.Sites
	record.Ranking = &sum
	record.Files = sum.Files
	if err := record.write(c.Out, times); err != nil {
		return err
	}
	return sum.WriteText(e.stdout)
}
