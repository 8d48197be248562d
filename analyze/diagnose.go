package analyze

import (
	"cmp"
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/gonum/stat/distuv"

	"regear/analyze/drivetrain"
	"regear/analyze/nearest"
	"regear/analyze/run"
	"regear/analyze/units"
)

// Warnings returns what the log makes doubtful about the car's fits, in the order of
// the codes.
func (c *Car) Warnings() []Warning { return c.warnings }

// diagnose collects everything that a log alone can show. The answers of advise add
// what depends on a request.
func (c *Car) diagnose(runs []*run.Run, otherMotor int) []Warning {
	var all []Warning
	if otherMotor > 0 {
		all = append(all, Warning{Code: OtherMotorRuns, Score: float64(otherMotor), Names: []string{c.Last.Motor}})
	}
	all = append(all, severalChanges(runs)...)
	all = append(all, c.fewRuns()...)
	all = append(all, c.warmStarts()...)
	for _, f := range c.Fits() {
		all = append(all, f.warnings...)
	}
	slices.SortStableFunc(all, func(a, b Warning) int { return cmp.Compare(a.Code, b.Code) })
	return all
}

// diagnose looks for what the runs of one part show.
func (f *Fit) diagnose(m *measured) []Warning {
	limits := DefaultThresholds()
	all := slices.Concat(f.oddRuns(m, limits), f.influentialRun(m, limits), f.hotter(limits),
		f.nearAmbient(m, limits), f.swappedUnits(m, limits))
	if f.Bounds > 0 {
		all = append(all, f.warning(HeatStops, float64(f.Bounds), 0))
	}
	return all
}

// warning returns a warning about f's part.
func (f *Fit) warning(code Code, score, threshold float64) Warning {
	return Warning{Code: code, Part: f.Part, OfPart: true, Score: score, Threshold: threshold}
}

// fewRuns tells of logs that can't show an exponent: once for the car where it
// holds for all its parts, else for the parts that it holds for.
func (c *Car) fewRuns() []Warning {
	var all []Warning
	for _, f := range c.Fits() {
		switch {
		case f.Runs == 1:
			all = append(all, f.warning(OneRunOnly, 1, 0))
		case f.Tested.one():
			all = append(all, f.warning(OneGearingOnly, float64(f.Runs), 0))
		}
	}
	same := func(w Warning) bool { return w.Code == all[0].Code && w.Score == all[0].Score }
	if len(all) == len(c.Fits()) && !slices.ContainsFunc(all, func(w Warning) bool { return !same(w) }) {
		all = all[:1]
		all[0].OfPart = false
	}
	return all
}

// oddRuns tells of runs that lie far from what the fit expects of them, the oddest
// first and at most mostOdd of them.
func (f *Fit) oddRuns(m *measured, limits Thresholds) []Warning {
	const mostOdd = 5
	if f.Runs-f.Bounds < limits.LeastRuns {
		return nil
	}
	middle, spread := f.residualSpread(m, limits)
	// Among many runs, some lie far out by chance alone: one in twenty clean logs may
	// show one.
	chance := distuv.UnitNormal.Quantile(1 - 0.05/(2*float64(f.Runs)))
	threshold := math.Max(limits.OddScore, chance)
	var all []Warning
	for i, residual := range f.residuals {
		least := float64(limits.LeastReading / m.rise(i))
		score := math.Abs(residual-middle) / max(spread, least)
		if score <= threshold || m.stoppedByHeat(i) {
			continue
		}
		w := f.warning(OddRun, score, threshold)
		w.Runs = []run.Position{f.used[i].Position}
		w.Seen, w.Expected = m.peak[i], f.expected(m, i)
		all = append(all, w)
	}
	slices.SortStableFunc(all, func(a, b Warning) int { return cmp.Compare(b.Score, a.Score) })
	return all[:min(len(all), mostOdd)]
}

// residualSpread returns the median of the plain runs' residuals and their robust
// spread, 1.4826 times the median distance from it, not below LeastScatter.
func (f *Fit) residualSpread(m *measured, limits Thresholds) (middle, spread float64) {
	plain := make([]float64, 0, f.Runs)
	for i, residual := range f.residuals {
		if !m.stoppedByHeat(i) {
			plain = append(plain, residual)
		}
	}
	middle = median(plain)
	for i := range plain {
		plain[i] = math.Abs(plain[i] - middle)
	}
	const normal = 1.4826 // a normal distribution's spread over its median distance
	return middle, math.Max(normal*median(plain), limits.LeastScatter)
}

// expected returns what a used run would have read without its residual.
func (f *Fit) expected(m *measured, i int) units.Celsius {
	best, r := f.likeliest(), f.used[i]
	left := m.start[i].left(r.Minutes, best.tau, best.heatLeft)
	rise := float64(m.rise(i)) - left
	return r.Ambient.Plus(units.Rise(left + rise*math.Exp(-f.residuals[i])))
}

// influentialRun tells where a single run carries most of what the log says about
// the exponent: its share of Σ (x - x̄)², x = ln(rollout).
func (f *Fit) influentialRun(m *measured, limits Thresholds) []Warning {
	if f.Runs < 3 {
		return nil
	}
	x := func(i int) float64 { return m.rows.rows[m.at[i]].rollout }
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
	if total < rounding || most/total < limits.Influence {
		return nil
	}
	w := f.warning(InfluentialRun, most/total, limits.Influence)
	w.Runs = []run.Position{mostly.Position}
	return []Warning{w}
}

