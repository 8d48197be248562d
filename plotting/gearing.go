package plotting

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/run"
	"regear/analyze/units"
)

// Ratio draws the peak of one part against final drive ratio. The axis falls from left
// to right, so that in every figure a bigger pinion, and with it more speed and mostly
// more heat, stands further right.
//
// It fails with ErrNotMeasured if no run measured the part.
func Ratio(a *advise.Advice, part run.Part, system units.System) (*Figure, error) {
	return gearingFigure(a, part, system, scale{
		label: "final drive ratio (taller gearing to the right)",
		of:    func(rollout units.Millimeters) float64 { return ratioFor(rollout, a.Next.Tire) },
		falls: true,
	})
}

// Rollout draws the peak of one part against rollout.
//
// It fails with ErrNotMeasured if no run measured the part.
func Rollout(a *advise.Advice, part run.Part, system units.System) (*Figure, error) {
	return gearingFigure(a, part, system, scale{
		label: "rollout per turn of the motor, " + system.LengthUnit(),
		of:    system.Length,
	})
}

// scale turns a rollout on the next run's tire into a place on the axis.
type scale struct {
	label string
	of    func(rollout units.Millimeters) float64
	falls bool
}

func gearingFigure(a *advise.Advice, part run.Part, system units.System, x scale) (*Figure, error) {
	v, err := newView(a, part, system)
	if err != nil {
		return nil, err
	}
	knots := v.knots()
	f := &Figure{
		Title:     v.gearingTitle(),
		MarksName: marksName(a),
		X:         v.gearingAxis(x, knots),
		Bands:     []Band{v.gearingBand(x, knots)},
		Curves:    v.gearingCurves(x, knots),
		Levels:    v.limitLevel(),
		Marks:     v.marks(x),
		Callouts:  v.gearingCallouts(x),
	}
	runs, bounds := v.runs(func(r *run.Run) (float64, analyze.Conditions) {
		// At its own rollout a run moves least, and a tested rollout stays a tested one.
		return x.of(r.Rollout()), v.at(r.Rollout())
	})
	f.Y = v.temperatureAxis(f.setApart(), f, runs, bounds)
	f.addRuns("run, moved to these conditions", runs, bounds)
	f.Subtitle = v.gearingSubtitle(f)
	f.Numbers = v.gearingNumbers()
	return f, nil
}

// knot is the forecast at one rollout.
type knot struct {
	rollout units.Millimeters
	forecast
}

// sweepKnots is how many steps a curve has at least. The forecast bends so little that
// the straight lines between them stay within the width in which the curve is drawn.
const sweepKnots = 24

// knots returns the forecast from the shortest gearing to be seen to the tallest. Each
// candidate and the ends of the tested span are among them.
func (v view) knots() []knot {
	low, high := v.span()
	var all []knot
	for i := range v.Candidates {
		c := &v.Candidates[i]
		all = append(all, knot{c.Rollout, v.of(c)})
	}
	add := func(rollout units.Millimeters) {
		if rollout < low || rollout > high || slices.ContainsFunc(all, func(k knot) bool { return near(k.rollout, rollout) }) {
			return
		}
		all = append(all, knot{rollout, v.under(v.at(rollout))})
	}
	add(v.fit.Tested.Low)
	add(v.fit.Tested.High)
	step := math.Pow(float64(high/low), 1.0/sweepKnots)
	for k := 0; k <= sweepKnots; k++ {
		add(low * units.Millimeters(math.Pow(step, float64(k))))
	}
	all = slices.DeleteFunc(all, func(k knot) bool { return !finite(float64(k.low), float64(k.high)) })
	slices.SortFunc(all, func(a, b knot) int { return cmp.Compare(a.rollout, b.rollout) })
	return slices.CompactFunc(all, func(a, b knot) bool { return near(a.rollout, b.rollout) })
}

// near forgives rounding.
func near(a, b units.Millimeters) bool { return math.Abs(float64(a/b)-1) < 1e-9 }

// span returns the rollouts to be seen: every candidate, and of the tested span as much
// as does not squash them.
func (v view) span() (low, high units.Millimeters) {
	const (
		leastExtent = 1.2 // high/low of a figure with one gearing alone
		leastReach  = 1.5 // how far the tested span may stretch a short list of candidates
	)
	low, high = v.Candidates[0].Rollout, v.Candidates[0].Rollout
	for _, c := range v.Candidates {
		low, high = min(low, c.Rollout), max(high, c.Rollout)
	}
	reach := max(high/low, leastReach)
	low, high = max(min(low, v.fit.Tested.Low), low/reach), min(max(high, v.fit.Tested.High), high*reach)
	if high/low < leastExtent {
		widen := units.Millimeters(math.Sqrt(leastExtent * float64(low/high)))
		low, high = low/widen, high*widen
	}
	return low, high
}

