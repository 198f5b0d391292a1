package climate

import (
	"math"

	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
	"stillrow/simulate/sun"
)

// A dayModel holds what the hourly model derives from the clearness of a day.
// Source: Aguiar and Collares-Pereira 1992, "TAG: a time-dependent,
// autoregressive, Gaussian model for generating synthetic hourly radiation",
// Solar Energy 49(3), 167–174; its symbols.
type dayModel struct{ lambda, epsilon, kappa, a, b, phi float64 }

func newDayModel(k float64) dayModel {
	return dayModel{
		lambda:  -0.19 + 1.12*k + 0.24*math.Exp(-8*k),
		epsilon: 0.32 - 1.60*(k-0.50)*(k-0.50),
		kappa:   0.19 + 2.27*k*k - 2.51*k*k*k,
		a:       0.14 * math.Exp(-20*(k-0.35)*(k-0.35)),
		b:       3*(k-0.45)*(k-0.45) + 16*k*k*k*k*k,
		phi:     0.38 + 0.06*math.Cos(7.4*k-2.5),
	}
}

// mean gives the expected clearness with the sun at altitude h.
func (m *dayModel) mean(sinH float64) float64 {
	return m.lambda + m.epsilon*math.Exp(-m.kappa/sinH)
}

// deviation gives its standard deviation.
func (m *dayModel) deviation(sinH float64) float64 { return m.a * math.Exp(m.b*(1-sinH)) }

// clearLimit gives the greatest hourly clearness, 0.88·cos(π(t−12.5)/30) with t
// the solar hour, which is 12.5 when noon lies in the middle of the hour.
func clearLimit(hourAngle sun.Angle) float64 { return 0.88 * math.Cos(0.4*float64(hourAngle)) }

const (
	// leastClearness stands for none: the model's mean dips below 0 on the
	// darkest days.
	leastClearness = 0.005
	// redraws bounds the search for a clearness within its limits.
	redraws = 10
)

// hours fills k with the clearness of a day's hours; their mean weighted by the
// irradiance above the air is day. Hours of night are 0.
func hours(r draw, k []float64, s suns, day float64) {
	model := newDayModel(day)
	var weight, limit [24]float64
	var total, most float64
	y := r.normal()
	for h := range s {
		if s[h].sinHeight <= 0 {
			k[h] = 0
			continue
		}
		weight[h], limit[h] = s[h].horizontal(), s[h].limit
		total += weight[h]
		most += weight[h] * limit[h]
		mean, deviation := model.mean(s[h].sinHeight), model.deviation(s[h].sinHeight)
		next := y
		for range redraws {
			next = model.phi*y + math.Sqrt(1-model.phi*model.phi)*r.normal()
			k[h] = mean + deviation*next
			if leastClearness <= k[h] && k[h] <= limit[h] {
				break
			}
		}
		y = next
		k[h] = min(max(k[h], leastClearness), limit[h])
	}
	if most < day*total {
		// Long days near the poles: at the limit's low values of early and
		// late hours even a cloudless day would fall short.
		for h := range s {
			limit[h] = max(limit[h], day)
		}
	}
	scale(k, weight[:len(s)], limit[:len(s)], day*total)
}

// irradiance generates the hourly year from the monthly means of GHI, in W/m².
func irradiance(r draw, s suns, ghi *[12]float64) (g, dn, dh []float64) {
	g = make([]float64, weather.Hours)
	dn = make([]float64, weather.Hours)
	dh = make([]float64, weather.Hours)
	monthly := s.clearness(ghi)
	before := monthly[11]
	var carry float64 // what rounding has taken from the hours so far, W/m²
	var k [24]float64
	at := 0
	for m, n := range weather.MonthDays {
		daily, weight := make([]float64, n), make([]float64, n)
		for d := range weight {
			for _, hour := range s[at+24*d : at+24*d+24] {
				weight[d] += hour.horizontal()
			}
		}
		days(r, daily, before, monthly[m], weight)
		before = daily[n-1]
		for d := range daily {
			today := s[at : at+24]
			hours(r, k[:], today, daily[d])
			for h := range today {
				exact := k[h] * today[h].horizontal()
				if exact <= 0 {
					continue
				}
				g[at+h] = max(0, math.Round(exact+carry))
				carry += exact - g[at+h]
				if g[at+h] > 0 {
					dn[at+h] = math.Round(k[h] * (1 - sky.Erbs(k[h])) * today[h].normal)
					dh[at+h] = max(0, math.Round(g[at+h]-dn[at+h]*today[h].sinHeight))
				}
			}
			at += 24
		}
	}
	return g, dn, dh
}
