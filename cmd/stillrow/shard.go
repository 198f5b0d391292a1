package main

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"stillrow/data/bucket"
	"stillrow/data/partstore"
	"stillrow/ingest/weather"
)

// shardFlags make a command do one shard of a plan.
type shardFlags struct {
	Shard string `help:"Do shard I of the N of the plan in the output folder, I from 0; '/N' takes I from SLURM_ARRAY_TASK_ID or JOB_COMPLETION_INDEX." placeholder:"I/N"`
	Parts string `help:"Where finished parts of shards go: a folder, file://, or in builds with object stores s3:// or gs://; by default parts/ in the output folder." placeholder:"PLACE"`
}

// indexVariables are where schedulers put the number of an array's task.
var indexVariables = []string{"SLURM_ARRAY_TASK_ID", "JOB_COMPLETION_INDEX"}

// which gives the number of the shard and of all.
func (f *shardFlags) which(getenv func(string) string) (i, n int, err error) {
	number, of, ok := strings.Cut(f.Shard, "/")
	if n, err = strconv.Atoi(of); !ok || err != nil || n < 1 {
		return 0, 0, usagef("--shard=%s: want I/N, such as 3/16", f.Shard)
	}
	from := ""
	if number == "" {
		for _, name := range indexVariables {
			if number = getenv(name); number != "" {
				from = " by " + name
				break
			}
		}
		if number == "" {
			return 0, 0, usagef("--shard=%s: neither %s is set", f.Shard, strings.Join(indexVariables, " nor "))
		}
	}
	if i, err = strconv.Atoi(number); err != nil || i < 0 || i >= n {
		return 0, 0, usagef("--shard=%s: number %q%s, want 0 to %d", f.Shard, number, from, n-1)
	}
	return i, n, nil
}

// A shardNote lies beside the parts of a shard when all of them are there.
type shardNote struct {
	Version string `json:"version"` // of the build
	Command string `json:"command"`
	Plan    string `json:"plan_sha256"`
	Study   string `json:"study_sha256"` // as resolved
	Weather string `json:"weather_sha256"`
	Shard   int    `json:"shard"`
	Of      int    `json:"of"`
	Parts   []int  `json:"parts"`
	Sites   int    `json:"sites"`
}

const shardNoteFile = "complete.json"

// shardName is that of shard i, which its blobs begin with.
func shardName(i, n int) string { return fmt.Sprintf("%04d-of-%04d", i, n) }

// openParts gives the place of the parts.
func openParts(e *env, place, out string) (bucket.Bucket, string, error) {
	if place == "" {
		place = filepath.Join(out, "parts")
	}
	b, err := bucket.Open(e.ctx, place)
	if err != nil {
		return nil, "", fmt.Errorf("--parts: %w", err)
	}
	return b, place, nil
}

// shardsFolder has, in the output folder, what shards write while at work. It
// stays until the merge: a shard that removed it might take it from under another
// that begins.
const shardsFolder = ".shards"

// run does a shard.
func (f *shardFlags) run(e *env, command, out, table string, studyFile *string, w workFlags) error {
	i, n, err := f.which(os.Getenv)
	if err != nil {
		return err
	}
	p, err := readPlan(out)
	if err != nil {
		return err
	}
	switch {
	case n != len(p.Shards):
		return usagef("--shard=%s: %s has %s", f.Shard, p.path, count(len(p.Shards), "shard"))
	case command != p.Command:
		return usagef("%s is for 'stillrow %s --shard', not %s", p.path, p.Command, command)
	}
	if studyFile != nil {
		_, text, err := studyFlag{studyFile}.text()
		if err != nil {
			return err
		}
		if string(text) != p.StudyText {
			return usagef("--study=%s: differs from the study in %s; leave it out, or make a new plan", *studyFile, p.path)
		}
	}
	j, err := p.job(e, out, table, w)
	if err != nil {
		return err
	}
	defer j.table.Close()
	parts, place, err := openParts(e, f.Parts, out)
	if err != nil {
		return err
	}
	defer parts.Close()
	// Others work in the output folder at the same time.
	j.out = filepath.Join(out, shardsFolder, shardName(i, n))
	held, err := e.lock(j.out, command, w.Quiet)
	if err != nil {
		return err
	}
	defer func() {
		held.Release()
		os.Remove(j.out) // if nothing is left in it
	}()
	defer j.close() // before that: the findings lie in the folder
	if err := j.prepare(e); err != nil {
		return err
	}
	if err := j.begin(e, true); err != nil {
		return err
	}
	store, note, err := p.shard(j, parts, i)
	if err != nil {
		return err
	}
	if err := j.work.each(e, store, shardName(i, n), note.Parts, w.Quiet, func(*piece) error { return nil }); err != nil {
		return err
	}
	text, err := json.Marshal(note)
	if err != nil {
		return err
	}
	if err := store.Note(e.ctx, shardNoteFile, text); err != nil {
		return err
	}
	_, err = fmt.Fprintf(e.stdout, "shard %d of %d: %s in %s\n", i, n, count(note.Sites, "site"), place)
	return err
}

