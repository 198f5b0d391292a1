package ingest

import (
	"fmt"
	"slices"

	"stillrow/ingest/repair"
)

// Status of an input.
const (
	StatusOK       = "ok"
	StatusSetAside = "set aside"
	StatusOutside  = "outside" // the area of the places to keep
	StatusJoined   = "joined"  // read along with the file that has the irradiance
)

// An Input is what became of one source.
type Input struct {
	Name   string `json:"name"`
	Size   int64  `json:"size_bytes,omitempty"`
	SHA256 string `json:"sha256,omitempty"`
	SiteID string `json:"site_id,omitempty"` // of an input that is one place
	Sites  int    `json:"sites"`
	Status string `json:"status"`
	Reason string `json:"reason,omitempty"` // why it was set aside
	Cells  *Cells `json:"cells,omitempty"`  // of an input that is many places
	repair.Report
}

// Cells counts the places of a table or grid.
type Cells struct {
	All      int        `json:"all"`               // in the file; of files joined, those they share
	Outside  int        `json:"outside,omitempty"` // the area of the places to keep
	Thinned  int        `json:"thinned,omitempty"` // left out by --every, or the same pole as another
	Empty    int        `json:"empty,omitempty"`   // without data
	SetAside int        `json:"set_aside"`
	Reasons  []string   `json:"reasons,omitempty"` // why: what several share is one line, with their number and the first
	With     []string   `json:"with,omitempty"`    // files joined to this one
	GHIRange [2]float64 `json:"ghi_kwh_m2_range"`  // least and most yearly GHI of a site
	DNIRange [2]float64 `json:"dni_kwh_m2_range"`  // the same of DNI

	things string // what they are called
	why    reasons
}

// add counts a finished place.
func (in *Input) add(d *finished) {
	if in.Cells == nil {
		in.Report = d.report
		switch {
		case d.err != nil:
			in.Status, in.Reason = StatusSetAside, d.err.Error()
		case d.outside:
			in.Status = StatusOutside
		default:
			in.SiteID, in.Status, in.Sites = d.site.ID, StatusOK, 1
		}
		return
	}
	c := in.Cells
	switch {
	case d.err != nil:
		c.SetAside++
		c.why.add(d.id, in.Name, d.err)
	case d.empty:
		c.Empty++
	case d.outside:
		c.Outside++
	default:
		for _, r := range []struct {
			of *[2]float64
			v  float64
		}{{&c.GHIRange, d.report.GHI}, {&c.DNIRange, d.report.DNI}} {
			if in.Sites == 0 {
				*r.of = [2]float64{r.v, r.v}
			}
			r.of[0], r.of[1] = min(r.of[0], r.v), max(r.of[1], r.v)
		}
		in.Report.Merge(&d.report, in.Sites, d.site.ID)
		in.Sites++
	}
}

// lose sets an input of many places aside as a whole.
func (in *Input) lose(why error) {
	in.Status, in.Reason = StatusSetAside, why.Error()
	in.Sites, in.Report = 0, repair.Report{}
	c := in.Cells
	in.Cells = &Cells{All: c.All, Outside: c.Outside, Thinned: c.Thinned, With: c.With}
}

// end settles the status of an input of many places.
func (in *Input) end() {
	if in.Cells == nil || in.Status != "" {
		return
	}
	in.Status = StatusOK
	c := in.Cells
	c.Reasons = c.why.lines(in.Name, c.things)
	switch {
	case in.Sites > 0:
	case c.SetAside > 0 && len(c.Reasons) == 1:
		in.Status, in.Reason = StatusSetAside, c.Reasons[0]
	case c.SetAside > 0:
		in.Status, in.Reason = StatusSetAside, fmt.Sprintf("%s: none of %d %s can be used, the first: %s", in.Name, c.SetAside, c.things, c.Reasons[0])
	case c.Empty > 0:
		in.Status, in.Reason = StatusSetAside, fmt.Sprintf("%s: no data in any of its %d %s", in.Name, c.Empty, c.things)
	default:
		in.Status = StatusOutside
	}
}

// A Summary is what became of all sources, in their order.
type Summary struct {
	Sites    int     `json:"sites"`
	SetAside int     `json:"set_aside"` // inputs, and places of inputs that hold many
	Inputs   []Input `json:"inputs"`
}

// Reasons tells, a line each, what was set aside; of an input of many places
// what several share is one line.
func (s *Summary) Reasons() (list []string) {
	for _, in := range s.Inputs {
		if in.Status == StatusSetAside {
			list = append(list, in.Reason)
			continue
		}
		if in.Cells != nil {
			list = append(list, in.Cells.Reasons...)
		}
	}
	return list
}

// whyNone says why no site was left.
func (s *Summary) whyNone() string {
	if i := slices.IndexFunc(s.Inputs, func(in Input) bool { return in.Status == StatusSetAside }); i >= 0 {
		return fmt.Sprintf("all %d inputs were set aside, the first: %s", len(s.Inputs), s.Inputs[i].Reason)
	}
	return "no place lies in the area asked for"
}
