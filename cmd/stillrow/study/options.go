package study

import (
	"stillrow/rank"
	"stillrow/simulate"
)

// Simulation gives the study as simulate takes it.
func (s *Study) Simulation() simulate.Options {
	return simulate.Options{
		Designs: s.Designs, Receiver: s.Receiver, Mirror: s.Mirror, Ground: s.Ground, Outlets: s.Outlets, Wear: &s.Wear,
	}
}

// Ranking gives the study as rank takes it, with its own prices alone; the
// table of designs and outlets comes from the heat.
func (s *Study) Ranking() rank.Options {
	return rank.Options{
		Uses: s.Uses, Markets: []rank.Market{s.Market()}, By: s.By, CostCap: s.CostCap,
		Lives: s.Lives, BandDeg: s.BandDeg, Currency: s.Currency,
		Materials: rank.Materials{Clear: s.Receiver.SofteningClear, Black: s.Receiver.SofteningBlack, Foam: s.Receiver.FoamLimit},
	}
}

// Market gives the prices of the study.
func (s *Study) Market() rank.Market {
	return rank.Market{Book: s.Book, Plan: s.Plan, Gas: s.Gas}
}
