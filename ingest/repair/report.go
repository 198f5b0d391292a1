package repair

// A Report says what ingest found in one source and did about it.
type Report struct {
	Columns       []ColumnCount `json:"columns,omitempty"`
	Clock         []ClockMonth  `json:"clock,omitempty"` // twelve months
	GHI           float64       `json:"ghi_kwh_m2"`      // of the finished year; of several places their mean
	DNI           float64       `json:"dni_kwh_m2"`
	ClearShare    float64       `json:"clear_share"` // of the hours with the sun over 5.7°, those with at least 80 % of a clear sky's GHI
	ClosureTested int           `json:"closure_tested_hours"`
	ClosureFailed int           `json:"closure_failed_hours"` // outside the BSRN ratios after repair
	FilledHours   int           `json:"filled_hours"`         // with at least one value filled
	LeapHours     int           `json:"leap_hours_dropped,omitempty"`
	PartHours     int           `json:"records_averaged,omitempty"`
	BadCells      int           `json:"bad_cells,omitempty"`
	Flags         []string      `json:"flags,omitempty"`
	Warnings      []string      `json:"warnings,omitempty"` // the first bad cells and impossible values
}

// A ColumnCount counts the hours of one column that the source has; a column it
// lacks is told by a flag instead. Irradiance counts in sunlit hours only.
type ColumnCount struct {
	Column     string `json:"column"`
	Missing    int    `json:"missing_hours"`              // lacking or impossible in the source
	Impossible int    `json:"impossible_hours,omitempty"` // of these, beyond a physical limit
	Filled     int    `json:"filled_hours"`               // from neighbours, closure or a model
}

// A ClockMonth is the clock of one month. A misfit is the root mean square of
// DNI·sz + DHI − GHI over the month's hours with DNI above 150 W/m².
type ClockMonth struct {
	ShiftMin      int     `json:"shift_min"`           // found, from what the data set documents
	Misfit        float64 `json:"misfit_w_m2"`         // at the shift applied; 0 without hours
	StampedMisfit float64 `json:"stamped_misfit_w_m2"` // at no shift
	Hours         int     `json:"hours"`
	FromYear      bool    `json:"from_year,omitempty"` // too few hours: the year's shift
}

// count gives the count of a column, adding it at the end when it is new.
func (r *Report) count(name string) *ColumnCount {
	for i := range r.Columns {
		if r.Columns[i].Column == name {
			return &r.Columns[i]
		}
	}
	r.Columns = append(r.Columns, ColumnCount{Column: name})
	return &r.Columns[len(r.Columns)-1]
}
