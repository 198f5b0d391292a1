package climate

import (
	"math"

	"stillrow/ingest/weather"
)

// airTemperature lays the daily course over the days' means, °C. The clearness
// is that of the month, for which the method was fitted.
// Source: Erbs, Klein and Beckman 1983, "Estimation of degree-days and ambient
// temperature bin data from monthly-average temperatures", ASHRAE Journal
// 25(6), 60–65. Its hour t runs from 1 to 24 and is taken as clock time, so an
// hour's mean is the course at its middle, t = h + 1/2.
func airTemperature(day []float64, clearness [12]float64) []float64 {
	var course [24]float64
	for h := range course {
		course[h] = dailyCourse(float64(h) + 0.5)
	}
	out := make([]float64, 0, weather.Hours)
	for m, n := range weather.MonthDays {
		amplitude := max(0, 25.8*clearness[m]-5.21) // peak to peak, K
		for _, mean := range day[:n] {
			for _, part := range course {
				out = append(out, tenth(mean+amplitude*part))
			}
		}
		day = day[n:]
	}
	return out
}

// dailyCourse gives the deviation from the day's mean in parts of the amplitude
// at hour t.
func dailyCourse(t float64) float64 {
	a := 2 * math.Pi * (t - 1) / 24
	return 0.4632*math.Cos(a-3.805) + 0.0984*math.Cos(2*a-0.360) +
		0.0168*math.Cos(3*a-0.822) + 0.0138*math.Cos(4*a-3.513)
}

// smooth gives the value of each day of a year so that the days of every month
// keep its mean and run on without steps from month to month, December into
// January.
// Source: Rymes and Myers 2001, "Mean preserving algorithm for smoothly
// interpolating averaged data", Solar Energy 71(4), 225–231: as often as a
// month has days, each day becomes the mean of itself and its neighbours and
// each month is brought back to its mean.
func smooth(months *[12]float64) []float64 {
	var day []float64
	for m, n := range weather.MonthDays {
		for range n {
			day = append(day, months[m])
		}
	}
	last := len(day) - 1
	next := make([]float64, len(day))
	for range 30 {
		for i := range day {
			before, after := i-1, i+1
			if before < 0 {
				before = last
			}
			if after > last {
				after = 0
			}
			next[i] = (day[before] + day[i] + day[after]) / 3
		}
		at := 0
		for m, n := range weather.MonthDays {
			month := next[at : at+n]
			var sum float64
			for _, v := range month {
				sum += v
			}
			off := months[m] - sum/float64(n)
			for i := range month {
				month[i] += off
			}
			at += n
		}
		day, next = next, day
	}
	return day
}

// dewPoints gives the dew point of each hour, °C: that of the day's mean
// temperature and relative humidity, and never above the air's own.
func dewPoints(air, day, relHumidity []float64) []float64 {
	out := make([]float64, 0, weather.Hours)
	for d := range day {
		dew := tenth(dewPoint(day[d], relHumidity[d]))
		for _, t := range air[24*d : 24*d+24] {
			out = append(out, min(dew, t))
		}
	}
	return out
}

// dewPoint gives the dew point, °C, of air at t °C and rh % relative humidity
// over water, which smoothing may have pushed past its range.
// Source: Magnus formula of WMO-No. 8, Guide to Instruments and Methods of
// Observation, annex 4.B.
func dewPoint(t, rh float64) float64 {
	g := math.Log(min(max(rh, 1), 100)/100) + 17.62*t/(243.12+t)
	return 243.12 * g / (17.62 - g)
}

const (
	// windSwing is the daily swing of wind speed, strongest at windPeak h, as a
	// part of the mean. Common practice, no source: winds over land and coasts
	// freshen in the afternoon.
	windSwing, windPeak = 0.2, 15
	// windMemory correlates an hour's wind with the last. Common practice, no
	// source: series of hourly winds show 0.85 to 0.95.
	windMemory = 0.9
)

// wind generates hourly speeds, m/s, Rayleigh distributed about each month's
// mean, which they keep.
// Source of the distribution: IEC 61400-1, standard wind classes.
func wind(r draw, months *[12]float64) []float64 {
	out := make([]float64, 0, weather.Hours)
	y := r.normal()
	for m, n := range weather.MonthDays {
		start := len(out)
		var sum float64
		for h := range 24 * n {
			y = windMemory*y + math.Sqrt(1-windMemory*windMemory)*r.normal()
			exceeded := math.Erfc(y/math.Sqrt2) / 2
			v := math.Sqrt(-math.Log(exceeded)) *
				(1 + windSwing*math.Cos(2*math.Pi*(float64(h%24)+0.5-windPeak)/24))
			sum += v
			out = append(out, v)
		}
		factor := months[m] * float64(24*n) / sum
		for i := start; i < len(out); i++ {
			out[i] = tenth(out[i] * factor)
		}
	}
	return out
}

// tenth rounds as weather data usually are.
func tenth(v float64) float64 { return math.Round(v*10)/10 + 0 } // + 0: never −0
