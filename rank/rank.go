// Package rank puts a price on heat: from the heat table and the prices of each
// country it finds, for every site, outlet temperature and use, the design that
// does best, and writes the ranking, the maps and the bands of latitude.
//
// A use is a set of months. Only heat of those months counts, in full or as far
// as each month wants it. Heat is gross at the receiver, kWh/m²; the levelised cost
// (package cost) is per kWh delivered. Where no design delivers heat in the
// months of the use there is no best design, no cost and no ratio, and gas is
// not beaten. Equal costs go to less mirror per m² of receiver, then to the
// lower design number.
//
// Sites are taken one at a time in the order of the heat table, so files and
// sums do not depend on who computed the heat how fast. What they come to lies
// in a scratch file (package survey) until the files are written from it.
package rank

import (
	"cmp"
	"context"
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"stillrow/data/area"
	"stillrow/rank/cost"
	"stillrow/simulate/result"
)

// Options say what to rank and where to write.
type Options struct {
	Table       result.Table                      // what the blocks hold
	Uses        []Use                             // at least one, with different names
	Markets     []Market                          // at least one; the first serves sites that have none of their own
	MarketOf    func(result.Site) int             // number of a site's market, -1 for none; nil: all are in the first
	CountryOf   func(result.Site) string          // name or code of a site's country; nil: as the weather spells it
	By          By                                // what makes a design the best
	CostCap     float64                           // of ByHeat, per kWh
	Spread      func(*result.Block, *Pick) Spread // how sure a site's best is; nil: nobody knows
	Lives       Lives                             // empty: films keep their rated lives
	Materials   Materials                         // what the outlet temperature must not exceed
	BandDeg     float64                           // height of a latitude band, degrees; 0.1 to 90
	Currency    string                            // of every price, as a code or a sign
	Within      *area.Area                        // where places must lie, and what cells are clipped to; nil: anywhere
	Pictures    bool                              // also draw the maps and make a page of them
	Tiles       bool                              // also write the maps as one archive of vector tiles
	Title       string                            // of pictures and pages
	Source      string                            // one line under them: where weather and outlines come from
	Outline     []orb.Ring                        // coasts and borders around the places, degrees of longitude and latitude
	Columns     []result.Column                   // of files written by others, for columns.csv
	Out         string                            // folder for the files
	Fingerprint string                            // of what made the results, for the ranking's metadata; empty for none
	Workers     int                               // files written at a time; 0: one per processor, the most
	Progress    func(done, of int)                // called by Run after every site, unless nil
	Writing     func(done, of int)                // called as files are written, from any goroutine, unless nil
}

// validate names the study key that is wrong, as a *cost.KeyError where it is
// one value.
func (o *Options) validate() error {
	if len(o.Table.Designs) == 0 || len(o.Table.Outlets) == 0 {
		return fmt.Errorf("rank: %d designs and %d outlet temperatures, want at least one of each", len(o.Table.Designs), len(o.Table.Outlets))
	}
	if len(o.Markets) == 0 {
		return fmt.Errorf("rank: no market, want at least one")
	}
	for i := range o.Markets {
		if err := cmp.Or(o.Markets[i].Plan.Validate(), o.Markets[i].Gas.Validate()); err != nil {
			return o.inMarket(i, err)
		}
	}
	if err := o.validateBy(); err != nil {
		return err
	}
	if !(o.BandDeg >= 0.1 && o.BandDeg <= 90) {
		return &cost.KeyError{Key: "map.band_deg", Value: o.BandDeg, Want: "0.1 to 90"}
	}
	if o.Currency == "" {
		return &cost.KeyError{Key: "study.currency", Value: "", Want: "a code or a sign"}
	}
	if len(o.Uses) == 0 {
		return &cost.KeyError{Key: "use", Value: []Use{}, Want: "at least one"}
	}
	for i := range o.Uses {
		if err := o.Uses[i].Validate(i); err != nil {
			return err
		}
	}
	return nil
}

// check refuses a block that does not hold what the table says.
func (o *Options) check(b *result.Block) error {
	t := &o.Table
	if want := 12 * len(t.Designs) * len(t.Outlets); len(b.Heat) != want {
		return fmt.Errorf("rank: site %s: %d months of heat, want %d", b.Site.ID, len(b.Heat), want)
	}
	if want := result.Stresses * len(t.Designs) * len(t.Outlets); b.Stress != nil && len(b.Stress) != want {
		return fmt.Errorf("rank: site %s: %d stresses, want %d", b.Site.ID, len(b.Stress), want)
	}
	for i, h := range b.Heat {
		if !(h >= 0 && h <= math.MaxFloat32) {
			row := i / 12
			return fmt.Errorf("rank: site %s, design %d, outlet %g °C: heat of month %d is %g, want a number from 0",
				b.Site.ID, row%len(t.Designs), t.Outlets[row/len(t.Designs)], i%12+1, h)
		}
	}
	return nil
}

// Run ranks the heat table in folder heatDir; o.Table is taken from there. It
// stops with an error when ctx ends, and then writes nothing.
func Run(ctx context.Context, heatDir string, o Options) (Summary, error) {
	heat, err := result.Open(heatDir)
	if err != nil {
		return Summary{}, err
	}
	defer heat.Close()
	o.Table = heat.Table()
	k, err := New(o)
	if err != nil {
		return Summary{}, err
	}
	defer k.Abort()
	done, batch := 0, k.Batch()
	for b, err := range heat.Blocks(ctx) {
		if err != nil {
			return Summary{}, err
		}
		if err := batch.Add(b); err != nil {
			return Summary{}, err
		}
		if len(batch.places) == mostPlaces {
			if err := k.Take(batch); err != nil {
				return Summary{}, err
			}
			batch = k.Batch()
		}
		if done++; o.Progress != nil {
			o.Progress(done, len(heat.Sites()))
		}
	}
	if err := ctx.Err(); err != nil {
		return Summary{}, err
	}
	if err := k.Take(batch); err != nil {
		return Summary{}, err
	}
	return k.Finish(ctx)
}

// mostPlaces is how many places Run gathers before it hands them on.
const mostPlaces = 64
