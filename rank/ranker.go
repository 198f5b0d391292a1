package rank

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"path/filepath"

	"stillrow/data/outfile"
	"stillrow/rank/geojson"
	"stillrow/rank/geoparquet"
	"stillrow/simulate/result"
)

// A Ranker ranks sites one after the other. Its files appear with Finish;
// Abort, which may always be deferred, throws away what Finish has not
// completed.
type Ranker struct {
	o       Options
	prices  prices
	choice  choice
	bands   bands
	sums    []sum // by outlet·len(Uses)+use
	names   []string
	maps    []*geojson.Writer // the same order
	ranking *geoparquet.Writer[row]
	files   []*file // every map, then the ranking
	sites   int
}

// A file is an output under its temporary name, buffered.
type file struct {
	path string
	out  *outfile.File
	buf  *bufio.Writer
}

// New checks the options and begins the files in o.Out.
func New(o Options) (*Ranker, error) {
	if err := o.validate(); err != nil {
		return nil, err
	}
	k := &Ranker{o: o, sums: make([]sum, len(o.Table.Outlets)*len(o.Uses))}
	var err error
	if k.prices, err = newPrices(&o); err != nil {
		return nil, err
	}
	k.bands = bands{height: o.BandDeg, outlets: len(o.Table.Outlets), uses: len(o.Uses), designs: len(o.Table.Designs), tallies: make(map[int][]tally)}
	if k.names, err = mapNames(o.Table.Outlets, o.Uses); err != nil {
		return nil, err
	}
	if err := k.begin(); err != nil {
		k.Abort()
		return nil, err
	}
	return k, nil
}

func (k *Ranker) begin() error {
	for i, name := range k.names {
		f, err := k.create(name)
		if err != nil {
			return err
		}
		m, err := geojson.NewWriter(f.buf, map[string]any{
			"currency": k.o.Currency, "use": valid(k.use(i)), "outlet_c": k.outlet(i),
		})
		if err != nil {
			return fmt.Errorf("%s: %w", f.path, err)
		}
		k.maps = append(k.maps, m)
	}
	f, err := k.create(RankingFile)
	if err != nil {
		return err
	}
	k.ranking = geoparquet.NewWriter(f.buf, func(r *row) *geoparquet.Shape { return &r.Shape },
		map[string]string{"stillrow.currency": k.o.Currency})
	return nil
}

func (k *Ranker) create(name string) (*file, error) {
	f := &file{path: filepath.Join(k.o.Out, name)}
	var err error
	if f.out, err = outfile.Create(f.path); err != nil {
		return nil, err
	}
	f.buf = bufio.NewWriterSize(f.out, 1<<16)
	k.files = append(k.files, f)
	return f, nil
}

// use and outlet are those of map i.
func (k *Ranker) use(i int) string     { return k.o.Uses[i%len(k.o.Uses)].Name }
func (k *Ranker) outlet(i int) float64 { return k.o.Table.Outlets[i/len(k.o.Uses)] }

// Add ranks the next site of the heat table. It does not keep the block. A
// block it refuses for what is in it leaves no trace.
func (k *Ranker) Add(b *result.Block) error {
	t := &k.o.Table
	if want := 12 * len(t.Designs) * len(t.Outlets); len(b.Heat) != want {
		return fmt.Errorf("rank: site %s: %d months of heat, want %d", b.Site.ID, len(b.Heat), want)
	}
	for i, h := range b.Heat {
		if !(h >= 0 && h <= math.MaxFloat32) {
			row := i / 12
			return fmt.Errorf("rank: site %s, design %d, outlet %g °C: heat of month %d is %g, want a number from 0",
				b.Site.ID, row%len(t.Designs), t.Outlets[row/len(t.Designs)], i%12+1, h)
		}
	}
	place, err := shape(&b.Site)
	if err != nil {
		return fmt.Errorf("rank: %w", err)
	}
	for i := range k.names {
		o, u := i/len(k.o.Uses), i%len(k.o.Uses)
		if u == 0 {
			if err := k.prices.price(&k.choice, b, t, o); err != nil {
				return fmt.Errorf("rank: site %s: %w", b.Site.ID, err)
			}
		}
		k.prices.choose(&k.choice, b, t, o, k.o.Uses[u].window(&b.Site))
		k.bands.add(b.Site.Lat, o, u, &k.choice, k.prices.gasHeat)
		r := k.prices.row(b, t, o, k.o.Uses[u].Name, &k.choice)
		k.sums[i].add(&r)
		if err := k.maps[i].Write(geojson.Feature{ID: r.SiteID, Geometry: place, Properties: r.mark()}); err != nil {
			return fmt.Errorf("%s: %w", k.files[i].path, err)
		}
		if err := k.ranking.Write(r, place); err != nil {
			return fmt.Errorf("%s: %w", k.files[len(k.names)].path, err)
		}
	}
	k.sites++
	return nil
}

// Finish completes the files and gives them their names. Nothing appears
// before all of them are complete.
func (k *Ranker) Finish() (Summary, error) {
	defer k.Abort()
	for i, m := range k.maps {
		if err := m.Close(); err != nil {
			return Summary{}, fmt.Errorf("%s: %w", k.files[i].path, err)
		}
	}
	if err := k.ranking.Close(); err != nil {
		return Summary{}, fmt.Errorf("%s: %w", k.files[len(k.names)].path, err)
	}
	list := k.bands.list(&k.prices, k.o.Table.Outlets, k.o.Uses)
	for _, text := range []struct {
		name  string
		write func(io.Writer) error
	}{
		{BandsFile, func(w io.Writer) error { return writeBands(w, list) }},
		{ColumnsFile, func(w io.Writer) error { return writeColumns(w, columns(k.o.Currency, k.o.Columns)) }},
	} {
		f, err := k.create(text.name)
		if err != nil {
			return Summary{}, err
		}
		if err := text.write(f.buf); err != nil {
			return Summary{}, fmt.Errorf("%s: %w", f.path, err)
		}
	}
	for _, f := range k.files {
		if err := f.buf.Flush(); err != nil {
			return Summary{}, fmt.Errorf("%s: %w", f.path, err)
		}
	}
	for _, f := range k.files {
		if err := f.out.Commit(); err != nil {
			return Summary{}, err
		}
	}
	return k.summary(list), nil
}

// Abort removes the files that Finish has not completed.
func (k *Ranker) Abort() {
	for _, f := range k.files {
		f.out.Abort()
	}
}
