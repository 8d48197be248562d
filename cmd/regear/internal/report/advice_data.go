package report

import (
	"slices"
	"strings"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/run"
	"regear/analyze/units"
)

type adviceJSON struct {
	Schema         int                 `json:"schema"`
	Car            string              `json:"car"`
	Current        currentJSON         `json:"current"`
	NextRun        nextRunJSON         `json:"next_run"`
	Limits         byPart[hundredths]  `json:"limits_c"`
	UnjudgedParts  []string            `json:"unjudged_parts,omitempty"`
	Confidence     float64             `json:"confidence"`
	Recommendation recommendationJSON  `json:"recommendation"`
	Help           helpJSON            `json:"help,omitzero"`
	Candidates     []candidateJSON     `json:"candidates"`
	Excluded       []excludedJSON      `json:"excluded,omitempty"`
	Scaling        byPart[scalingJSON] `json:"scaling"`
	EarlyReading   *earlyJSON          `json:"early_reading,omitempty"`
	NextTest       *nextTestJSON       `json:"next_test,omitempty"`
	CheckFirst     []string            `json:"check_first,omitempty"`
	Warnings       []warningJSON       `json:"warnings"`
}

type currentJSON struct {
	gearsJSON
	Internal millionths     `json:"internal_ratio"`
	Tire     thousandths    `json:"tire_diameter_mm"`
	Ratio    tenThousandths `json:"final_drive_ratio"`
	Rollout  thousandths    `json:"rollout_mm"`
}

type nextRunJSON struct {
	Ambient hundredths  `json:"ambient_c"`
	Minutes thousandths `json:"run_minutes"`
	Tire    thousandths `json:"tire_diameter_mm"`
	Cells   int         `json:"cells,omitempty"`
	Surface string      `json:"surface,omitempty"`
	Cooling string      `json:"cooling,omitempty"`
}

type recommendationJSON struct {
	Action string `json:"action"`
	gearsJSON
	TeethChange int         `json:"teeth_change"`
	Probability probability `json:"probability_under_limits"`
	BindingPart string      `json:"binding_part"`
}

// helpJSON says what would bring the named pinion to the confidence where no candidate reaches
// it, each change alone.
type helpJSON struct {
	Minutes hundredths `json:"run_minutes,omitempty"`
	Tire    hundredths `json:"tire_diameter_mm,omitempty"`
	Spur    int        `json:"spur_teeth,omitempty"`
}

type candidateJSON struct {
	gearsJSON
	Ratio          tenThousandths   `json:"final_drive_ratio"`
	Rollout        thousandths      `json:"rollout_mm"`
	SpeedChange    hundredths       `json:"speed_change_percent"`
	Probability    probability      `json:"probability_under_limits"`
	Outside        bool             `json:"outside_tested_range"`
	TooFarUp       bool             `json:"too_far_up"`
	MinutesToLimit *hundredths      `json:"minutes_to_limit,omitempty"`
	TopSpeed       tenths           `json:"unloaded_top_speed_kmh,omitempty"`
	Parts          byPart[partJSON] `json:"parts"`
}

type partJSON struct {
	Peak        peakJSON     `json:"peak_c"`
	Probability *probability `json:"probability_under_limit,omitempty"`
}

type peakJSON struct {
	P10 hundredths `json:"p10"`
	P50 hundredths `json:"p50"`
	P90 hundredths `json:"p90"`
}

type excludedJSON struct {
	gearsJSON
	Reason  string `json:"reason"`
	Message string `json:"message"`
}

type scalingJSON struct {
	Runs            int          `json:"runs"`
	RolloutExponent intervalJSON `json:"rollout_exponent"`
	RatioExponent   intervalJSON `json:"ratio_exponent"`
	TimeConstant    hundredths   `json:"time_constant_minutes"`
	RunToRunPercent hundredths   `json:"run_to_run_percent"`
	InformedBy      string       `json:"informed_by"`
	NoRule          probability  `json:"no_rule_probability"`
}

