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
	All      int        `json:"all"`               // in the file
	Outside  int        `json:"outside,omitempty"` // the area of the places to keep
	Thinned  int        `json:"thinned,omitempty"` // left out by --every
	Empty    int        `json:"empty,omitempty"`   // without data
	SetAside int        `json:"set_aside"`         // with reasons, the first of which are named
	Reasons  []string   `json:"reasons,omitempty"` //
	With     []string   `json:"with,omitempty"`    // files joined to this one
	GHIRange [2]float64 `json:"ghi_kwh_m2_range"`  // least and most yearly GHI of a site
	DNIRange [2]float64 `json:"dni_kwh_m2_range"`  //
	Years    string     `json:"years,omitempty"`   // calendar years the months were taken from
}

// namedReasons is how many of the places set aside, and warnings, are kept.
const namedReasons = 20

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
		if len(c.Reasons) < namedReasons {
			c.Reasons = append(c.Reasons, d.err.Error())
		}
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

// end settles the status of an input of many places.
func (in *Input) end() {
	if in.Cells == nil || in.Status != "" {
		return
	}
	in.Status = StatusOK
	c := in.Cells
	switch {
	case in.Sites > 0:
	case c.SetAside > 0:
		in.Status, in.Reason = StatusSetAside, fmt.Sprintf("%s: none of %d places can be used, the first: %s", in.Name, c.SetAside, c.Reasons[0])
	case c.Empty > 0:
		in.Status, in.Reason = StatusSetAside, fmt.Sprintf("%s: no data in any of its %d places", in.Name, c.Empty)
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
// the first few.
func (s *Summary) Reasons() (list []string) {
	for _, in := range s.Inputs {
		if in.Status == StatusSetAside {
			list = append(list, in.Reason)
			continue
		}
		if in.Cells == nil {
			continue
		}
		list = append(list, in.Cells.Reasons...)
		if more := in.Cells.SetAside - len(in.Cells.Reasons); more > 0 {
			list = append(list, fmt.Sprintf("%s: %d more places", in.Name, more))
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
