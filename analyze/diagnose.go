package analyze

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
)

// The thresholds of the warnings. A log that passes none of them is told so, with these
// numbers.
const (
	// OddScore is the robust score |residual - median| / (1.4826 MAD) above which a run is
	// odd: Iglewicz and Hoaglin (1993), from memory. leastScatter and leastReading are floors
	// of its denominator, as a share of the rise and in kelvin: readings rounded to whole
	// degrees by an infrared gun differ by as much in good order. Common practice, no source.
	OddScore                = 3.5
	leastScatter            = 0.05
	leastReading units.Rise = 1.5
	// leastRuns is how many runs a part needs before one of them is called odd.
	leastRuns = 5
	// Influence is the share of Σ (x - x̄)², x = ln(rollout), above which one run is said to
	// decide the exponent.
	Influence = 0.6
	// Hotter is the growth of the rise over the log that is told, and hotterChance the
	// probability that there is any growth at all that must go with it.
	Hotter       = 0.08
	hotterChance = 0.95
	// NearAmbientRise is the rise below which a peak looks wrong after NearAmbientMinutes.
	NearAmbientRise    units.Rise    = 8
	NearAmbientMinutes units.Minutes = 4
	// longerRun is how many times as long as the longest run the next may be without a warning,
	// and otherAir how far its air may lie outside the log's.
	longerRun            = 1.5
	otherAir  units.Rise = 8
)

// Warnings returns what a reader of the car's fits should know, kind by kind.
func (c *Car) Warnings() []Warning { return c.warnings }

// diagnose collects everything that a log alone can show. The answers of advise add
// what depends on a request.
func (c *Car) diagnose(runs []*run.Run, otherMotor int) []Warning {
	all := append(severalChanges(runs), c.fewRuns()...)
	if otherMotor > 0 {
		all = append(all, OtherMotorRuns{Runs: otherMotor, Motor: c.Last.Motor})
	}
	for _, f := range c.Fits() {
		all = append(all, f.warnings...)
	}
	rank := func(w Warning) int {
		return slices.IndexFunc(Kinds, func(kind Warning) bool { return kind.Code() == w.Code() })
	}
	slices.SortStableFunc(all, func(a, b Warning) int { return cmp.Compare(rank(a), rank(b)) })
	return all
}

func (f *Fit) diagnose(m *measured) []Warning {
	all := slices.Concat(f.oddRuns(m), f.influentialRun(m), f.hotter(), f.nearAmbient(m), f.swappedUnits(m))
	if f.Bounds > 0 {
		all = append(all, HeatStops{f.Part, f.Bounds})
	}
	if runs, heatLeft := f.WarmStarts(); runs > 0 {
		all = append(all, WarmStartAssumed{f.Part, runs, heatLeft})
	}
	return all
}

// fewRuns tells of logs that can't show an exponent: once for the car where the same holds
// for all its parts, else for each part that it holds for.
func (c *Car) fewRuns() []Warning {
	tell := func(f *Fit, every bool) Warning {
		switch {
		case f.Runs == 1:
			return OneRunOnly{f.Part, every}
		case f.Tested.one():
			return OneGearingOnly{f.Part, every, f.Runs}
		}
		return nil
	}
	fits := c.Fits()
	first := fits[0]
	if w := tell(first, true); w != nil && !slices.ContainsFunc(fits, func(f *Fit) bool { return !f.Tested.one() || f.Runs != first.Runs }) {
		return []Warning{w}
	}
	var all []Warning
	for _, f := range fits {
		if w := tell(f, false); w != nil {
			all = append(all, w)
		}
	}
	return all
}

