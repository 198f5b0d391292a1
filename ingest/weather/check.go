package weather

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"
)

// flagSeparator joins Site.Flags into one string. A list column would be truer
// to the type, but spreadsheets, CSV exports and many viewers of Parquet show
// lists badly or not at all, and every reader can split a string.
const flagSeparator = ";"

// checkSite says what in a site the table cannot hold or use, with the column;
// columns are siteColumns.
func checkSite(s *entry, columns []siteColumn) error {
	if s.ID == "" {
		return errors.New("site_id is empty")
	}
	for _, c := range columns {
		var err error
		switch v := c.of(s).(type) {
		case *string:
			if !utf8.ValidString(*v) {
				err = fmt.Errorf("%q is not UTF-8", *v)
			}
		case *int:
			if *v < math.MinInt32 || *v > math.MaxInt32 {
				err = fmt.Errorf("%d does not fit in 32 bits", *v)
			}
		case *float64:
			if math.IsNaN(*v) || math.IsInf(*v, 0) {
				err = fmt.Errorf("%v is not a finite number", *v)
			}
		case *[]string:
			i := slices.IndexFunc(*v, func(f string) bool {
				return f == "" || strings.Contains(f, flagSeparator) || !utf8.ValidString(f)
			})
			if i >= 0 {
				err = fmt.Errorf("flag %q is empty, not UTF-8 or contains %q", (*v)[i], flagSeparator)
			}
		}
		if err != nil {
			return fmt.Errorf("%s: %w", c.Name, err)
		}
	}
	switch {
	case math.Abs(s.Lat) > 90:
		return fmt.Errorf("lat: %v is outside -90…90", s.Lat)
	case math.Abs(s.Lon) > 180:
		return fmt.Errorf("lon: %v is outside -180…180", s.Lon)
	case s.Kind != KindStation && s.Kind != KindGrid:
		return fmt.Errorf("kind: %q is neither %q nor %q", s.Kind, KindStation, KindGrid)
	}
	return nil
}