// gearingAxis returns an axis from the first knot to the last with a margin for glyphs.
func (v view) gearingAxis(x scale, knots []knot) Axis {
	a, b := x.of(knots[0].rollout), x.of(knots[len(knots)-1].rollout)
	const margin = 0.03
	low, high := min(a, b), max(a, b)
	pad := margin * (high - low)
	return Axis{Label: x.label, Low: low - pad, High: high + pad, Falling: x.falls}
}

func (v view) gearingBand(x scale, knots []knot) Band {
	b := Band{Name: "8 of 10 runs"}
	for _, k := range knots {
		b.Over = append(b.Over, Range{x.of(k.rollout), v.Temperature(k.low), v.Temperature(k.high)})
	}
	return b
}

// gearingCurves returns the middle of the forecast: solid where the log has tested,
// dashed where it has not.
func (v view) gearingCurves(x scale, knots []knot) []Curve {
	tested := func(i int) bool { return v.fit.Tested.Contains(knots[i].rollout) }
	points := make([]XY, len(knots))
	for i, k := range knots {
		points[i] = XY{x.of(k.rollout), v.Temperature(k.middle)}
	}
	return split("expected", points, tested)
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

// marks returns the candidates in the lane.
func (v view) marks(x scale) []Mark {
	all := make([]Mark, 0, len(v.Candidates))
	for i := range v.Candidates {
		c := &v.Candidates[i]
		all = append(all, Mark{
			X: x.of(c.Rollout), Label: markLabel(v.Advice, c.Gearing),
			Pick: c == v.Pick, Present: c.Gearing == v.Next.Gearing,
		})
	}
	return all
}

// gearingCallouts sets the pick apart, and beside it the gearing of the last run.
func (v view) gearingCallouts(x scale) []Callout {
	pick := v.of(v.Pick)
	all := []Callout{v.callout(x.of(v.Pick.Rollout), pick, Forecast,
		teeth(v.Advice, v.Pick.Gearing), degreeSpan(v.System, pick.low, pick.high))}
	for i := range v.Candidates {
		c := &v.Candidates[i]
		if c != v.Pick && c.Gearing == v.Next.Gearing {
			f := v.of(c)
			all = append(all, v.callout(x.of(c.Rollout), f, Present,
				"now "+teeth(v.Advice, c.Gearing), degreeSpan(v.System, f.low, f.high)))
		}
	}
	return all
}

// gearingTitle says what to expect of the pick.
func (v view) gearingTitle() string {
	f := v.of(v.Pick)
	title := fmt.Sprintf("%s expect the %s at %s in 8 of 10 runs", verdict(v.Advice), v.part.Word(), degreeSpan(v.System, f.low, f.high))
	if limit, ok := v.limit(); ok {
		title += ", limit " + v.Reading(limit)
	}
	return title
}

func (v view) gearingSubtitle(f *Figure) string {
	s := []string{heading(v.Advice, v.System), fmt.Sprintf("Chance under %s: %s, wanted %s.",
		allLimits(v.Advice), chance(v.Pick.Chance), wanted(v.Confidence))}
	if v.fit.InformedBy(v.Next) == analyze.FromPrior {
		s = append(s, "One gearing only was run: how heat changes with gearing is the general rule, not yet this car.")
	}
	if f.X.Falling && v.otherTires() {
		s = append(s, "Runs on other tires stand where they had this rollout.")
	}
	return join(append(s, v.limitOutside(f.Y))...)
}

// gearingNumbers tells the forecast of every candidate.
func (v view) gearingNumbers() string {
	all := make([]string, len(v.Candidates))
	for i := range v.Candidates {
		c := &v.Candidates[i]
		all[i] = v.tell(v.of(c), teeth(v.Advice, c.Gearing))
	}
	return "In 8 of 10 runs: " + strings.Join(all, ", ") + "."
}

// otherTires reports whether a run was on a tire other than the next run's.
func (v view) otherTires() bool {
	return slices.ContainsFunc(v.fit.Used(), func(r *run.Run) bool { return !near(r.Tire, v.Next.Tire) })
}

// limitOutside says where the limit is if the frame does not reach it.
func (v view) limitOutside(y Axis) string {
	limit, ok := v.limit()
	switch at := v.Temperature(limit); {
	case !ok, at >= y.Low && at <= y.High:
		return ""
	case at > y.High:
		return fmt.Sprintf("The limit of %s lies above this frame.", v.Reading(limit))
	default:
		return fmt.Sprintf("The limit of %s lies below this frame.", v.Reading(limit))
	}
}
