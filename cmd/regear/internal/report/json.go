package report

import (
	"encoding/json"
	"io"
	"math"

	"regear/analyze"
	"regear/analyze/run"
	"regear/analyze/units"
)

// Schema is the version of the JSON documents; it rises when a reader of the old
// one would misread the new.
const Schema = 1

// byPart holds one value a part and leaves out the parts without one.
type byPart[T any] struct {
	Motor   *T `json:"motor,omitempty"`
	ESC     *T `json:"esc,omitempty"`
	Battery *T `json:"battery,omitempty"`
}

func (b *byPart[T]) set(part run.Part, value T) {
	switch part {
	case run.Motor:
		b.Motor = &value
	case run.ESC:
		b.ESC = &value
	case run.Battery:
		b.Battery = &value
	}
}

type intervalJSON struct {
	Estimate float64 `json:"estimate"`
	Low      float64 `json:"low"`
	High     float64 `json:"high"`
	Level    float64 `json:"level"`
}

func toInterval(e analyze.Estimate) intervalJSON {
	return intervalJSON{decimals(e.Value, 3), decimals(e.Low, 3), decimals(e.High, 3), e.Level}
}

// negated returns the interval of the negated value.
func negated(e analyze.Estimate) analyze.Estimate {
	return analyze.Estimate{Value: -e.Value, Low: -e.High, High: -e.Low, Level: e.Level}
}

type scalingJSON struct {
	Runs            int          `json:"runs"`
	RolloutExponent intervalJSON `json:"rollout_exponent"`
	RatioExponent   intervalJSON `json:"ratio_exponent"`
	TimeConstant    float64      `json:"time_constant_minutes"`
	RunToRunPercent float64      `json:"run_to_run_percent"`
	InformedBy      string       `json:"informed_by"`
	NoRule          float64      `json:"no_rule_probability"`
}

// scalingOf returns how each measured part's heat follows the gearing at c. At one
// tire the rise goes with ratio^-exponent, so one interval is the other's negative.
func scalingOf(car *analyze.Car, c analyze.Conditions) byPart[scalingJSON] {
	var all byPart[scalingJSON]
	for _, f := range car.Fits() {
		e := f.Exponent(c, analyze.ScalingLevel)
		all.set(f.Part, scalingJSON{
			Runs:            f.Runs,
			RolloutExponent: toInterval(e),
			RatioExponent:   toInterval(negated(e)),
			TimeConstant:    decimals(float64(f.TimeConstant()), 2),
			RunToRunPercent: decimals(f.Scatter()*100, 2),
			InformedBy:      sourceNames[f.InformedBy(c)],
			NoRule:          probability(f.NoRule()),
		})
	}
	return all
}

var sourceNames = map[analyze.Source]string{
	analyze.FromPrior: "prior",
	analyze.FromBoth:  "log and prior",
	analyze.FromLog:   "log",
}

type warningJSON struct {
	Code    string   `json:"code"`
	Part    string   `json:"part,omitempty"`
	Runs    []string `json:"runs,omitempty"` // file:line
	Message string   `json:"message"`
	Action  string   `json:"action"`
}

func toWarnings(warnings []analyze.Warning, n Noticed) []warningJSON {
	// Never null: a reader iterates without asking.
	all := []warningJSON{}
	for _, w := range warnings {
		message, action := Wording(units.Metric, w, AtCommandLine)
		one := warningJSON{Code: string(w.Code()), Message: message, Action: action}
		about := analyze.About(w)
		if about.OfPart {
			one.Part = about.Part.String()
		}
		for _, p := range about.Runs {
			one.Runs = append(one.Runs, p.String())
		}
		all = append(all, one)
	}
	return append(all, n.toJSON()...)
}

// writeJSON writes v as people and line-based tools can read it.
func writeJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}

// decimals rounds for JSON and CSV: finely enough that nothing printed is lost, and
// so coarsely that rounding in the arithmetic does not show. Adding 0 turns -0
// into 0.
func decimals(x float64, n int) float64 {
	scale := math.Pow10(n)
	return math.Round(x*scale)/scale + 0
}

// probability rounds to six decimals and never to 0 or 1: nothing is certain.
func probability(p float64) float64 {
	const least = 1e-6
	return decimals(min(max(p, least), 1-least), 6)
}
