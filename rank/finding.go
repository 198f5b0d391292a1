package rank

import (
	"slices"

	"stillrow/rank/cost"
	"stillrow/rank/survey"
	"stillrow/simulate/result"
)

// place is a site as the files show it.
func (k *Ranker) place(s *result.Site, book string) survey.Place {
	return survey.Place{
		ID: valid(s.ID), Name: valid(s.Name), Country: valid(k.o.country(s)), Book: valid(book),
		Lat: s.Lat, Lon: s.Lon, CellDeg: s.CellDeg, CellLonDeg: s.CellLonDeg,
	}
}

// text gives the first copy of a text that many places share.
func (k *Ranker) text(s string) string {
	if first, ok := k.texts[s]; ok {
		return first
	}
	k.texts[s] = s
	return s
}

// finding works out what a pick comes to.
func (p *Batch) finding(b *result.Block, pick *Pick) (survey.Finding, error) {
	prices := pick.prices
	f := survey.None(prices.gasHeat)
	f.Refused = pick.Refused != ""
	if pick.Best < 0 {
		f.Without = p.reason(pick.Reason)
		return f, nil
	}
	money, err := pick.Money(pick.Best)
	if err != nil {
		return f, err
	}
	f.Design, f.Second = int32(pick.Best), int32(pick.Second)
	copy(f.Months[:], b.Months(pick.table, pick.Outlet, pick.Best))
	f.Heat, f.UsedShare = money.Heat, money.UsedShare
	f.LCOH, f.Ratio, f.BeatsGas = money.LCOH, money.Ratio, money.Ratio < 1
	f.BreakEven, f.Saving, f.CO2 = money.BreakEven, money.Saving, money.CO2
	set(&f.Payback, money.Payback)
	f.Split = parted(money.Split)
	set(&f.P10, pick.Spread.P10)
	set(&f.P50, pick.Spread.P50)
	set(&f.P90, pick.Spread.P90)
	set(&f.Sure, pick.Spread.BeatsGas)
	if pick.Spread.From != nil {
		f.From = *pick.Spread.From
	}
	if c := pick.Second; c >= 0 {
		f.SecondLCOH, f.SecondHeat = pick.LCOH[c], pick.Heat[c]
		f.SecondExtra = 100 * (pick.LCOH[c]/money.LCOH - 1)
		f.SecondSaving = prices.saving(pick.LCOH[c], pick.Heat[c])
	}
	return f, nil
}

// set takes a number where there is one.
func set(to, from *float64) {
	if from != nil {
		*to = *from
	}
}

// parted adds up the parts of a cost by what their items are counted per.
func parted(split []Part) (v [survey.Units]float64) {
	for _, p := range split {
		v[slices.Index(splitUnits[:], p.Unit)] += p.PerKWh
	}
	return v
}

var splitUnits = [survey.Units]cost.Unit{
	survey.PerReceiver: cost.ReceiverM2, survey.PerMirror: cost.MirrorM2, survey.PerRow: cost.RowM,
	survey.PerGround: cost.GroundM2, survey.PerSite: cost.WholeSite, survey.PerKWh: "",
}
