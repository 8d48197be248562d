package plotting

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
)

// ErrNotMeasured reports that no run of the log measured the part that was to be drawn.
var ErrNotMeasured = errors.New("plotting: no run measured this part")

// view is one part of an answer, as the figures of that part see it.
type view struct {
	answer
	part run.Part
	fit  *analyze.Fit
}

func newView(a *advise.Advice, part run.Part, system units.System) (view, error) {
	fit := a.Car.Fit(part)
	if fit == nil {
		return view{}, fmt.Errorf("%w: %s", ErrNotMeasured, part)
	}
	return view{answer{a, system}, part, fit}, nil
}

// under returns the forecast for a run under c.
func (v view) under(c analyze.Conditions) advise.PartForecast {
	p := v.fit.Predict(c)
	return advise.PartForecast{P10: p.Quantile(0.1), P50: p.Quantile(0.5), P90: p.Quantile(0.9)}
}

// at returns the next run's conditions at a rollout, as if there were a pinion for it.
func (v view) at(rollout units.Millimeters) analyze.Conditions {
	c := v.Next
	c.Gearing = drivetrain.Gearing{Pinion: 1, Spur: 1, Internal: ratioFor(rollout, c.Tire)}
	return c
}

// ratioFor returns the final drive ratio that gives a rollout on a tire: π tire / rollout.
func ratioFor(rollout, tire units.Millimeters) float64 {
	return math.Pi * float64(tire) / float64(rollout)
}

// expect writes where 8 of 10 runs with a candidate are expected to peak.
func (v view) expect(c *advise.Candidate) string {
	f := c.Parts.At(v.part)
	return v.Peak(f.P10) + "–" + v.Forecast(f.P90)
}

// callout sets a candidate's forecast apart at x.
func (v view) callout(x float64, c *advise.Candidate, role Role, name string) Callout {
	f := c.Parts.At(v.part)
	return Callout{
		Range:  Range{x, v.Temperature(f.P10), v.Temperature(f.P90)},
		Middle: v.Temperature(f.P50), Lines: []string{name, v.expect(c)}, Role: role,
	}
}

// sweep returns the forecasts at n places of an axis as lines: the lower end of where 8 of
// 10 runs are expected, the middle and the upper end.
func (v view) sweep(n int, at func(i int) (x float64, f advise.PartForecast)) (low, middle, high []XY) {
	for i := range n {
		x, f := at(i)
		low = append(low, XY{x, v.Temperature(f.P10)})
		middle = append(middle, XY{x, v.Temperature(f.P50)})
		high = append(high, XY{x, v.Temperature(f.P90)})
	}
	return low, middle, high
}

// between returns the band between two lines over the same places.
func between(name string, low, high []XY) Band {
	b := Band{Name: name}
	for i := range low {
		b.Over = append(b.Over, Range{low[i].X, low[i].Y, high[i].Y})
	}
	return b
}

// split cuts a curve into dashed, solid and dashed pieces. A solid piece has tested
// points only; a dashed one begins and ends at it.
func split(name string, points []XY, tested func(i int) bool) []Curve {
	var pieces []Curve
	for i := range len(points) - 1 {
		dashed := !tested(i) || !tested(i+1)
		if len(pieces) == 0 || pieces[len(pieces)-1].Dashed != dashed {
			piece := Curve{Name: name, Role: Forecast, Dashed: dashed, Points: []XY{points[i]}}
			if dashed {
				piece.Name += ", untested"
			}
			pieces = append(pieces, piece)
		}
		last := &pieces[len(pieces)-1]
		last.Points = append(last.Points, points[i+1])
	}
	return pieces
}

func (v view) limitLevel() []Level {
	limit, ok := v.Limits.Of(v.part)
	if !ok {
		return nil
	}
	return []Level{{Label: "limit " + v.Reading(limit.Temperature), Role: Limit, At: v.Temperature(limit.Temperature)}}
}

// limitOutside says where the limit is if the frame does not reach it.
func (v view) limitOutside(y Axis) string {
	limit, ok := v.Limits.Of(v.part)
	side := "above"
	switch at := v.Temperature(limit.Temperature); {
	case !ok, at >= y.Low && at <= y.High:
		return ""
	case at < y.Low:
		side = "below"
	}
	return fmt.Sprintf("The limit of %s lies %s this frame.", v.Reading(limit.Temperature), side)
}

