package main

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"stillrow/data/outfile"
	"stillrow/rank"
	"stillrow/rank/cost"
	"stillrow/rank/sheet"
	"stillrow/simulate"
	"stillrow/simulate/collector"
	"stillrow/simulate/film"
	"stillrow/simulate/result"
)

// sheetFlags say what --sheet and --hourly are about.
type sheetFlags struct {
	Sheet  string  `help:"Write one design on a page for whoever builds it, F.html and beside it the same as a picture, F.png: what to cut and buy for a row, the tilt, how sure it is, what can go wrong." placeholder:"F.html"`
	Hourly string  `help:"Write every hour of one design to this file: --design, else the best for the use and outlet." placeholder:"F.csv"`
	Use    string  `help:"Use that --sheet and --hourly are about; by default the first that has a design." placeholder:"NAME"`
	Outlet float64 `help:"Outlet that --sheet and --hourly are about, °C; by default the use's first that has a design." placeholder:"T"`
	RowM   float64 `name:"row-m" help:"Length of the row that --sheet lists the materials of, m." default:"40" placeholder:"L"`
}

// The length of a row that a sheet is for, m: shorter is no row, and film comes
// in no longer rolls (common practice, no source).
const (
	usualRow                = 40
	shortestRow, longestRow = 1, 1000
)

func (f *sheetFlags) check() error {
	about := f.Sheet != "" || f.Hourly != ""
	switch {
	case f.Outlet != 0 && !about:
		return usagef("--outlet goes with --hourly or --sheet")
	case f.Use != "" && !about:
		return usagef("--use goes with --hourly or --sheet")
	case f.RowM != usualRow && f.Sheet == "":
		return usagef("--row-m goes with --sheet")
	case !(f.RowM >= shortestRow && f.RowM <= longestRow):
		return usagef("--row-m=%g: want %d to %d m", f.RowM, shortestRow, longestRow)
	case f.Sheet != "" && (filepath.Ext(f.Sheet) != ".html" || strings.TrimSuffix(filepath.Base(f.Sheet), ".html") == ""):
		return usagef("--sheet=%s: want a name that ends in .html; the picture goes beside it as .png", f.Sheet)
	}
	return nil
}

// known refuses a use or outlet that the study has not.
func (f *sheetFlags) known(r *siteReport) error {
	var uses []string
	for _, u := range r.study.Uses {
		uses = append(uses, u.Name)
	}
	if f.Use != "" && !slices.Contains(uses, f.Use) {
		return usagef("--use=%s: the study has the uses %s", f.Use, strings.Join(uses, ", "))
	}
	_, err := outletIndex(r.table.Outlets, f.Outlet)
	return err
}

// subject finds what the flags are about: of the first use that has a design,
// its first outlet that has one.
func (f *sheetFlags) subject(r *siteReport, flag string) (*siteResult, error) {
	if err := f.known(r); err != nil {
		return nil, err
	}
	var why []string
	for u, use := range r.study.Uses {
		for i := range r.results {
			res := &r.results[i]
			if res.use != u || f.Use != "" && use.Name != f.Use || f.Outlet != 0 && res.Outlet != f.Outlet {
				continue
			}
			if res.design >= 0 && res.LCOH != nil {
				return res, nil
			}
			why = append(why, fmt.Sprintf("%s at %g °C: %s", use.Name, res.Outlet, res.Without))
		}
	}
	return nil, fmt.Errorf("%s: no design to build here: %s", flag, strings.Join(why, "; "))
}

// writeSheet writes the page of one design and its picture.
func (f *sheetFlags) writeSheet(e *env, plan *simulate.Plan, r *siteReport, workers int, notes io.Writer) error {
	res, err := f.subject(r, "--sheet")
	if err != nil {
		return err
	}
	page, err := r.sheet(e.ctx, plan, res, f.RowM, workers)
	if err != nil {
		return err
	}
	picture := strings.TrimSuffix(f.Sheet, ".html") + ".png"
	if err := outfile.Write(f.Sheet, page.HTML); err != nil {
		return err
	}
	if err := outfile.Write(picture, page.PNG); err != nil {
		return err
	}
	fmt.Fprintf(notes, "%s, %s: %s, %s at %g °C\n", f.Sheet, picture, describe(*res.Design), res.Use, res.Outlet)
	return nil
}

