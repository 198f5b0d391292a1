package main

import (
	"bytes"
	"cmp"
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
	"stillrow/rank"
	"stillrow/simulate"
	"stillrow/simulate/result"
)

type screenCmd struct {
	Files []string `arg:"" optional:"" name:"F" help:"Weather files, folders or globs; none: the embedded demo."`
	studyFlag
	outFlag
	clockFlag
	gridFlags
	KeepHeat bool `help:"Also write the heat table, heat/ in the output folder."`
	tilesFlag
	workFlags
}

func (*screenCmd) Help() string {
	return `The whole job: repairs the weather, simulates every hour of every candidate design at every outlet temperature, prices the heat, and writes ranking.parquet, map-*.geojson with their pictures in .png and .svg, the page map.html, bands.csv, tilts.csv, columns.csv, run.json and timing.json, with the weather table in weather/. The summary goes to stdout.

Example: stillrow screen --study mine.toml --out result stations/*.epw`
}

func (c *screenCmd) Run(e *env) error {
	if err := c.check(); err != nil {
		return err
	}
	book, sources := study.DefaultBook, []ingest.Source(nil)
	var err error
	if len(c.Files) == 0 {
		book, sources = demoBook, []ingest.Source{demoSource{}}
	} else if sources, err = ingest.Files(c.Files); err != nil {
		err = usageError{err}
	}
	if err != nil {
		return err
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
	table := filepath.Join(c.Out, "weather")
	sum, err := ingestTo(e, ingest.Options{Sources: sources, Out: table, Clock: c.clock()}, within, &c.gridFlags, &c.workFlags)
	if err != nil {
		return err
	}
	times.stage("ingest")

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
	plan, err := prepare(e.ctx, m.study(), c.Workers)
	if err != nil {
		return err
	}
	times.stage("optics")
	record := newRecord("screen", m, c.study())
	if record.Within, err = within.record(); err != nil {
		return err
	}
	ranking, err := c.simulate(e, plan, m, places, record)
	if err != nil {
		return err
	}
	record.Clock = c.Clock
	record.ingested(sum)
	times.stage("simulate and rank")
	record.Ranking = &ranking
	files, err := weatherFiles(table, "weather")
	if err != nil {
		return err
	}
	record.Files = append(files, ranking.Files...)
	if c.KeepHeat {
		for _, f := range heatFiles(plan.Table()) {
			record.Files = append(record.Files, "heat/"+f)
		}
	}
	if err := record.write(c.Out, times); err != nil {
		return err
	}
	if err := cmp.Or(dropParts(c.Out), ingest.DropJournal(table)); err != nil {
		return err
	}
	if err := ranking.WriteText(e.stdout); err != nil {
		return err
	}
	return setAside(e, sum)
}

// simulate runs the plan over the weather table and ranks each site as it
// comes.
func (c *screenCmd) simulate(e *env, plan *simulate.Plan, m *markets, table *weather.Table, record *runRecord) (rank.Summary, error) {
	o := m.ranking()
	if _, err := m.sure(&o, plan); err != nil {
		return rank.Summary{}, err
	}
	plan.PickedStress = !c.KeepHeat // nobody reads those of other designs
	o.Out, o.Tiles, o.Columns = c.Out, c.Tiles, otherColumns(o.Table, c.KeepHeat)
	if err := m.frame(&o, resultSites(table.Sites)); err != nil {
		return rank.Summary{}, err
	}
	writing, end := e.writing(c.Quiet)
	defer end()
	o.Writing = writing
	ranker, err := rank.New(o)
	if err != nil {
		return rank.Summary{}, err
	}
	defer ranker.Abort()
	w := &work{plan: plan, table: table, ranker: ranker}
	if c.KeepHeat {
		if w.heat, err = result.Create(filepath.Join(c.Out, "heat"), o.Table); err != nil {
			return rank.Summary{}, err
		}
		defer w.heat.Abort()
	}
	if err := w.run(e, c.Out, record, &c.workFlags); err != nil {
		return rank.Summary{}, err
	}
	if w.heat != nil {
		if err := w.heat.Close(); err != nil {
			return rank.Summary{}, err
		}
	}
	return ranker.Finish(e.ctx)
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
	defer end()
	o.Workers, o.Progress = w.Workers, step
	sum, err := ingest.Run(e.ctx, o)
	if err != nil && e.ctx.Err() == nil {
		for _, reason := range sum.Reasons() {
			e.log(w.Quiet).Warn("set aside: " + reason)
		}
	}
	return sum, err
}

func prepare(ctx context.Context, s *study.Study, workers int) (*simulate.Plan, error) {
	o := s.Simulation()
	o.Workers = workers
	return simulate.Prepare(ctx, o)
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

// otherColumns describes the files beside those of the ranking.
func otherColumns(t result.Table, heat bool) (list []result.Column) {
	for _, c := range weather.Columns() {
		list = append(list, result.Column{File: "weather/" + c.File, Name: c.Name, Unit: c.Unit, Meaning: c.Meaning})
	}
	if heat {
		for _, c := range t.Columns() {
			c.File = "heat/" + c.File
			list = append(list, c)
		}
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
