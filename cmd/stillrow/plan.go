package main

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"

	"stillrow/data/area"
	"stillrow/data/outfile"
	"stillrow/ingest/weather"
)

// planFile is the plan's name in the output folder.
const planFile = "plan.json"

// A shardPlan says how a run is cut into shards, and on what: whoever has it and
// the weather table can do any of them. Parts of consecutive sites are the
// smallest pieces; a shard has those of one region.
type shardPlan struct {
	Program    string      `json:"program"`
	Version    string      `json:"version"` // of the build
	Command    string      `json:"command"`
	Weather    string      `json:"weather"` // folder of the table, as it was named
	TableSHA   string      `json:"weather_sha256"`
	Sites      int         `json:"sites"`
	PartSites  int         `json:"part_sites"`
	Study      string      `json:"study,omitempty"` // file; empty for the built-in one
	StudyText  string      `json:"study_text"`
	Within     string      `json:"within,omitempty"` // file
	WithinText string      `json:"within_text,omitempty"`
	KeepHeat   bool        `json:"keep_heat,omitempty"`
	Tiles      bool        `json:"tiles,omitempty"`
	Shards     []planShard `json:"shards"`

	path   string
	digest string
}

// A planShard is the parts of one shard, rising, and how many sites they have.
type planShard struct {
	Sites int   `json:"sites"`
	Parts []int `json:"parts"`
}

type planCmd struct {
	Shards  int    `required:"" help:"Shards to cut the work into." placeholder:"N"`
	Weather string `required:"" help:"Folder of the weather table." placeholder:"DIR"`
	studyFlag
	outFlag
	withinFlag
	For      string `help:"What the shards do: screen or simulate." enum:"screen,simulate" default:"screen"`
	KeepHeat bool   `help:"Screen also writes the heat table."`
	tilesFlag
	quietFlag
}

func (*planCmd) Help() string {
	return `Cuts the sites of a weather table into shards of equal work, each of neighbouring sites, and writes plan.json. Every shard is then done by 'stillrow screen --shard I/N --out DIR' (or simulate), I from 0 to N-1, on any machine that sees the folder and has this build of the program, in any order and as often as need be; 'stillrow merge DIR' makes of them what one run would have written, to the byte.

Example: stillrow plan --shards 16 --weather weather --study mine.toml --out result`
}

func (c *planCmd) Run(e *env) error {
	if c.Shards < 1 {
		return usagef("--shards=%d: want 1 or more", c.Shards)
	}
	if c.For == "simulate" && (c.Within != "" || c.KeepHeat || c.Tiles) {
		return usagef("--for=simulate: --within, --keep-heat and --tiles are for screen")
	}
	table, err := weather.Open(c.Weather)
	if err != nil {
		return err
	}
	defer table.Close()
	m, err := c.markets(resultSites(table.Sites)) // what is wrong with the study shows now
	if err != nil {
		return err
	}
	e.warn(m.warnings())
	p := &shardPlan{
		Program: "stillrow", Command: c.For, Weather: c.Weather, Sites: len(table.Sites), Study: c.study(),
		KeepHeat: c.KeepHeat, Tiles: c.Tiles,
	}
	if p.Version, err = programDigest(); err != nil {
		return err
	}
	if p.TableSHA, err = tableDigest(c.Weather); err != nil {
		return err
	}
	_, text, err := c.text()
	if err != nil {
		return err
	}
	p.StudyText = string(text)
	within, err := c.region(m.study())
	if err != nil {
		return err
	}
	if within != nil {
		if text, err = os.ReadFile(within.file); err != nil {
			return err
		}
		p.Within, p.WithinText = within.file, string(text)
	}
	s := m.study()
	size := sitesOfPart(math.MaxInt, len(s.Designs), len(s.Outlets), p.KeepHeat || p.Command == "simulate")
	if err := p.cut(table.Sites, c.Shards, size); err != nil {
		return err
	}
	held, err := e.lock(c.Out, "plan", c.Quiet)
	if err != nil {
		return err
	}
	defer held.Release()
	path := filepath.Join(c.Out, planFile)
	if err := outfile.Write(path, func(w io.Writer) error { return writeJSON(w, p) }); err != nil {
		return err
	}
	least := slices.MinFunc(p.Shards, func(a, b planShard) int { return cmp.Compare(a.Sites, b.Sites) })
	most := slices.MaxFunc(p.Shards, func(a, b planShard) int { return cmp.Compare(a.Sites, b.Sites) })
	_, err = fmt.Fprintf(e.stdout, "%s: %s of %d to %s\n", path, count(c.Shards, "shard"), least.Sites, count(most.Sites, "site"))
	return err
}

