package main

import (
	"math"
	"slices"

	domain "regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/garage/internal/physics"
)

const (
	wantedConfidence = 0.8
	stepUp           = 2   // teeth that an adviser may go up at once
	reach            = 4   // candidates are the last pinion and so many teeth either way
	leastPinion      = 6   // teeth
	highestLimit     = 110 // °C, above what magnets and windings are sold for
	numFates         = 400 // draws that a true chance is the share of
)

// truth is what the next run will read, candidate by candidate, as a share of fates.
type truth struct {
	chance []float64 // that it reads at or under every limit
	// peaks are the readings under every fate, by part and candidate, rising; nil
	// where a part is not judged.
	peaks [len(domain.Parts)][][]float64
}

// best returns the pick that the policy makes of the true chances.
func (t truth) best(log []domain.Run, q Question) int {
	return tallest(log, q, func(i int) float64 { return t.chance[i] })
}

// content returns the true probability of an interval of a part's peak.
func (t truth) content(part domain.Part, candidate int, in Interval) float64 {
	peaks := t.peaks[part][candidate]
	from, _ := slices.BinarySearch(peaks, float64(in.Low))
	to, _ := slices.BinarySearch(peaks, math.Nextafter(float64(in.High), math.Inf(1)))
	return float64(max(0, to-from)) / float64(len(peaks))
}

// ask puts the question and finds its truth: the next run, its candidates, every fate
// met with every candidate, and limits drawn so that the choice matters. It reports
// false if a candidate can't be driven, or no driver would set such a limit.
func (d *draft) ask() (q Question, t truth, ok bool) {
	next := d.blank(d.next, len(d.plan))
	next.Ambient = whole(d.Air + between(d.r, d.coldest, d.hottest))
	air := float64(next.Ambient)
	q = Question{Next: next, Confidence: wantedConfidence, MaxStepUp: stepUp}
	fates := physics.Fates(d.r, numFates)
	var met [][]physics.ByPart // by candidate and fate
	for pinion := max(leastPinion, d.next.pinion-reach); pinion <= d.next.pinion+reach; pinion++ {
		p := d.next
		p.pinion = pinion
		load, ok := d.load(p)
		if !ok {
			return q, t, false
		}
		prospect := d.Car.Prospect(load, physics.Outing{Air: air, Minutes: p.minutes, Start: physics.AllAt(air)})
		readings := make([]physics.ByPart, len(fates))
		for i, fate := range fates {
			readings[i] = prospect.Readings(fate)
		}
		met = append(met, readings)
		q.Candidates = append(q.Candidates, pinion)
	}
	for _, part := range d.parts {
		t.peaks[part] = sortedPeaks(met, part)
		limit := d.limit(part, q.Candidates, t.peaks[part])
		if limit > highestLimit {
			return q, t, false
		}
		q.Limits.Set(part, limit)
	}
	for _, readings := range met {
		t.chance = append(t.chance, shareUnder(readings, q.Limits))
	}
	d.asked(&q)
	return q, t, true
}

// sortedPeaks returns the readings of a part by candidate, rising. Physics numbers the
// parts as logs do.
func sortedPeaks(met [][]physics.ByPart, part domain.Part) [][]float64 {
	peaks := make([][]float64, len(met))
	for i, readings := range met {
		for _, r := range readings {
			peaks[i] = append(peaks[i], r[part])
		}
		slices.Sort(peaks[i])
	}
	return peaks
}

// shareUnder returns the share of runs whose readings are at or under every limit.
func shareUnder(met []physics.ByPart, limits domain.ByPart[units.Celsius]) float64 {
	var share mean
	for _, r := range met {
		under := true
		for part, limit := range limits.All() {
			under = under && r[part] <= float64(limit)
		}
		share.count(under)
	}
	return share.value()
}

// limit draws a part's limit between its plausible peaks some teeth below and above
// the last pinion: for the ESC and the battery, which limit less often than the motor,
// 2 below and 4 above. A plausible peak is one that eight runs in ten stay under. Where
// gearing hardly changes the peak, the span is opened to a run's scatter.
func (d *draft) limit(part domain.Part, candidates []int, peaks [][]float64) units.Celsius {
	below, above := 2, 4
	if part == domain.Motor {
		below, above = d.motorBelow, d.motorAbove
	}
	low, high := math.Inf(1), math.Inf(-1)
	for i, pinion := range candidates {
		if pinion >= d.next.pinion-below && pinion <= d.next.pinion+above {
			plausible := peaks[i][len(peaks[i])*8/10]
			low, high = math.Min(low, plausible), math.Max(high, plausible)
		}
	}
	const least = 6 // K
	if short := least - (high - low); short > 0 {
		low, high = low-short/2, high+short/2
	}
	return whole(between(d.r, low, high))
}
