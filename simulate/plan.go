package simulate

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"sync"

	"golang.org/x/sync/errgroup"

	"stillrow/simulate/collector"
	"stillrow/simulate/kernel"
	"stillrow/simulate/result"
	"stillrow/simulate/sun"
)

// Options say what is simulated.
type Options struct {
	Designs  []collector.Design // candidates, numbered from 0 in this order
	Receiver collector.Receiver
	Mirror   collector.Mirror
	Ground   collector.Ground
	Outlets  []collector.Outlet
	Wear     *Wear // nil: stresses are not worked out
	Workers  int   // sites at a time; 0 means one per processor
	Memory   int64 // bytes that what grows with the designs may take; 0: no limit

	// PickedStress works out stresses that no price needs for designs that Pick
	// chooses alone; for all others they are NaN. Doses, hours of frost and what
	// only the weather decides are there for every design.
	PickedStress bool

	// Pick chooses, from the finished block of a site, designs to simulate
	// again with each result.Param changed either way; nil: none. It must serve
	// several goroutines, and it may be set in a Plan that does not run yet, as
	// whoever picks may have to know its Table.
	Pick func(*result.Block) []result.Pick
}

// A Plan is a study ready to run: its optics are tabulated. It may serve
// several goroutines.
type Plan struct {
	Options
	groups []group
	lanes  []lane    // of each design
	gain   []float32 // of each row of the beam's table: its entry without a mirror
	sun    *almanac
	runs   sync.Pool // of *run, whose memory the next site uses again
}

// A group holds the designs whose rows have one azimuth: they see the sun at
// the same profile angles.
type group struct {
	azimuth sun.Angle
	designs []collector.Design  // one a lane
	heaters []*collector.Heater // one a lane
	field   kernel.Field
	direct  []float32 // share of the width that sees the sun, one row of lanes a bin of the profile angle
	strains *strains  // nil unless Options.Wear
}

// A lane says where a design is simulated; designs that are optically the same
// heater share one.
type lane struct{ group, lane int }

// Prepare validates the options and tabulates the optics.
func Prepare(ctx context.Context, o Options) (*Plan, error) {
	if o.Workers <= 0 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	p := &Plan{Options: o, sun: newAlmanac()}
	if err := p.validate(); err != nil {
		return nil, err
	}
	p.assign()
	if err := p.fits(); err != nil {
		return nil, err
	}
	t := collector.NewTabulator(&p.Receiver)
	for _, gain := range t.Gain() {
		p.gain = append(p.gain, float32(gain))
	}
	for i := range p.groups {
		if err := p.groups[i].tabulate(ctx, t, &p.Options); err != nil {
			return nil, err
		}
	}
	return p, nil
}

func (p *Plan) validate() error {
	if len(p.Designs) == 0 {
		return fmt.Errorf("designs: no candidate designs")
	}
	if len(p.Outlets) == 0 {
		return fmt.Errorf("heat.outlet_c: no outlet temperatures")
	}
	for i, d := range p.Designs {
		if err := d.Validate(); err != nil {
			return fmt.Errorf("design %d: %w", i, err)
		}
	}
	for _, o := range p.Outlets {
		if !(o.In <= o.Out) {
			return fmt.Errorf("heat: outlet %g °C is below its inlet %g °C", o.Out, o.In)
		}
	}
	if p.Receiver.Kb == nil {
		return fmt.Errorf("receiver.iam: missing")
	}
	if err := p.Receiver.Validate(); err != nil {
		return fmt.Errorf("receiver.%w", err)
	}
	if err := p.Mirror.Validate(); err != nil {
		return fmt.Errorf("mirror.%w", err)
	}
	if err := p.Ground.Validate(); err != nil {
		return fmt.Errorf("ground.%w", err)
	}
	p.Receiver.Kb = collector.Sample(p.Receiver.Kb)
	return nil
}

// assign puts each design into its lane. Without a mirror nothing of the
// geometry reaches the receiver's heat.
func (p *Plan) assign() {
	seen := make(map[collector.Design]lane)
	byAzimuth := make(map[float64]int)
	for _, d := range p.Designs {
		key := d
		if d.MirrorLength == 0 {
			key = collector.Design{ReceiverWidth: 1, MirrorTilt: 90}
		}
		l, ok := seen[key]
		if !ok {
			g, ok := byAzimuth[key.RowAzimuth]
			if !ok {
				g = len(p.groups)
				byAzimuth[key.RowAzimuth] = g
				p.groups = append(p.groups, group{azimuth: sun.Angle(key.RowAzimuth) * sun.Degree})
			}
			l = lane{g, len(p.groups[g].designs)}
			p.groups[g].designs = append(p.groups[g].designs, key)
			seen[key] = l
		}
		p.lanes = append(p.lanes, l)
	}
}

// ErrMemory means that the candidates need more than Options.Memory.
var ErrMemory = errors.New("more candidates than memory serves")

// fits refuses candidates whose tables and blocks take too much memory, before
// any is taken.
func (p *Plan) fits() error {
	lanes := int64(0)
	for i := range p.groups {
		lanes += int64(len(p.groups[i].designs))
	}
	const value = 4 // bytes
	table := int64(value * (collector.Rows + collector.PsiBins))
	if p.Wear != nil {
		table += strainBytes
	}
	tables := lanes * table
	blocks := int64(2*p.Workers) * int64(len(p.Designs)*len(p.Outlets)*value*(12+result.Stresses))
	if need := tables + blocks; p.Memory > 0 && need > p.Memory {
		return fmt.Errorf("designs: %w: %d of them at %d outlet temperatures take %d MiB, want at most %d", ErrMemory,
			len(p.Designs), len(p.Outlets), need>>20, p.Memory>>20)
	}
	return nil
}

func (g *group) tabulate(ctx context.Context, t *collector.Tabulator, o *Options) error {
	n := len(g.designs)
	g.heaters = make([]*collector.Heater, n)
	g.field = kernel.Field{
		Lanes:  n,
		Beam:   make([]float32, collector.Rows*n),
		Sky:    make([]float32, n),
		Ground: make([]float32, n),
	}
	g.direct = make([]float32, collector.PsiBins*n)
	if o.Wear != nil {
		g.strains = newStrains(n)
	}
	e, ctx := errgroup.WithContext(ctx)
	e.SetLimit(o.Workers)
	for i, d := range g.designs {
		e.Go(func() error {
			if err := ctx.Err(); err != nil {
				return err
			}
			h := collector.NewHeater(d, &o.Receiver, o.Mirror)
			g.heaters[i] = h
			g.field.Sky[i], g.field.Ground[i] = float32(h.Sky), float32(h.Ground)
			t.Tabulate(h, g.field.Beam, g.direct, n, i)
			if g.strains != nil {
				g.strains.tabulate(h, o.Ground, i)
			}
			return nil
		})
	}
	return e.Wait()
}

// Table describes the plan's blocks.
func (p *Plan) Table() result.Table {
	t := result.Table{Stress: p.Wear != nil, Sensitivity: p.Pick != nil}
	for _, d := range p.Designs {
		t.Designs = append(t.Designs, result.Design(d))
	}
	for _, o := range p.Outlets {
		t.Outlets = append(t.Outlets, o.Out)
	}
	return t
}

// Heater gives the optics of a design.
func (p *Plan) Heater(design int) *collector.Heater {
	l := p.lanes[design]
	return p.groups[l.group].heaters[l.lane]
}
