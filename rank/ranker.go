package rank

import (
	"bufio"
	"fmt"
	"io"
	"path/filepath"
	"slices"

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
	markets []prices
	books   []BookSum
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
	k := &Ranker{o: o, sums: make([]sum, len(o.Table.Outlets)*len(o.Uses))}
	var err error
	if k.markets, err = pricesOf(&o); err != nil {
		return nil, err
	}
	k.bands = newBands(&o)
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
	if err := k.o.check(b); err != nil {
		return err
	}
	place, err := shape(&b.Site)
	if err != nil {
		return fmt.Errorf("rank: %w", err)
	}
	m, book, err := k.o.market(&b.Site)
	if err != nil {
		return fmt.Errorf("rank: %w", err)
	}
	p, t := &k.markets[m], &k.o.Table
	caps := make([][12]float64, len(k.o.Uses))
	for u := range caps {
		caps[u] = k.o.Uses[u].caps(&b.Site, p.market.Plan.DeliveredShare)
	}
	for i := range k.names {
		o, u := i/len(k.o.Uses), i%len(k.o.Uses)
		if u == 0 {
			if err := p.price(&k.choice, b, t, o); err != nil {
				return fmt.Errorf("rank: site %s: %w", b.Site.ID, err)
			}
		}
		p.choose(&k.choice, b, t, o, &caps[u])
		pick := p.pick(&k.choice, b, t, m, book, o, u, &caps[u])
		pick.Spread = k.o.spread(b, &pick)
		r, err := k.row(b, &pick)
		if err != nil {
			return fmt.Errorf("rank: site %s: %w", b.Site.ID, err)
		}
		k.bands.add(b.Site.Lat, o, u, &k.choice, p)
		k.sums[i].add(&r)
		if err := k.maps[i].Write(geojson.Feature{ID: r.SiteID, Geometry: place, Properties: r.mark()}); err != nil {
			return fmt.Errorf("%s: %w", k.files[i].path, err)
		}
		if err := k.ranking.Write(r, place); err != nil {
			return fmt.Errorf("%s: %w", k.files[len(k.names)].path, err)
		}
	}
	k.sites++
	k.countBook(book, p.gasHeat)
	return nil
}

// countBook counts a site of a book, in the order in which books turn up.
func (k *Ranker) countBook(book string, gasHeat float64) {
	i := slices.IndexFunc(k.books, func(s BookSum) bool { return s.Book == book })
	if i < 0 {
		i = len(k.books)
		k.books = append(k.books, BookSum{Book: book, GasHeat: gasHeat})
	}
	k.books[i].Sites++
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
	list := k.bands.list(&k.o)
	rules := k.bands.rules(&k.o, list)
	for _, text := range []struct {
		name  string
		write func(io.Writer) error
	}{
		{BandsFile, func(w io.Writer) error { return writeSheet(w, bandColumns, list) }},
		{TiltsFile, func(w io.Writer) error { return writeSheet(w, ruleColumns, rules) }},
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
	return k.summary(list, rules), nil
}

// Abort removes the files that Finish has not completed.
func (k *Ranker) Abort() {
	for _, f := range k.files {
		f.out.Abort()
	}
}