// sheet puts one result on a page.
func (r *siteReport) sheet(ctx context.Context, plan *simulate.Plan, res *siteResult, row float64, workers int) (*sheet.Sheet, error) {
	s, site, out := r.study, r.place.site, r.study.Outlets[res.outlet]
	page := &sheet.Sheet{
		Place: site.Name, Where: fmt.Sprintf("%s, %.0f m", coordinates(site.Lat, site.Lon), site.Elevation), Lat: site.Lat,
		Weather: site.Source, Study: s.Name, Book: "cost book " + r.book, Currency: s.Currency,
		Use: res.Use, Months: r.pick(res).Months, Outlet: out.Out, Inlet: out.In,
		Design: result.Design(*res.Design), Rho: s.Mirror.Rho(),
		Layers:    sheet.Layers{WaterDepth: s.Receiver.WaterDepth},
		RowLength: row, Items: s.Plan.Worn(s.Lives.Strain(r.block, &r.table, res.outlet, res.design)).Items,
		Plan: sheet.Plan{LabourPerH: s.Plan.LabourPerH, SiteReceiverM2: s.Plan.SiteReceiverM2},
		Cost: sheet.Cost{
			LCOH: *res.LCOH, Gas: res.GasHeat, P10: res.P10, P90: res.P90, Sure: res.BeatsGas,
			Payback: res.Payback, Saving: *res.Saving, Heat: res.Heat,
			Share: s.Plan.DeliveredShare, Fade: s.Plan.Fade, Years: s.Plan.HorizonYears,
			Delivered: s.Plan.PVHeat(res.Heat) * cost.CRF(s.Plan.HorizonYears, s.Plan.DiscountRate),
		},
		Cautions: r.buildCautions(res), Assumed: r.assumed(res, row), Parameters: r.parameters(),
	}
	for _, p := range res.Split {
		page.Cost.Parts = append(page.Cost.Parts, sheet.Part{Item: p.Item, Unit: p.Unit, PerKWh: p.PerKWh})
	}
	if n := res.RunnerUp; n != nil {
		mirror := "no mirror"
		if n.Design.MirrorLength > 0 {
			mirror = "mirror " + mirrorOf(r.table.Designs[n.design])
		}
		page.NextBest = fmt.Sprintf("%s, %+.1f\u00a0%% in cost", mirror, n.Extra)
	}
	if s.Preset != "" {
		_, films, err := film.Preset(s.Preset)
		if err != nil {
			return nil, err
		}
		for _, c := range films.Clear {
			page.Layers.Clear = append(page.Layers.Clear, c.Name)
		}
		page.Layers.Black, page.Layers.Foam, page.Layers.FoamDepth = films.Black.Name, films.Foam.Name, films.Foam.Thickness
	}
	var err error
	if page.Heat, err = r.byOutlet(ctx, res, workers); err != nil {
		return nil, err
	}
	page.Noon, page.Peak, err = r.noon(plan, res, &page.Months)
	return page, err
}

// pick is where a result comes from.
func (r *siteReport) pick(res *siteResult) *rank.Pick {
	return &r.picks[slices.IndexFunc(r.picks, func(k rank.Pick) bool { return k.Outlet == res.outlet && k.Use == res.use })]
}

// byOutlet gives the months of a result's design at every outlet, and those of
// the receiver without a mirror: of a candidate that has none, else of one made
// for it.
func (r *siteReport) byOutlet(ctx context.Context, res *siteResult, workers int) ([]sheet.Heat, error) {
	block, table := r.block, &r.table
	plain := slices.IndexFunc(table.Designs, func(d result.Design) bool {
		return d.MirrorLength == 0 && d.ReceiverWidth == res.Design.ReceiverWidth
	})
	if plain < 0 {
		bare := *r.study
		design := *res.Design
		design.MirrorLength = 0
		bare.Designs = []collector.Design{design}
		plan, err := prepare(ctx, &bare, &workFlags{workersFlag: workersFlag{workers}})
		if err != nil {
			return nil, err
		}
		if block, err = plan.Site(r.place.site, r.place.year); err != nil {
			return nil, err
		}
		t := plan.Table()
		table, plain = &t, 0
	}
	list := make([]sheet.Heat, len(r.table.Outlets))
	for o, t := range r.table.Outlets {
		list[o].Outlet = t
		for m := range 12 {
			list[o].With[m] = float64(r.block.Months(&r.table, o, res.design)[m])
			list[o].Without[m] = float64(block.Months(table, o, plain)[m])
		}
	}
	return list, nil
}

// noon finds the hours in which a result's design delivers most, in some months
// and in the year.
func (r *siteReport) noon(plan *simulate.Plan, res *siteResult, months *[12]bool) (within, year sheet.Noon, err error) {
	steps, err := plan.Hourly(r.place.site, r.place.year, res.design, res.outlet)
	if err != nil {
		return within, year, err
	}
	for s := range steps {
		at := time.Date(2001, 1, 1, s.Hour, 0, 0, 0, time.UTC)
		n := sheet.Noon{Hour: at.Format("15:04 on 2 January"), Heat: s.Ledger.Delivered}
		if n.Heat > year.Heat {
			year = n
		}
		if months[at.Month()-1] && n.Heat > within.Heat {
			within = n
		}
	}
	return within, year, nil
}
