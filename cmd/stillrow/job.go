package main

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"path/filepath"
	"runtime"
	"runtime/debug"

	"stillrow/ingest/weather"
	"stillrow/rank"
	"stillrow/simulate"
	"stillrow/simulate/result"
)

// A job is what screen, simulate, their shards and merge do with a weather
// table: the same whoever does it, and where.
type job struct {
	command string // screen or simulate, as run.json names it
	study   string // name of its file, empty for the built-in one
	markets *markets
	table   *weather.Table
	out     string
	heat    string // folder of the heat table, empty for none
	ranked  bool
	tiles   bool
	outer   []result.Column // of files written beside, for columns.csv
	flags   workFlags
	plan    *simulate.Plan
	record  *runRecord
	work    *work
	ended   func()
	sum     rank.Summary // once the ranking is complete
}

// prepare works out what all sites share.
func (j *job) prepare(e *env) error {
	var err error
	if j.plan, err = prepare(e.ctx, j.markets.study(), &j.flags); err != nil {
		return err
	}
	j.record = newRecord(j.command, j.markets, j.study)
	j.record.Within, err = j.markets.within.record()
	return err
}

// begin opens the outputs. Close, which may always be deferred, throws away
// what finish has not completed. A shard writes none itself.
func (j *job) begin(e *env, shard bool) error {
	o := j.markets.ranking()
	kept := j.heat != ""
	if _, err := j.markets.sure(&o, j.plan, kept); err != nil {
		return err
	}
	table, err := tableDigest(j.table.Dir())
	if err != nil {
		return err
	}
	fingerprint, err := j.record.fingerprint(table)
	if err != nil {
		return err
	}
	o.Fingerprint = fingerprint
	j.plan.PickedStress = !kept // nobody reads those of other designs
	j.work = &work{plan: j.plan, table: j.table, blocks: kept}
	if j.ranked {
		o.Out, o.Tiles, o.Columns, o.Workers = j.out, j.tiles, j.outer, j.plan.Workers
		if kept {
			for _, c := range o.Table.Columns() {
				c.File = "heat/" + c.File
				o.Columns = append(o.Columns, c)
			}
		}
		if err := j.markets.frame(&o, resultSites(j.table.Sites)); err != nil {
			return err
		}
		o.Writing, j.ended = e.writing(j.flags.Quiet)
		if j.work.ranker, err = rank.New(o); err != nil {
			return err
		}
	}
	if kept && !shard {
		if j.work.heat, err = result.Create(j.heat, o.Table); err != nil {
			return err
		}
		j.work.heat.Fingerprint, j.work.heat.Weather = fingerprint, table
	}
	return nil
}

// fingerprint is the digest of what results come from: the program's version,
// the study as resolved, the area, and the weather table by its digest.
func (r *runRecord) fingerprint(table string) (string, error) {
	within := ""
	if r.Within != nil {
		within = r.Within.SHA256
	}
	sum := sha256.New()
	err := writeJSON(sum, []any{version, r.Settings, r.Books, within, table})
	r.Fingerprint = hex.EncodeToString(sum.Sum(nil))
	return r.Fingerprint, err
}

// run works out all sites, as far as no earlier run has.
func (j *job) run(e *env, times *timing) error {
	if err := j.prepare(e); err != nil {
		return err
	}
	times.stage("optics")
	if err := j.begin(e, false); err != nil {
		return err
	}
	return j.work.run(e, j.out, j.record, j.flags.Quiet)
}

func (j *job) close() {
	if j.ended != nil {
		j.ended()
	}
	if j.work == nil {
		return
	}
	if j.work.ranker != nil {
		j.work.ranker.Abort()
	}
	if j.work.heat != nil {
		j.work.heat.Abort()
	}
}

// end finishes the outputs and writes the record of the run, with the time of the
// stage that this ends.
func (j *job) end(e *env, times *timing, stage string) error {
	if err := j.finish(e); err != nil {
		return err
	}
	times.stage(stage)
	return j.record.write(j.out, times)
}

// finish completes the outputs and names them in the record.
func (j *job) finish(e *env) error {
	priced := j.plan.Table()
	// The tables of optics have served, and pictures and page want room: collected
	// now, and oftener than usual, they have it without the heap's growing.
	j.plan, j.work.plan = nil, nil
	runtime.GC()
	defer debug.SetGCPercent(debug.SetGCPercent(50))
	if j.work.heat != nil {
		if err := j.work.heat.Close(); err != nil {
			return err
		}
	}
	if j.ranked {
		var err error
		if j.sum, err = j.work.ranker.Finish(e.ctx); err != nil {
			return j.markets.within.explain(err)
		}
		j.record.Ranking = &j.sum
		j.record.Files = append(j.record.Files, j.sum.Files...)
	}
	if j.heat == "" {
		return nil
	}
	folder, err := filepath.Rel(j.out, j.heat)
	if err != nil {
		return err
	}
	for _, f := range heatFiles(priced) {
		j.record.Files = append(j.record.Files, filepath.ToSlash(filepath.Join(folder, f)))
	}
	return nil
}

// tables states the weather table that was taken in, as it was named.
func (j *job) tables(named string) error {
	files, err := weatherFiles(j.table.Dir(), "")
	if err != nil {
		return err
	}
	if j.record.Tables, err = inputFiles(j.table.Dir(), files); err != nil {
		return err
	}
	for i, f := range files {
		j.record.Tables[i].Name = filepath.ToSlash(filepath.Join(named, f))
	}
	j.record.Counts.Sites = len(j.table.Sites)
	return nil
}

// tell writes the summary to stdout.
func (j *job) tell(e *env) error {
	if j.ranked {
		return j.sum.WriteText(e.stdout)
	}
	s := j.markets.study()
	_, err := fmt.Fprintf(e.stdout, "%s × %s × %s in %s\n",
		count(len(j.table.Sites), "site"), count(len(s.Designs), "design"), count(len(s.Outlets), "outlet"), j.heat)
	return err
}