// oddRuns tells of runs that lie far from what the fit expects of them, the oddest
// first and at most mostOdd of them.
func (f *Fit) oddRuns(m *measured) []Warning {
	const mostOdd = 5
	if f.Runs-f.Bounds < leastRuns {
		return nil
	}
	middle, spread := f.residualSpread(m)
	// Among many runs, some lie far out by chance alone: one in twenty clean logs may
	// show one.
	chance := distuv.UnitNormal.Quantile(1 - 0.05/(2*float64(f.Runs)))
	threshold := math.Max(OddScore, chance)
	var all []OddRun
	for i, residual := range f.residuals {
		least := float64(leastReading / m.rise[i])
		score := math.Abs(residual-middle) / max(spread, least)
		if score <= threshold || m.row(i).stoppedByHeat {
			continue
		}
		all = append(all, OddRun{f.Part, f.used[i].Position, m.peak[i], f.expected(m, i), score})
	}
	slices.SortStableFunc(all, func(a, b OddRun) int { return cmp.Compare(b.Score, a.Score) })
	var oddest []Warning
	for _, w := range all[:min(len(all), mostOdd)] {
		oddest = append(oddest, w)
	}
	return oddest
}

// residualSpread returns the median of the plain runs' residuals and their robust
// spread, 1.4826 times the median distance from it, not below leastScatter.
func (f *Fit) residualSpread(m *measured) (middle, spread float64) {
	plain := make([]float64, 0, f.Runs)
	for i, residual := range f.residuals {
		if !m.row(i).stoppedByHeat {
			plain = append(plain, residual)
		}
	}
	middle = median(plain)
	for i, residual := range plain {
		plain[i] = math.Abs(residual - middle)
	}
	const normal = 1.4826 // a normal distribution's spread over its median distance
	return middle, math.Max(normal*median(plain), leastScatter)
}

// expected returns what a used run would have read without its residual.
func (f *Fit) expected(m *measured, i int) units.Celsius {
	best, r := f.likeliest(), f.used[i]
	left := m.start[i].left(r.Minutes, best.tau, best.heatLeft)
	rise := float64(m.rise[i]) - left
	return r.Ambient.Plus(units.Rise(left + rise*math.Exp(-f.residuals[i])))
}

// influentialRun tells where a single run carries most of what the log says about
// the exponent: its share of Σ (x - x̄)², x = ln(rollout).
func (f *Fit) influentialRun(m *measured) []Warning {
	x := func(i int) float64 { return m.row(i).rollout }
	middle := 0.0
	for i := range m.at {
		middle += x(i) / float64(f.Runs)
	}
	var total, most float64
	var mostly *run.Run
	for i := range m.at {
		square := (x(i) - middle) * (x(i) - middle)
		total += square
		if square > most {
			most, mostly = square, f.used[i]
		}
	}
	const rounding = 1e-9
	if total < rounding || most/total < Influence {
		return nil
	}
	return []Warning{InfluentialRun{f.Part, mostly.Position}}
}

// hotter tells of a car that runs hotter than its own history at equal gearing.
func (f *Fit) hotter() []Warning {
	drift := make([]float64, f.design.columns())
	drift[colDrift] = 1
	e := f.estimate(drift, 2*hotterChance-1)
	growth := math.Expm1(-e.Value * f.design.drifted(0))
	if e.Low <= 0 || growth < Hotter {
		return nil
	}
	return []Warning{RunsHotter{f.Part, growth}}
}

// nearAmbient tells of peaks close to the air after runs that warmed the part at
// other times. A part that never warms up gets no warning.
func (f *Fit) nearAmbient(m *measured) []Warning {
	const share = 0.35 // of what the fit expects
	var all []Warning
	for i, peak := range m.peak {
		r := f.used[i]
		low := m.rise[i] < NearAmbientRise && r.Minutes >= NearAmbientMinutes
		if !low || f.Runs > 1 && math.Exp(f.residuals[i]) > share {
			continue
		}
		all = append(all, NearAmbient{f.Part, r.Position, peak, r.Ambient})
	}
	return all
}