// earlyJSON is the later reading that the part that decides should have part-way through a run
// with the pick.
type earlyJSON struct {
	Part      string      `json:"part"`
	Minutes   thousandths `json:"minutes"`
	Expected  peakJSON    `json:"expected_c"`
	StopAbove hundredths  `json:"stop_above_c"`
}

type nextTestJSON struct {
	gearsJSON
	Minutes     thousandths `json:"run_minutes"`
	Probability probability `json:"probability_under_limits"`
	Part        string      `json:"part"`
	ForPinion   int         `json:"for_pinion_teeth"`
	Narrower    hundredths  `json:"narrower_percent"`
}

var actionNames = map[advise.Action]string{
	advise.GearDown:              "gear_down",
	advise.Keep:                  "keep",
	advise.GearUp:                "gear_up",
	advise.NoneReachesConfidence: "none_reaches_confidence",
}

// toAdvice returns the JSON document of schema 1: temperatures in °C, lengths in mm, and what
// can't be given left out.
func toAdvice(a Advised) adviceJSON {
	g := a.Pick.Gearing
	doc := adviceJSON{
		Schema: Schema, Car: a.Car.Name, Current: toCurrent(a.Current), NextRun: toNextRun(a.Next), Limits: limits(a.Limits),
		UnjudgedParts: worded(a.Unjudged, run.Part.String), Confidence: a.Confidence,
		Recommendation: recommendationJSON{
			actionNames[a.Action], toGears(g), g.Pinion - a.Current.Gearing.Pinion, stated(a.Pick.Chance, a.Confidence), a.Binding.String(),
		},
		Help:       helpJSON{hundredths(a.Help.Minutes), hundredths(a.Help.Tire), a.Help.Spur},
		Scaling:    scalingOf(a.Car, a.Next),
		CheckFirst: adviceWords{Advice: a.Advice}.checksFirst(),
		Warnings:   toWarnings(a.Warnings, a.Notes),
	}
	for i := range a.Candidates {
		doc.Candidates = append(doc.Candidates, toCandidate(&a.Candidates[i], a.Confidence))
	}
	for _, x := range a.Excluded {
		doc.Excluded = append(doc.Excluded, excludedJSON{toGears(x.Gearing), exclusions[x.Reason].name, why(x)})
	}
	if n := len(a.Early); n > 0 {
		r := a.Early[n-1]
		doc.EarlyReading = &earlyJSON{r.Part.String(), thousandths(r.Minutes), toPeak(r.P10, r.P50, r.P90), celsius(r.StopAbove)}
	}
	if n := a.NextTest; n != nil {
		doc.NextTest = &nextTestJSON{
			toGears(n.Gearing), thousandths(n.Minutes), stated(n.Chance, a.Confidence), n.Part.String(), n.For.Pinion, hundredths(n.Narrower * 100),
		}
	}
	return doc
}

func toCurrent(c analyze.Conditions) currentJSON {
	return currentJSON{
		gearsJSON: toGears(c.Gearing), Internal: millionths(c.Gearing.Internal),
		Tire: thousandths(c.Tire), Ratio: tenThousandths(c.Gearing.FinalDriveRatio()), Rollout: thousandths(c.Rollout()),
	}
}

func toNextRun(c analyze.Conditions) nextRunJSON {
	return nextRunJSON{celsius(c.Ambient), thousandths(c.Minutes), thousandths(c.Tire), c.Cells, c.Surface, c.Cooling}
}

func toCandidate(c *advise.Candidate, confidence float64) candidateJSON {
	return candidateJSON{
		gearsJSON: toGears(c.Gearing), Ratio: tenThousandths(c.Ratio), Rollout: thousandths(c.Rollout),
		SpeedChange: hundredths(c.SpeedChange * 100), Probability: stated(c.Chance, confidence),
		Outside: c.Outside, TooFarUp: c.TooFarUp, TopSpeed: tenths(c.TopSpeed),
		MinutesToLimit: optional(hundredths(c.MinutesToLimit), c.HasMinutesToLimit), Parts: eachPart(c.Parts, toPart),
	}
}