// addRuns enters the log's runs, each where place puts it and moved to the conditions that
// place names, and fits the frame to everything: to the callouts and the points of must in
// any case.
func (v view) addRuns(f *Figure, must []XY, name string, place func(r *run.Run) (x float64, to analyze.Conditions)) {
	var plain, stopped []XY
	for i, r := range v.fit.Used() {
		x, to := place(r)
		p := XY{x, v.Temperature(v.fit.Moved(i, to))}
		if r.StoppedByHeat {
			stopped = append(stopped, p)
		} else {
			plain = append(plain, p)
		}
	}
	f.Y = v.temperatureAxis(f, must, slices.Concat(plain, stopped))
	f.cutBands()
	f.addRuns(name, plain, stopped)
}

// temperatureAxis returns a frame around what must be seen, and of the rest around what
// lies within reach: one wild run, a limit far away or a gearing far from any that was
// run must not squash what the driver decides on.
func (v view) temperatureAxis(f *Figure, must, runs []XY) Axis {
	const (
		leastExtent = 20 // kelvin
		reach       = 1  // of the extent of what must be seen
		margin      = 0.06
	)
	heights := yOf(must)
	for _, c := range f.Callouts {
		heights = append(heights, c.Low, c.High)
	}
	low, high := slices.Min(heights), slices.Max(heights)
	if short := v.Difference(leastExtent) - (high - low); short > 0 {
		low, high = low-short/2, high+short/2
	}
	lowest, highest := low-reach*(high-low), high+reach*(high-low)
	for _, y := range append(f.heights(), yOf(runs)...) {
		if y >= lowest && y <= highest {
			low, high = min(low, y), max(high, y)
		}
	}
	pad := margin * (high - low)
	return Axis{
		Label: "peak of the " + v.part.Word() + " after the run", Unit: v.TemperatureUnit(),
		Low: low - pad, High: high + pad,
	}
}

// answer is an advice in the units that it is shown in, with the words of its figures.
type answer struct {
	*advise.Advice
	units.System
}

// candidates returns the candidates in the order of the advice.
func (a answer) candidates() []*advise.Candidate {
	all := make([]*advise.Candidate, len(a.Candidates))
	for i := range a.Candidates {
		all[i] = &a.Candidates[i]
	}
	return all
}

func (a answer) severalSpurs() bool {
	return slices.ContainsFunc(a.Candidates, func(c advise.Candidate) bool {
		return c.Gearing.Spur != a.Next.Gearing.Spur
	})
}

// label names a gearing: by its pinion, or by both gears where the spur is open too.
func (a answer) label(g drivetrain.Gearing) string {
	if a.severalSpurs() {
		return fmt.Sprintf("%d/%d", g.Pinion, g.Spur)
	}
	return fmt.Sprint(g.Pinion)
}

// teeth is label with the word.
func (a answer) teeth(g drivetrain.Gearing) string {
	switch {
	case a.severalSpurs():
		return a.label(g)
	case g.Pinion == 1:
		return "1 tooth"
	default:
		return a.label(g) + " teeth"
	}
}

// gears returns the rows of a lane that name a gearing by its teeth.
func (a answer) gears() []string {
	if a.severalSpurs() {
		return []string{"pinion", "spur"}
	}
	return []string{"pinion"}
}

// mark marks a candidate in a lane whose rows begin with those of gears.
func (a answer) mark(c *advise.Candidate, x float64, more ...string) Mark {
	texts := []string{strconv.Itoa(c.Gearing.Pinion), strconv.Itoa(c.Gearing.Spur)}[:len(a.gears())]
	return Mark{X: x, Texts: append(texts, more...), Pick: c == a.Pick, Present: c.Gearing == a.Next.Gearing}
}

