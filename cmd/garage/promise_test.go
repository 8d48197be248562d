package main

import (
	"testing"

	"regear/cmd/garage/internal/physics"
)

// What regear has to keep on garages that it never saw: a ceiling for the error of
// its stated chances, a band for what its 80 % intervals truly hold, and a lead over
// the best of its peers. The bounds are those reached when they were set, with the
// sampling error of 420 garages (about 0.006 and 1 %) on top; they are there to
// notice a change of the model that costs honesty, and go down, never up.
const (
	promisedRMS             = 0.19
	coversAtLeast           = 0.75
	coversAtMost            = 0.84
	kindCoversLeast         = 0.66 // 30 garages a kind
	kindCoversMost          = 0.90
	holdsWithinTheTruthOnes = 0.06 // of what picks hold that are made knowing the truth
)

func TestRegearKeepsItsPromises(t *testing.T) {
	if testing.Short() {
		t.Skip("a long test: 840 garages")
	}
	for _, set := range []physics.Set{physics.A, physics.B} {
		judged := advisers()
		all := measure(set, usualKinds, 420, 1, judged)
		us := 0
		for i, a := range judged {
			if _, ok := a.(regear); ok {
				us = i
			}
		}
		score, oracle := &all.total[us], &all.total[len(judged)]
		if got := score.rms(); got > promisedRMS {
			t.Errorf("set %v: RMS error of stated chances %.3f, promised at most %.3f", set, got, promisedRMS)
		}
		if got := score.content / float64(score.intervals); got < coversAtLeast || got > coversAtMost {
			t.Errorf("set %v: 80 %% intervals hold %.1f %%", set, 100*got)
		}
		for _, k := range usualKinds.kinds {
			of := all.byKind[k]
			if got := of[us].content / float64(of[us].intervals); got < kindCoversLeast || got > kindCoversMost {
				t.Errorf("set %v, %v: 80 %% intervals hold %.1f %%", set, k, 100*got)
			}
		}
		ours, truth := score.holds/float64(score.picks), oracle.holds/float64(oracle.picks)
		if ours < truth-holdsWithinTheTruthOnes {
			t.Errorf("set %v: picks hold %.1f %%, %.1f %% where the truth is known", set, 100*ours, 100*truth)
		}
		for i, peer := range judged {
			if i != us && all.total[i].rms() < 1.2*score.rms() {
				t.Errorf("set %v: %s states chances with an error of %.3f, regear of %.3f: no clear lead",
					set, peer.Name(), all.total[i].rms(), score.rms())
			}
		}
	}
}
