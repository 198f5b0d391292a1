package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"runtime"

	"stillrow/cmd/stillrow/study"
	"stillrow/data"
	"stillrow/ingest"
	"stillrow/ingest/climate"
	"stillrow/ingest/weather"
	"stillrow/simulate"
	"stillrow/simulate/result"
)

type screenCmd struct {
	Files   []string `arg:"" optional:"" name:"F" help:"Weather files, folders or globs; none: the embedded demo."`
	Weather string   `help:"Folder of a weather table, instead of weather files." placeholder:"DIR"`
	studyFlag
	outFlag
	clockFlag
	gridFlags
	KeepHeat bool `help:"Also write the heat table, heat/ in the output folder."`
	tilesFlag
	shardFlags
	workFlags
}

func (*screenCmd) Help() string {
	return `The whole job: repairs the weather, simulates every hour of every candidate design at every outlet temperature, prices the heat, and writes ranking.parquet, map-*.geojson with their pictures in .png and .svg, the page map.html, bands.csv, tilts.csv, columns.csv, run.json and timing.json, with the weather table in weather/. The summary goes to stdout. A run that is ended goes on from what it finished when it is given the same words again.

Example: stillrow screen --study mine.toml --out result stations/*.epw`
}

func (c *screenCmd) Run(e *env) error {
	if err := c.check(); err != nil {
		return err
	}
	if c.Weather != "" && len(c.Files) > 0 {
		return usagef("--weather=%s: takes the place of weather files, of which %d are given", c.Weather, len(c.Files))
	}
	if c.Weather != "" && (c.gridFlags != gridFlags{withinFlag: c.withinFlag, Every: 1, Stamp: "found"} || c.Clock != "closed") {
		return usagef("--weather=%s: --every, --year, --stamp and --clock are for weather files; a table has its hours", c.Weather)
	}
	if c.Shard != "" {
		if len(c.Files) > 0 || c.Within != "" || c.KeepHeat || c.Tiles {
			return usagef("--shard=%s: files, --within, --keep-heat and --tiles are the plan's", c.Shard)
		}
		return c.shardFlags.run(e, "screen", c.Out, c.Weather, c.Study, c.workFlags)
	}
	book, sources := study.DefaultBook, []ingest.Source(nil)
	var err error
	switch {
	case c.Weather != "":
	case len(c.Files) == 0:
		book, sources = demoBook, []ingest.Source{demoSource{}}
	default:
		if sources, err = ingest.Files(c.Files); err != nil {
			return usageError{err}
		}
	}
	// What is wrong with the study shows before the long work; the countries'
	// prices come when the places are known.
	s, err := c.load(book)
	if err != nil {
		return err
	}
	within, err := c.region(s)
	if err != nil {
		return err
	}
	held, err := e.lock(c.Out, "screen", c.Quiet)
	if err != nil {
		return err
	}
	defer held.Release()
	times := startTiming(c.workers())
	table := c.Weather
	var sum ingest.Summary
	if sources != nil {
		table = filepath.Join(c.Out, "weather")
		sum, err = ingestTo(e, ingest.Options{Sources: sources, Out: table, Clock: c.clock()}, within, &c.gridFlags, &c.workFlags)
		if err != nil {
			return err
		}
		times.stage("ingest")
	}
	places, err := weather.Open(table)
	if err != nil {
		return err
	}
	defer places.Close()
	m, err := c.markets(resultSites(places.Sites))
	if err != nil {
		return err
	}
	m.within = within
	e.warn(m.warnings())
	j := &job{
		command: "screen", study: c.study(), markets: m, table: places, out: c.Out, ranked: true, tiles: c.Tiles, flags: c.workFlags,
	}
	if c.KeepHeat {
		j.heat = filepath.Join(c.Out, "heat")
	}
	if sources != nil {
		j.outer = weatherColumns()
	}
	defer j.close()
	if err := j.run(e, times); err != nil {
		return err
	}
	if sources == nil {
		err = j.tables(c.Weather)
	} else {
		j.record.Clock = c.Clock
		j.record.ingested(sum)
		j.record.Files, err = weatherFiles(table, "weather")
	}
	if err != nil {
		return err
	}
	if err := j.end(e, times, "simulate and rank"); err != nil {
		return err
	}
	if err := dropParts(c.Out); err != nil {
		return err
	}
	if sources != nil {
		if err := ingest.DropJournal(table); err != nil {
			return err
		}
	}
	if err := j.tell(e); err != nil {
		return err
	}
	return setAside(e, sum)
}

