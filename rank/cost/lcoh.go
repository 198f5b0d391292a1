package cost

import (
	"math"

	"stillrow/simulate/result"
)

// PVCost is the present value per m² of receiver of all costs of a valid plan
// that do not depend on the heat: everything but RunningPerKWh. The error is
// about an item that has no meaning for design d.
func (p *Plan) PVCost(d result.Design) (float64, error) {
	sum := 0.0
	for i, it := range p.Items {
		n, err := p.count(i, d)
		if err != nil {
			return 0, err
		}
		sum += n * ((it.Price+it.LabourH*p.LabourPerH)*p.PVPurchases(it.LifeYears) + p.pvRunning(it.RunningPerYear))
	}
	return sum, nil
}

// PVHeatFactor is the present value of a heat of 1 kWh in the first year,
// delivered without loss.
func (p *Plan) PVHeatFactor() float64 { return PVFactor(p.HorizonYears, p.DiscountRate, p.Fade) }

// PVHeat is the present value, in kWh, of the delivered part of a yearly heat
// at the receiver.
func (p *Plan) PVHeat(heat float64) float64 { return heat * p.DeliveredShare * p.PVHeatFactor() }

// LCOH is the levelised cost per kWh delivered, from PVCost and from PVHeat,
// which must be above 0: without heat there is no such cost.
func (p *Plan) LCOH(pvCost, pvHeat float64) float64 { return pvCost/pvHeat + p.RunningPerKWh }

// PVFactor is Σ_{t=1..n} (1−fade)^(t−1)/(1+d)^t; with a fade of −i it is the
// present worth factor PWF(n, i, d) of Duffie and Beckman, Solar Engineering of
// Thermal Processes, for a payment that grows by i a year.
func PVFactor(n int, d, fade float64) float64 {
	return geometric(float64(n), math.Log1p(-fade)-math.Log1p(d)) / (1 + d)
}

// geometric is Σ_{j<k} q^j, given ln q.
func geometric(k, lnQ float64) float64 {
	if lnQ == 0 {
		return k
	}
	return math.Expm1(k*lnQ) / math.Expm1(lnQ)
}

// CRF is the capital recovery factor d(1+d)^n/((1+d)^n−1): the yearly payment
// that repays 1 in n years at rate d.
func CRF(n int, d float64) float64 { return 1 / PVFactor(n, d, 0) }

// PVPurchases is the present value of buying a thing worth 1 at year 0 and at
// every multiple of its life before the horizon, less the credit for what the last
// one has left there.
func (p *Plan) PVPurchases(life float64) float64 {
	k, left := purchaseCount(life, p.HorizonYears)
	rate := math.Log1p(p.DiscountRate)
	pv := geometric(k, -life*rate)
	if left > 0 {
		pv -= left * math.Exp(-rate*float64(p.HorizonYears))
	}
	return pv
}

// pvRunning is the present value of a cost of every year.
func (p *Plan) pvRunning(yearly float64) float64 {
	if yearly == 0 {
		return 0
	}
	return yearly * PVFactor(p.HorizonYears, p.DiscountRate, 0)
}

// purchaseCount counts the purchases of purchases.
func purchaseCount(life float64, horizon int) (k, left float64) {
	end := float64(horizon)
	k = math.Ceil(end / life)
	for k > 1 && wholeYear((k-1)*life) >= end {
		k--
	}
	for wholeYear(k*life) < end {
		k++
	}
	return k, max(0, (wholeYear(wholeYear((k-1)*life)+life)-end)/life)
}

// purchases returns the years at which an item is bought and the share of its
// last purchase that is left at the horizon.
func purchases(life float64, horizon int) (times []float64, left float64) {
	n, left := purchaseCount(life, horizon)
	for k := range int(n) {
		times = append(times, wholeYear(float64(k)*life))
	}
	return times, left
}

// wholeYear takes out the rounding of a multiple of a life, as of 3·1.1 years,
// where the multiple means a whole year.
func wholeYear(t float64) float64 {
	if r := math.Round(t); math.Abs(t-r) < 1e-9*max(1, r) {
		return r
	}
	return t
}
