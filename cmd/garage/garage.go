package main

import (
	"math/rand/v2"
	"slices"
	"time"

	domain "regear/analyze/run"
	"regear/cmd/garage/internal/physics"
)

// garage is one driver with a log and a question, and the truth that only the
// physics knows.
type garage struct {
	log      []domain.Run
	question Question
	truth    truth
}

// dayAlone is the share of garages whose log gives days without a time.
const dayAlone = 0.3

// newGarage makes a garage of a set and kind; equal seeds make equal garages.
func newGarage(set physics.Set, kind Kind, seed, index uint64) garage {
	r := rand.New(rand.NewPCG(seed<<8|uint64(set), uint64(kind)<<32|index))
	for {
		_, g, ok := draw(set, kind, r)
		if !ok || kind == heatStops && !slices.ContainsFunc(g.log, func(r domain.Run) bool { return r.StoppedByHeat }) {
			continue
		}
		if r.Float64() < dayAlone && kind != backToBack {
			g.dropTimes()
		}
		return g
	}
}

// draw draws a car, plans its log, asks the question and drives the log. It reports
// false where the draw makes no fair garage.
func draw(set physics.Set, kind Kind, r *rand.Rand) (*draft, garage, bool) {
	d := newDraft(set, kind, r)
	if d.unfit {
		return d, garage{}, false
	}
	d.makePlan()
	for _, p := range d.plan {
		if _, ok := d.load(p); !ok {
			return d, garage{}, false
		}
	}
	q, truth, ok := d.ask()
	if !ok {
		return d, garage{}, false
	}
	return d, garage{log: d.drive(d.plan), question: q, truth: truth}, true
}

// dropTimes leaves a log and its question with days alone.
func (g *garage) dropTimes() {
	drop := func(r *domain.Run) { r.When, r.HasTime = r.When.Truncate(24*time.Hour), false }
	for i := range g.log {
		drop(&g.log[i])
	}
	drop(&g.question.Next)
}
