package fit

import "fmt"

// Replay sets the measured heat of points, taken through a day, against what
// the fitted coefficients give for their weather and water. The sky's term
// counts where both the fit and the points have it.
func (r *Result) Replay(title string, points []Point) (Day, error) {
	if len(points) == 0 {
		return Day{}, fmt.Errorf("replay: no points")
	}
	m, err := newModel(points)
	if err != nil {
		return Day{}, err
	}
	v := values{gain: 1}
	set := func(name string, x float64) {
		for t, n := range termNames {
			if n == name {
				v[t] = x
			}
		}
		if name == "kd" {
			m.heldKd = x
		}
	}
	for _, c := range r.Coefficients {
		set(c.Name, c.Value)
	}
	for _, h := range r.Held {
		set(h.Name, h.Value)
	}
	d := Day{Title: title}
	for i := range points {
		label := points[i].Time
		if label == "" {
			label = fmt.Sprint(i + 1)
		}
		d.Hours = append(d.Hours, label)
		d.Measured = append(d.Measured, m.rows[i].heat)
		d.Modelled = append(d.Modelled, m.heat(&v, &m.rows[i]))
	}
	return d, nil
}