// shardParts is how many parts a shard has where the table is long enough, so
// that shards differ little in size and lose little when they are ended.
const shardParts = 16

// cut forms the shards: parts in the order of the map tiles they lie in, and of
// latitude within a tile, in equal shares. Parts have at most so many sites.
func (p *shardPlan) cut(sites []weather.Site, shards, most int) error {
	p.PartSites = max(1, min(most, len(sites)/(shards*shardParts)))
	if shards > len(sites) {
		return usagef("--shards=%d: the table has %s", shards, count(len(sites), "site"))
	}
	type located struct {
		part, sites int
		row, col    int // of the tile
		lat         float64
	}
	var parts []located
	for first := 0; first < len(sites); first += p.PartSites {
		end := min(first+p.PartSites, len(sites))
		at := &sites[(first+end)/2]
		parts = append(parts, located{
			len(parts), end - first, int(math.Floor(at.Lat / planTile)), int(math.Floor(at.Lon / planTile)), at.Lat,
		})
	}
	slices.SortFunc(parts, func(a, b located) int {
		return cmp.Or(cmp.Compare(a.row, b.row), cmp.Compare(a.col, b.col), cmp.Compare(a.lat, b.lat), cmp.Compare(a.part, b.part))
	})
	p.Shards = make([]planShard, shards)
	done := 0
	for _, x := range parts {
		// By the middle of the part, so that no shard is left without.
		s := &p.Shards[min(shards-1, (2*done+x.sites)*shards/(2*len(sites)))]
		s.Parts = append(s.Parts, x.part)
		s.Sites += x.sites
		done += x.sites
	}
	for i := range p.Shards {
		slices.Sort(p.Shards[i].Parts)
	}
	return nil
}

// planTile is the edge of the map tiles that shards are cut by, degrees.
const planTile = 10

// readPlan reads the plan in an output folder.
func readPlan(dir string) (*shardPlan, error) {
	path := filepath.Join(dir, planFile)
	text, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil, fmt.Errorf("%w: make one by 'stillrow plan'", err)
	}
	if err != nil {
		return nil, err
	}
	p := &shardPlan{path: path}
	if err := json.Unmarshal(text, p); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if err := p.check(); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	sum := sha256.Sum256(text)
	p.digest = hex.EncodeToString(sum[:])
	return p, nil
}

// check holds that every part is in one shard.
func (p *shardPlan) check() error {
	if p.Program != "stillrow" || p.PartSites < 1 || p.Sites < 1 || p.Command != "screen" && p.Command != "simulate" {
		return errors.New("not a plan of stillrow")
	}
	seen := make([]bool, (p.Sites+p.PartSites-1)/p.PartSites)
	for i, s := range p.Shards {
		for _, k := range s.Parts {
			if k < 0 || k >= len(seen) || seen[k] {
				return fmt.Errorf("shards[%d].parts: %d is no part, or one of another shard too", i, k)
			}
			seen[k] = true
		}
	}
	if k := slices.Index(seen, false); k >= 0 {
		return fmt.Errorf("shards: part %d is in none", k)
	}
	return nil
}

// region is the area of the plan, nil for none.
func (p *shardPlan) region() (*region, error) {
	if p.WithinText == "" {
		return nil, nil
	}
	a, err := area.Parse(p.Within, []byte(p.WithinText))
	if err != nil {
		return nil, fmt.Errorf("%s: within_text: %w", p.path, err)
	}
	return &region{a, p.Within, []byte(p.WithinText)}, nil
}