// marksBySpur returns a lane of the candidates, each where place puts it. Where there are
// several spurs, but few enough, each has a row with its pinions: on an axis of gearings
// those of one spur stand apart, and those of two may not.
func (a answer) marksBySpur(place func(c *advise.Candidate) float64) (rows []string, marks []Mark) {
	const mostRows = 4
	var spurs []int
	for _, c := range a.candidates() {
		spurs = append(spurs, c.Gearing.Spur)
	}
	slices.Sort(spurs)
	spurs = slices.Compact(spurs)
	rows = a.gears()
	bySpur := a.severalSpurs() && len(spurs) <= mostRows
	if bySpur {
		rows = nil
		for _, spur := range spurs {
			rows = append(rows, fmt.Sprintf("spur %d", spur))
		}
	}
	for _, c := range a.candidates() {
		m := a.mark(c, place(c))
		if bySpur {
			m.Texts = make([]string, len(rows))
			m.Texts[slices.Index(spurs, c.Gearing.Spur)] = strconv.Itoa(c.Gearing.Pinion)
		}
		marks = append(marks, m)
	}
	return rows, marks
}

// list writes what tell says of each candidate.
func (a answer) list(candidates []*advise.Candidate, tell func(c *advise.Candidate) string) string {
	all := make([]string, len(candidates))
	for i, c := range candidates {
		all[i] = a.teeth(c.Gearing) + " " + tell(c)
	}
	return strings.Join(all, ", ") + "."
}

// longestName is how many letters of a name a figure shows.
const longestName = 30

// carName returns a car's name as a figure can show it: in one line, without characters
// that can't be seen (control characters, changes of the writing direction), and no longer
// than longestName.
func carName(name string) string {
	clean := strings.Map(func(r rune) rune {
		if !unicode.IsGraphic(r) {
			return ' '
		}
		return r
	}, name)
	letters := []rune(strings.Join(strings.Fields(clean), " "))
	if len(letters) > longestName {
		letters = append(letters[:longestName-1], '…')
	}
	return string(letters)
}

func (a answer) heading() string {
	name := carName(a.Car.Name)
	if name != "" {
		name += ", "
	}
	return fmt.Sprintf("%snext run: %s, air %s, tires %s.",
		name, a.Next.Minutes, a.Reading(a.Next.Ambient), a.Tire(a.Next.Tire))
}

// verdict opens a title: the pick, or that there is none and what comes closest.
func (a answer) verdict() string {
	pick := a.teeth(a.Pick.Gearing)
	switch {
	case a.Action != advise.NoneReachesConfidence:
		return pick + ":"
	case a.Pick.TooFarUp:
		return fmt.Sprintf("Every pinion here is a step of more than %d teeth up. %s:", a.MaxStepUp, pick)
	case len(a.Candidates) == 1:
		return fmt.Sprintf("%s, short of the wanted %s:", pick, a.wanted())
	default:
		return fmt.Sprintf("No pinion reaches %s. %s, the most probable:", a.wanted(), pick)
	}
}

func (a answer) wanted() string { return units.Confidence(a.Confidence) }

func (a answer) underLimits() string {
	if a.Limits.Len() == 1 {
		for part := range a.Limits.All() {
			return "under the " + part.Word() + "'s limit"
		}
	}
	if len(a.Unjudged) > 0 {
		return "under every judged limit"
	}
	return "under every limit"
}

// limitsSentence lists the limits, and what has one but was never measured.
func (a answer) limitsSentence() string {
	var limits analyze.Limits
	for part, limit := range a.Limits.All() {
		limits.Set(part, limit.Temperature)
	}
	var unjudged []string
	for _, part := range a.Unjudged {
		unjudged = append(unjudged, part.Word())
	}
	sentence := limitsOf(limits, a.System)
	if len(unjudged) > 0 {
		sentence += " Never measured, so not judged: " + strings.Join(unjudged, ", ") + "."
	}
	return sentence
}

// limitsOf lists limits in a sentence, or says nothing if there are none.
func limitsOf(limits analyze.Limits, system units.System) string {
	var all []string
	for part, limit := range limits.All() {
		all = append(all, part.Word()+" "+system.Reading(limit))
	}
	if len(all) == 0 {
		return ""
	}
	return "Limits: " + strings.Join(all, ", ") + "."
}

// join writes sentences behind each other, leaving out the empty.
func join(sentences ...string) string {
	return strings.Join(slices.DeleteFunc(sentences, func(s string) bool { return s == "" }), " ")
}