// job sets up what the plan says, on a weather table that may lie elsewhere than
// the plan names.
func (p *shardPlan) job(e *env, out, table string, w workFlags) (*job, error) {
	version, err := programDigest()
	if err != nil {
		return nil, err
	}
	if version != p.Version {
		return nil, fmt.Errorf("%s: made by another build of the program (%s, this is %s); use one build for all", p.path, p.Version, version)
	}
	if table == "" {
		table = p.Weather
	}
	sum, err := tableDigest(table)
	if err != nil {
		return nil, err
	}
	if sum != p.TableSHA {
		return nil, fmt.Errorf("%s: another weather table than the plan's (%s): SHA-256 of its site table %s, want %s", table, p.path, sum, p.TableSHA)
	}
	t, err := weather.Open(table)
	if err != nil {
		return nil, err
	}
	name := p.Study
	if name == "" {
		name = "built-in " + builtIn
	}
	m, err := marketsIn(name, []byte(p.StudyText), resultSites(t.Sites))
	if err == nil {
		m.within, err = p.region()
	}
	if err != nil {
		t.Close()
		return nil, err
	}
	j := &job{
		command: p.Command, study: p.Study, markets: m, table: t, out: out, ranked: p.Command == "screen", tiles: p.Tiles,
		flags: w,
	}
	switch {
	case p.Command == "simulate":
		j.heat = out
	case p.KeepHeat:
		j.heat = filepath.Join(out, "heat")
	}
	return j, nil
}

// shard gives the store of shard i and the note that it is to have.
func (p *shardPlan) shard(j *job, parts bucket.Bucket, i int) (*partstore.Store, *shardNote, error) {
	j.work.size = p.PartSites
	key, err := j.work.key(j.record)
	if err != nil {
		return nil, nil, err
	}
	study, err := json.Marshal([]any{j.record.Settings, j.record.Books})
	if err != nil {
		return nil, nil, err
	}
	sum := sha256.Sum256(study)
	return partstore.New(parts, shardName(i, len(p.Shards))+"-", key), &shardNote{
		Version: p.Version, Command: p.Command, Plan: p.digest, Study: hex.EncodeToString(sum[:]), Weather: p.TableSHA,
		Shard: i, Of: len(p.Shards), Parts: p.Shards[i].Parts, Sites: p.Shards[i].Sites,
	}, nil
}

type mergeCmd struct {
	Dir     string `arg:"" name:"DIR" help:"Output folder with the plan."`
	Parts   string `help:"Where the finished parts of shards lie, as for --shard; by default parts/ in the output folder." placeholder:"PLACE"`
	Weather string `help:"Where the weather table lies, if not where the plan says." placeholder:"DIR"`
	workFlags
}

func (*mergeCmd) Help() string {
	return `Puts the shards of a plan together: checks that every one is there, whole, and of the same plan, study, weather and build, and writes what one run would have written. Nothing is written while one is missing; the parts stay.

Example: stillrow merge result`
}

func (c *mergeCmd) Run(e *env) error {
	if err := c.check(); err != nil {
		return err
	}
	p, err := readPlan(c.Dir)
	if err != nil {
		return err
	}
	j, err := p.job(e, c.Dir, c.Weather, c.workFlags)
	if err != nil {
		return err
	}
	defer j.table.Close()
	defer j.close()
	held, err := e.lock(c.Dir, "merge", c.Quiet)
	if err != nil {
		return err
	}
	defer held.Release()
	times := startTiming(c.workers())
	if err := j.prepare(e); err != nil {
		return err
	}
	times.stage("optics")
	if err := j.begin(e, false); err != nil {
		return err
	}
	parts, place, err := openParts(e, c.Parts, c.Dir)
	if err != nil {
		return err
	}
	defer parts.Close()
	stores := make([]*partstore.Store, (p.Sites+p.PartSites-1)/p.PartSites)
	var faults []error
	for i := range p.Shards {
		store, want, err := p.shard(j, parts, i)
		if err != nil {
			return err
		}
		if err := want.check(e, store); err != nil {
			faults = append(faults, fmt.Errorf("shard %d of %d: %w", i, len(p.Shards), err))
			continue
		}
		for _, k := range want.Parts {
			stores[k] = store
		}
	}
	if len(faults) > 0 {
		return fmt.Errorf("%s: nothing merged:\n%w", place, errors.Join(faults...))
	}
	if err := j.work.merge(e, stores); err != nil {
		return fmt.Errorf("nothing merged: %w", err)
	}
	if err := j.tables(p.Weather); err != nil {
		return err
	}
	if err := j.end(e, times, "merge"); err != nil {
		return err
	}
	os.Remove(filepath.Join(c.Dir, shardsFolder)) // if no shard is at work
	return j.tell(e)
}

// check compares the note of a shard with what it is to be.
func (want *shardNote) check(e *env, store *partstore.Store) error {
	text, err := store.ReadNote(e.ctx, shardNoteFile)
	if errors.Is(err, os.ErrNotExist) {
		there, _ := store.Numbers(e.ctx)
		return fmt.Errorf("not complete: %d of %s there", len(there), count(len(want.Parts), "part"))
	}
	if err != nil {
		return err
	}
	var got shardNote
	if err := json.Unmarshal(text, &got); err != nil {
		return fmt.Errorf("%s: %w", shardNoteFile, err)
	}
	for _, f := range []struct{ what, got, want string }{
		{"build of the program", got.Version, want.Version},
		{"command", got.Command, want.Command},
		{"weather", got.Weather, want.Weather},
		{"study", got.Study, want.Study},
		{"plan", got.Plan, want.Plan},
	} {
		if f.got != f.want {
			return fmt.Errorf("of another %s (%s, want %s)", f.what, f.got, f.want)
		}
	}
	return nil
}

// merge hands on all parts, each from its store, in order.
func (w *work) merge(e *env, stores []*partstore.Store) error {
	for k, store := range stores {
		if err := e.ctx.Err(); err != nil {
			return err
		}
		p, err := w.load(e.ctx, store, k)
		if err != nil {
			return fmt.Errorf("%w; do its shard again", err)
		}
		if err := w.take(p); err != nil {
			return err
		}
	}
	return nil
}