// hotter tells of a car that runs hotter than its own history at equal gearing.
func (f *Fit) hotter(limits Thresholds) []Warning {
	drift := make([]float64, f.design.columns())
	drift[colDrift] = 1
	e := f.estimate(drift, 2*limits.HotterChance-1)
	growth := math.Expm1(e.Value * f.design.driftSpan())
	if e.Low <= 0 || growth < limits.Hotter {
		return nil
	}
	return []Warning{f.warning(RunsHotter, growth, limits.Hotter)}
}

// nearAmbient tells of peaks close to the air after runs that warmed the part at
// other times. Parts that never warm up are left in peace.
func (f *Fit) nearAmbient(m *measured, limits Thresholds) []Warning {
	const share = 0.35 // of what the fit expects
	var all []Warning
	for i, peak := range m.peak {
		r := f.used[i]
		low := m.rise(i) < limits.NearAmbientRise && r.Minutes >= limits.NearAmbientMinutes
		if !low || f.Runs > 1 && math.Exp(f.residuals[i]) > share {
			continue
		}
		w := f.warning(NearAmbient, 0, float64(limits.NearAmbientRise))
		w.Runs = []run.Position{r.Position}
		w.Seen, w.Expected = peak, r.Ambient
		all = append(all, w)
	}
	return all
}

// swappedUnits tells where the middle peak makes sense on the other scale alone:
// far above what any part survives, or hardly above the air.
func (f *Fit) swappedUnits(m *measured, limits Thresholds) []Warning {
	const survives, warm = 140, 45
	// The middle of most logs is plain to see without sorting them.
	hot, cool := 0, 0
	for i, peak := range m.peak {
		if peak > survives {
			hot++
		}
		if m.rise(i) < limits.NearAmbientRise {
			cool++
		}
	}
	if 2*max(hot, cool) < f.Runs-1 {
		return nil
	}
	peaks, rises := make([]float64, f.Runs), make([]float64, f.Runs)
	for i, peak := range m.peak {
		peaks[i], rises[i] = float64(peak), float64(m.rise(i))
	}
	middle, rise := units.Celsius(median(peaks)), units.Rise(median(rises))
	w := f.warning(UnitsLookSwapped, 0, 0)
	w.Seen = middle
	switch asFahrenheit := units.FromFahrenheit(float64(middle)); {
	case middle > survives:
		w.Expected = asFahrenheit
	case rise < limits.NearAmbientRise && middle.Fahrenheit() > warm && middle.Fahrenheit() < survives && f.Part != run.Battery:
		w.Expected = units.Celsius(middle.Fahrenheit())
	default:
		return nil
	}
	return []Warning{w}
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
		w := Warning{Code: SeveralChanges, Runs: []run.Position{r.Position}}
		for _, change := range []struct {
			name string
			made bool
		}{
			{"tire", before.tire != now.tire},
			{"cells", before.cells != now.cells},
			{"surface", before.surface != now.surface},
			{"cooling", before.cooling != now.cooling},
		} {
			if change.made {
				w.Names = append(w.Names, change.name)
			}
		}
		return []Warning{w}
	}
	return nil
}

// warmStarts tells of runs that began warm from the one before without a start reading.
func (c *Car) warmStarts() []Warning {
	var all []Warning
	for _, f := range c.Fits() {
		if runs, heatLeft := f.WarmStarts(); runs > 0 {
			all = append(all, f.warning(WarmStartAssumed, float64(runs), heatLeft))
		}
	}
	return all
}

// NextRunWarnings returns what makes a prediction under next doubtful.
func (c *Car) NextRunWarnings(next Conditions) []Warning {
	const sameTire = 0.01
	limits := DefaultThresholds()
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
		all = append(all, Warning{Code: TireUntested, Low: tires.Low, High: tires.High})
	}
	if float64(next.Minutes) > float64(longest)*limits.LongerRun {
		all = append(all, Warning{Code: MinutesUntested, Score: float64(next.Minutes), Threshold: float64(longest)})
	}
	if nearest := min(max(next.Ambient, coolest), warmest); math.Abs(float64(next.Ambient.Above(nearest))) > float64(limits.OtherAir) {
		all = append(all, Warning{Code: AirUntested, Seen: next.Ambient, Expected: nearest})
	}
	if next.Cells > 0 && !slices.Contains(cells, next.Cells) {
		slices.Sort(cells)
		w := Warning{Code: CellsUntested, Score: float64(next.Cells)}
		for _, n := range cells {
			w.Names = append(w.Names, strconv.Itoa(n))
		}
		all = append(all, w)
	}
	d := c.Fits()[0].design
	all = append(all, d.surfaces.unknown("surface", next.Surface)...)
	return append(all, d.coolings.unknown("cooling", next.Cooling)...)
}

// unknown tells of a label that the log does not hold, with those that it does.
func (l labels) unknown(kind, label string) []Warning {
	if label == "" || l.knows(label) {
		return nil
	}
	named := slices.DeleteFunc(slices.Clone(l.known), func(k string) bool { return k == "" })
	return []Warning{{Code: UnknownLabel, Names: append([]string{kind, label}, nearest.First(label, named)...)}}
}