// The demo.
const (
	demoBook    = "halvane"
	demoClimate = "halvane/climate.csv"
)

// A demoSource is the demo's climate.
type demoSource struct{}

func (demoSource) Name() string { return demoClimate }

func (demoSource) Open(context.Context) (*ingest.Content, error) {
	cells, err := demoCells()
	return &ingest.Content{Cells: cells}, err
}

func (demoSource) Read(context.Context, int) (*weather.Raw, error) {
	return nil, errors.New("many places")
}

func demoCells() ([]climate.Cell, error) {
	text, err := data.FS.ReadFile(demoClimate)
	if err != nil {
		return nil, err
	}
	return climate.Read(bytes.NewReader(text), demoClimate)
}

func (w workersFlag) workers() int {
	if w.Workers > 0 {
		return w.Workers
	}
	return runtime.GOMAXPROCS(0)
}

// ingestTo writes the weather table, with what the flags ask for put in, and
// goes on from what an earlier run left.
func ingestTo(e *env, o ingest.Options, within *region, f *gridFlags, w *workFlags) (ingest.Summary, error) {
	if err := f.into(&o); err != nil {
		return ingest.Summary{}, err
	}
	var err error
	if o.Memory, err = w.memory(); err != nil {
		return ingest.Summary{}, err
	}
	program, err := programDigest()
	if err != nil {
		return ingest.Summary{}, err
	}
	o.Within, o.Key = within.keep(), []byte(program)
	area, err := within.record()
	if err != nil {
		return ingest.Summary{}, err
	}
	if area != nil {
		o.Key = append(o.Key, area.SHA256...)
	}
	o.Resumed = func(places int) {
		fmt.Fprintf(e.notes(w.Quiet), "%s: going on after an earlier run, which ingested %s\n", o.Out, count(places, "place"))
	}
	step, end := e.progress("ingest", w.Quiet)
	o.Workers, o.Progress = w.Workers, step
	sum, err := ingest.Run(e.ctx, o)
	end() // a bar would be drawn over what follows
	if err != nil && e.ctx.Err() == nil {
		for _, reason := range sum.Reasons() {
			e.log(w.Quiet).Warn("set aside: " + reason)
		}
	}
	return sum, err
}

// prepare makes a plan of the study, in the memory that the flags allow.
func prepare(ctx context.Context, s *study.Study, w *workFlags) (*simulate.Plan, error) {
	o := s.Simulation()
	o.Workers = w.Workers
	var err error
	if o.Memory, err = w.memory(); err != nil {
		return nil, err
	}
	plan, err := simulate.Prepare(ctx, o)
	if errors.Is(err, simulate.ErrMemory) {
		return nil, usageError{fmt.Errorf("%w: fewer candidates, or more by --memory", err)}
	}
	return plan, err
}

// setAside names what was set aside, and says so in the status.
func setAside(e *env, sum ingest.Summary) error {
	for _, reason := range sum.Reasons() {
		fmt.Fprintln(e.stderr, "set aside:", reason)
	}
	if sum.SetAside > 0 {
		return errSetAside
	}
	return nil
}

// weatherColumns describes the weather table in an output folder.
func weatherColumns() (list []result.Column) {
	for _, c := range weather.Columns() {
		list = append(list, result.Column{File: "weather/" + c.File, Name: c.Name, Unit: c.Unit, Meaning: c.Meaning})
	}
	return list
}

// heatFiles are the names of a heat table's files in its folder.
func heatFiles(t result.Table) []string {
	list := []string{result.DesignsFile, result.SitesFile, result.HeatFile}
	if t.Sensitivity {
		list = append(list, result.SensitivityFile)
	}
	return list
}