func toPart(f advise.PartForecast) partJSON {
	return partJSON{toPeak(f.P10, f.P50, f.P90), optional(probability(f.Chance), f.HasLimit)}
}

func toPeak(p10, p50, p90 units.Celsius) peakJSON {
	return peakJSON{celsius(p10), celsius(p50), celsius(p90)}
}

// sources say what an exponent rests on: in JSON, in a table and in a sentence.
var sources = map[analyze.Source]struct{ name, short, sentence string }{
	analyze.FromPrior: {"prior", "the general rule alone", "This is the general rule alone, as the log holds one gearing"},
	analyze.FromBoth:  {"log and prior", "the log and the general rule", "This is the general rule, corrected by the log"},
	analyze.FromLog:   {"log", "mostly the log", "The log tells more of this than the general rule"},
}

// scalingOf returns how each measured part's heat follows the gearing at c. At one
// tire the rise goes with ratio^-exponent, so one interval is the other's negative.
func scalingOf(car *analyze.Car, c analyze.Conditions) byPart[scalingJSON] {
	return eachFit(car, func(f *analyze.Fit) scalingJSON {
		e := f.Exponent(c, analyze.ScalingLevel)
		return scalingJSON{
			f.Runs, toInterval(e), toInterval(negated(e)), hundredths(f.TimeConstant()), hundredths(f.Scatter() * 100),
			sources[f.InformedBy(c)].name, probability(f.NoRule()),
		}
	})
}

func eachFit[J any](car *analyze.Car, to func(*analyze.Fit) J) byPart[J] {
	var fits run.ByPart[*analyze.Fit]
	for _, f := range car.Fits() {
		fits.Set(f.Part, f)
	}
	return eachPart(fits, to)
}

// adviceColumns are the columns of an answer as CSV, in their order. Each part adds
// partColumns behind them, whether it was measured or not, and the last column
// holds the codes of the answer's warnings, separated by spaces.
var (
	adviceColumns = []string{
		"car", "pinion_teeth", "spur_teeth", "internal_ratio", "tire_diameter_mm", "final_drive_ratio", "rollout_mm",
		"speed_change_percent", "probability_under_limits", "minutes_to_limit",
		"current", "pick", "outside_tested_range", "too_far_up",
	}
	partColumns = []string{"p10_c", "p50_c", "p90_c", "limit_c", "probability_under_limit"}
)

// adviceRows are the answer as CSV, a row a candidate. "pick" is yes for the picked candidate,
// and no for all where none reaches the confidence.
func adviceRows(a Advised) [][]string {
	header := slices.Clone(adviceColumns)
	for _, part := range run.Parts {
		for _, column := range partColumns {
			header = append(header, part.String()+"_"+column)
		}
	}
	var codes []string // of each kind of warning once, in the order of the answer
	for _, w := range toWarnings(a.Warnings, a.Notes) {
		if !slices.Contains(codes, w.Code) {
			codes = append(codes, w.Code)
		}
	}
	rows := [][]string{append(header, "warnings")}
	for i := range a.Candidates {
		rows = append(rows, append(adviceRow(a.Advice, &a.Candidates[i]), strings.Join(codes, " ")))
	}
	return rows
}

func adviceRow(a *advise.Advice, c *advise.Candidate) []string {
	j := toCandidate(c, a.Confidence)
	row := cells(
		a.Car.Name, j.Pinion, j.Spur, millionths(c.Gearing.Internal), thousandths(a.Next.Tire), j.Ratio, j.Rollout,
		j.SpeedChange, j.Probability, cell(j.MinutesToLimit),
		c.Gearing == a.Current.Gearing, adviceWords{Advice: a}.picks(c.Gearing), j.Outside, j.TooFarUp)
	for _, part := range run.Parts {
		f, measured := c.Parts.Of(part)
		if !measured {
			row = append(row, make([]string, len(partColumns))...)
			continue
		}
		j := toPart(f)
		limit := optional(celsius(a.Limits.At(part).Temperature), f.HasLimit)
		row = append(row, cells(j.Peak.P10, j.Peak.P50, j.Peak.P90, cell(limit), cell(j.Probability))...)
	}
	return row
}