// swappedUnits tells where the middle peak makes sense on the other scale alone:
// far above what any part survives, or hardly above the air.
func (f *Fit) swappedUnits(m *measured) []Warning {
	const survives, warm = 140, 45
	middle := median(slices.Clone(m.peak))
	switch {
	case middle > survives:
		return []Warning{UnitsLookSwapped{f.Part, middle, units.FromFahrenheit(float64(middle))}}
	case middle.Fahrenheit() > warm && middle.Fahrenheit() < survives && f.Part != run.Battery &&
		median(slices.Clone(m.rise)) < NearAmbientRise:
		return []Warning{UnitsLookSwapped{f.Part, middle, units.Celsius(middle.Fahrenheit())}}
	}
	return nil
}

// severalChanges tells of gearings that never met under equal circumstances, so that
// no difference in heat is the gearing's alone.
func severalChanges(runs []*run.Run) []Warning {
	type setup struct {
		tire             units.Millimeters
		cells            int
		surface, cooling string
	}
	setupOf := func(r *run.Run) setup {
		return setup{r.Tire, r.Cells, run.Fold(r.Surface), run.Fold(r.Cooling)}
	}
	gearingIn := map[setup]drivetrain.Gearing{}
	several := false
	for _, r := range runs {
		several = several || r.Gearing != runs[0].Gearing
		s := setupOf(r)
		if g, seen := gearingIn[s]; !seen {
			gearingIn[s] = r.Gearing
		} else if g != r.Gearing {
			return nil // these two differ in nothing else
		}
	}
	if !several {
		return nil
	}
	inTime := slices.Clone(runs)
	slices.SortStableFunc(inTime, func(a, b *run.Run) int { return a.When.Compare(b.When) })
	for i, r := range inTime[1:] {
		before, now := setupOf(inTime[i]), setupOf(r)
		if inTime[i].Gearing == r.Gearing || before == now {
			continue
		}
		w := SeveralChanges{Run: r.Position}
		note := func(name string, changed bool) {
			if changed {
				w.With = append(w.With, name)
			}
		}
		note("tire", before.tire != now.tire)
		note("cells", before.cells != now.cells)
		note("surface", before.surface != now.surface)
		note("cooling", before.cooling != now.cooling)
		return []Warning{w}
	}
	return nil
}

// NextRunWarnings returns what a reader of a forecast under next should know.
func (c *Car) NextRunWarnings(next Conditions) []Warning {
	const sameTire = 0.01
	var all []Warning
	longest, tires := units.Minutes(0), noSpan()
	coolest, warmest := units.Celsius(math.Inf(1)), units.Celsius(math.Inf(-1))
	var cells []int
	for _, f := range c.Fits() {
		for _, r := range f.used {
			longest = max(longest, r.Minutes)
			tires.include(r.Tire)
			coolest, warmest = min(coolest, r.Ambient), max(warmest, r.Ambient)
			if r.Cells > 0 && !slices.Contains(cells, r.Cells) {
				cells = append(cells, r.Cells)
			}
		}
	}
	if next.Tire < tires.Low*(1-sameTire) || next.Tire > tires.High*(1+sameTire) {
		all = append(all, TireUntested{Tested: tires})
	}
	if float64(next.Minutes) > float64(longest)*longerRun {
		all = append(all, MinutesUntested{Minutes: next.Minutes, Longest: longest})
	}
	if nearest := min(max(next.Ambient, coolest), warmest); math.Abs(float64(next.Ambient.Above(nearest))) > float64(otherAir) {
		all = append(all, AirUntested{Air: next.Ambient, Nearest: nearest})
	}
	if next.Cells > 0 && !slices.Contains(cells, next.Cells) {
		slices.Sort(cells)
		all = append(all, CellsUntested{Cells: next.Cells, Logged: cells})
	}
	d := c.Fits()[0].design
	all = append(all, d.surfaces.unknown("surface", next.Surface)...)
	return append(all, d.coolings.unknown("cooling", next.Cooling)...)
}

func (l labels) unknown(kind, label string) []Warning {
	if label == "" || l.knows(label) {
		return nil
	}
	named := slices.DeleteFunc(slices.Clone(l.known), func(k string) bool { return k == "" })
	return []Warning{UnknownLabel{Kind: kind, Label: label, Logged: named}}
}
