package analyze

import (
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"
	"time"

	"regear/analyze/run"
	"regear/analyze/units"
)

// season returns an invented log of n runs that measured every part: several gearings,
// days, surfaces and run times, some warm starts, every run at its own time.
func season(n int, seed uint64) []run.Run {
	random := rand.New(rand.NewPCG(seed, 77))
	runs := make([]run.Run, 0, n)
	at := time.Date(2026, time.May, 2, 10, 0, 0, 0, time.UTC)
	for i := range n {
		if i%4 == 3 {
			at = at.AddDate(0, 0, 7)
		}
		at = at.Add(2 * time.Hour)
		c := driven(14+random.IntN(4), units.Minutes(7+5*random.Float64()), units.Celsius(18+8*random.Float64()))
		c.Surface = []string{"clay", "turf"}[random.IntN(2)]
		if random.IntN(3) == 0 {
			c = after(c.Ambient+10, c)
		}
		r := ran(c, at, 0)
		r.HasTime = true
		for _, part := range run.Parts {
			plateau := []float64{run.Motor: 62, run.ESC: 50, run.Battery: 70}[part]
			tau := []float64{run.Motor: 6, run.ESC: 5, run.Battery: 24}[part]
			rise := plateau * math.Pow(float64(c.Gearing.Pinion)/15.5, 1.6) * -math.Expm1(-float64(c.Minutes)/tau)
			// Warm starts add what is left of them; the scatter is of the size that runs have.
			left := 0.0
			if start, warm := c.Start.Of(part); warm {
				left = float64(start.Above(c.Ambient)) * math.Exp(-float64(c.Minutes)/tau)
			}
			r.Peak.Set(part, c.Ambient+units.Celsius(left+rise*math.Exp(0.05*random.NormFloat64())))
		}
		runs = append(runs, r)
	}
	return runs
}

// fitted fits a car that has to be fittable.
func fitted(t *testing.T, runs []run.Run) *Car {
	t.Helper()
	car, err := FitCar(runs)
	if err != nil {
		t.Fatal(err)
	}
	return car
}

// temperatures are those at which distributions are compared.
var temperatures = []units.Celsius{40, 50, 55, 60, 65, 70, 75, 80, 90, 100}

// answers are what a driver may ask of a car, as numbers to compare: those that are
// computed outright, and those that are found to quantileWidth by a search, whose path
// may hang on the last digit.
type answers struct{ computed, found map[string]float64 }

// ask asks everything for one next run.
func ask(car *Car, next Conditions) answers {
	under := car.Under(next, Limits{}.With(run.Motor, 75).With(run.ESC, 65).With(run.Battery, 60))
	a := answers{map[string]float64{"under all": under.All}, map[string]float64{}}
	for _, f := range car.Fits() {
		name := f.Part.String()
		p := f.Predict(next)
		a.computed[name+" under"] = under.Part.At(f.Part)
		for _, c := range temperatures {
			a.computed[fmt.Sprintf("%s cdf %g", name, c)] = p.CDF(c)
		}
		a.computed[name+" time constant"], a.computed[name+" scatter"] = float64(f.TimeConstant()), f.Scatter()
		a.computed[name+" spread now"], a.computed[name+" spread then"] = f.Narrowing(next, next)
		for _, q := range []float64{0.1, 0.5, 0.9} {
			a.found[fmt.Sprintf("%s quantile %g", name, q)] = float64(p.Quantile(q))
		}
		e := f.Exponent(next, 0.8)
		a.found[name+" exponent"], a.found[name+" low"], a.found[name+" high"] = e.Value, e.Low, e.High
	}
	return a
}

// holdSame asks that two cars answer alike: to a relative 1e-9, or as near as found.
func holdSame(t *testing.T, what string, got, want answers) {
	t.Helper()
	hold := func(got, want map[string]float64, tolerance float64) {
		t.Helper()
		if len(got) != len(want) {
			t.Fatalf("%s: %d answers, want %d", what, len(got), len(want))
		}
		for name, w := range want {
			if g := got[name]; !(math.Abs(g-w) <= tolerance*math.Max(1, math.Abs(w))) {
				t.Errorf("%s: %s is %.12g, want %.12g", what, name, g, w)
			}
		}
	}
	hold(got.computed, want.computed, 1e-9)
	hold(got.found, want.found, 4*quantileWidth)
}

// TestRowOrderChangesNothing shuffles logs whose runs have distinct times, some of them
// stopped by heat.
func TestRowOrderChangesNothing(t *testing.T) {
	next := on("turf", driven(16, 12, 24))
	for seed := range uint64(4) {
		runs := season(18, seed)
		if seed%2 == 1 {
			runs[2], runs[9] = stopped(runs[2]), stopped(runs[9])
		}
		want := ask(fitted(t, runs), next)
		random := rand.New(rand.NewPCG(seed, 5))
		for range 3 {
			random.Shuffle(len(runs), func(i, j int) { runs[i], runs[j] = runs[j], runs[i] })
			holdSame(t, fmt.Sprintf("seed %d, shuffled", seed), ask(fitted(t, runs), next), want)
		}
	}
}

// TestProcessorsChangeNothing asks for the same digits, however many processors share
// the work.
func TestProcessorsChangeNothing(t *testing.T) {
	next := on("turf", driven(16, 12, 24))
	runs := season(200, 4)
	runs[2] = stopped(runs[2])
	want := ask(fitted(t, runs), next)
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	got := ask(fitted(t, runs), next)
	if !maps.Equal(got.computed, want.computed) || !maps.Equal(got.found, want.found) {
		t.Errorf("one processor gives %v, several %v", got, want)
	}
}

// TestSameEvidenceTwiceNarrows enters every run twice, the second time on a day of its own:
// twins on one day would say that the runs of a day are alike.
func TestSameEvidenceTwiceNarrows(t *testing.T) {
	for seed := range uint64(5) {
		once := season(6, seed)
		twice := slices.Clone(once)
		for _, r := range once {
			r.When = r.When.AddDate(0, 0, -3)
			twice = append(twice, r)
		}
		next := on("turf", driven(16, 12, 24))
		a, b := fitted(t, once), fitted(t, twice)
		for _, part := range run.Parts {
			spread := func(car *Car) float64 {
				p := car.Fit(part).Predict(next)
				return math.Log(float64(p.Quantile(0.9).Above(next.Ambient)) / float64(p.Quantile(0.1).Above(next.Ambient)))
			}
			if !(spread(b) < spread(a)) {
				t.Errorf("seed %d, %s: next run's spread %.4f, after the same again %.4f", seed, part, spread(a), spread(b))
			}
			e, f := a.Fit(part).Exponent(next, 0.8), b.Fit(part).Exponent(next, 0.8)
			if !(f.High-f.Low < e.High-e.Low) {
				t.Errorf("seed %d, %s: exponent %v, after the same again %v", seed, part, e, f)
			}
		}
	}
}

// TestNoEvidenceGivesBackThePrior fits one gearing, tire, battery and day: nothing then
// tells of any coefficient but the level, and each keeps its middle and its spread.
func TestNoEvidenceGivesBackThePrior(t *testing.T) {
	runs := []run.Run{
		ran(driven(16, 9, 22), aDay(1), 71),
		ran(driven(16, 12, 22), aDay(1), 75),
		ran(driven(16, 9, 22), aDay(1), 73),
	}
	f := motorFit(t, PriorOf(run.Motor), runs)
	if got := f.InformedBy(driven(16, 9, 22)); got != FromPrior {
		t.Errorf("one gearing informs as %v", got)
	}
	for j, c := range f.Coefficients(0.8) {
		if c.Name == "level" {
			continue
		}
		row := make([]float64, f.design.columns())
		row[j] = 1
		mean, variance := f.combination(row).moments()
		// Cells of next to no weight are left out, which moves the moments a little.
		if math.Abs(mean-c.Prior.Mean) > 1e-3 || math.Abs(math.Sqrt(variance)-c.Prior.SD) > 1e-3 {
			t.Errorf("%s: %g ± %g, before %g ± %g", c.Name, mean, math.Sqrt(variance), c.Prior.Mean, c.Prior.SD)
		}
	}
}

// TestMoreMinutesNeverCooler asks for every part and gearing that a longer run from
// ambient is never more likely to stay under any temperature.
func TestMoreMinutesNeverCooler(t *testing.T) {
	for _, runs := range [][]run.Run{season(1, 3), season(12, 4)} {
		car := fitted(t, runs)
		for _, f := range car.Fits() {
			for _, c := range temperatures {
				before := 1.0
				for minutes := units.Minutes(0.5); minutes < 80; minutes *= 1.3 {
					p := f.Predict(on("clay", driven(16, minutes, 22))).CDF(c)
					if p > before+1e-14 {
						t.Errorf("%s: %g min stay under %g °C with chance %.15g, fewer with %.15g", f.Part, minutes, c, p, before)
					}
					before = p
				}
			}
		}
	}
}

// TestTradeDirections asks what drivers hold to be so (common practice, no source): a
// larger tire at equal gearing runs hotter, one and two teeth down run cooler, and two
// cooler than one. With a single run it is the prior alone that says so.
func TestTradeDirections(t *testing.T) {
	car := fitted(t, season(1, 3))
	for _, f := range car.Fits() {
		middle := func(pinion int, tire units.Millimeters) units.Celsius {
			c := on(car.Last.Surface, driven(pinion, 10, 25))
			c.Tire = tire
			return f.Predict(c).Quantile(0.5)
		}
		for _, pinion := range []int{14, 16, 18} {
			now, one, two := middle(pinion, 118), middle(pinion-1, 118), middle(pinion-2, 118)
			if !(two < one && one < now) {
				t.Errorf("%s: %d teeth peak at %.1f °C, one down %.1f, two down %.1f", f.Part, pinion, now, one, two)
			}
			if larger := middle(pinion, 125); !(larger > now) {
				t.Errorf("%s: on a larger tire %.1f °C, before %.1f", f.Part, larger, now)
			}
		}
	}
}

// TestPredictionIsADistribution asks that chances rise from 0 to 1 with the temperature
// and that quantiles lead back to their chance.
func TestPredictionIsADistribution(t *testing.T) {
	warm := after(70, on("clay", driven(16, 3, 22)))
	for _, runs := range [][]run.Run{season(1, 3), season(3, 8), season(12, 4), {stopped(season(1, 3)[0])}} {
		car := fitted(t, runs)
		for _, f := range car.Fits() {
			for _, next := range []Conditions{driven(16, 12, 25), warm, on("gravel", driven(13, 40, -5))} {
				p := f.Predict(next)
				before := 0.0
				for c := units.Celsius(-60); c < 3000; c += 2 + (c+60)/30 {
					now := p.CDF(c)
					if !(now >= before && now <= 1) {
						t.Fatalf("%s: chance %.15g under %g °C, %.15g under less", f.Part, now, c, before)
					}
					if c <= next.Ambient && now != 0 {
						t.Errorf("%s: chance %g to stay under the air's %g °C", f.Part, now, c)
					}
					before = now
				}
				last := units.Celsius(-273)
				for _, q := range []float64{0.001, 0.02, 0.1, 0.25, 0.5, 0.75, 0.9, 0.98, 0.999} {
					c := p.Quantile(q)
					if !(c > last) || math.Abs(p.CDF(c)-q) > 1e-5 {
						t.Errorf("%s: quantile %g is %g °C, under which the chance is %.8f", f.Part, q, c, p.CDF(c))
					}
					last = c
				}
			}
		}
	}
}

// TestHeatStopLaws asks that a heat stop far below what is expected changes nothing that
// is told, that one far above heats the next run, and that the higher the hotter.
func TestHeatStopLaws(t *testing.T) {
	plain := []run.Run{
		ran(driven(15, 8, 20), aDay(1), 60), ran(driven(17, 8, 20), aDay(1), 70),
		ran(driven(15, 8, 20), aDay(1), 62), ran(driven(17, 8, 20), aDay(1), 69),
	}
	next := driven(16, 10, 22)
	// Stops at both gearings leave the log's middle, on which the prior rests, in place.
	with := func(low, high units.Celsius) Prediction {
		runs := append(append([]run.Run{}, plain...),
			stopped(ran(driven(15, 8, 20), aDay(1), low)), stopped(ran(driven(17, 8, 20), aDay(1), high)))
		return motorFit(t, PriorOf(run.Motor), runs).Predict(next)
	}
	without := motorFit(t, PriorOf(run.Motor), plain).Predict(next)
	below := with(22, 22)
	for _, c := range temperatures {
		if got, want := below.CDF(c), without.CDF(c); math.Abs(got-want) > 0.01 {
			t.Errorf("heat stops at 22 °C move the chance under %g °C from %.5f to %.5f", c, want, got)
		}
	}
	before := without.Quantile(0.5)
	for _, above := range []units.Celsius{10, 20, 40} {
		now := with(61+above, 70+above).Quantile(0.5)
		if !(now > before+0.5) {
			t.Errorf("heat stops %g K above their like: middle %.2f °C, before %.2f", above, now, before)
		}
		before = now
	}
}

// TestUnusedRunsChangeNothing adds runs that a fit must not use.
func TestUnusedRunsChangeNothing(t *testing.T) {
	next := on("turf", driven(16, 12, 24))
	runs := season(9, 2)
	want := ask(fitted(t, runs), next)
	skipped := season(10, 6)[9]
	skipped.Skip = true
	skipped.When = runs[0].When.AddDate(1, 0, 0)
	other := season(10, 7)[9]
	other.Motor = "another"
	other.When = runs[0].When.AddDate(-1, 0, 0)
	holdSame(t, "with a skipped run and another motor", ask(fitted(t, append(runs, skipped, other)), next), want)
}

// TestStartAtAmbientIsNoWarmStart logs what the contract takes a blank start for.
func TestStartAtAmbientIsNoWarmStart(t *testing.T) {
	blank := []run.Run{ran(driven(15, 8, 20), aDay(1), 60), ran(driven(17, 5, 23), aDay(2), 66)}
	read := []run.Run{ran(after(20, driven(15, 8, 20)), aDay(1), 60), ran(after(23, driven(17, 5, 23)), aDay(2), 66)}
	next := driven(16, 10, 25)
	holdSame(t, "starts read", ask(fitted(t, read), after(25, next)), ask(fitted(t, blank), next))
}

// TestNarrowingIsWhatARunLeaves holds the expected narrowing of a fit of one component
// against a log that has the further run in it: the coefficients' covariance then does
// not depend on what was read.
func TestNarrowingIsWhatARunLeaves(t *testing.T) {
	p := PriorOf(run.Motor)
	p.TimeConstants, p.DayShares, p.NoRuleWeight = p.TimeConstants[:1], []Weighted{{0, 1}}, 0
	p.Scatters = []Weighted{{0.07, 1}}
	runs := []run.Run{ran(driven(15, 8, 20), aDay(1), 60), ran(driven(16, 8, 20), aDay(1), 66)}
	target, test := driven(13, 12, 25), driven(14, 8, 20)
	f := motorFit(t, p, runs)
	now, then := f.Narrowing(target, test)

	k := &f.components[0]
	variances := func(f *Fit, c Conditions) (coefficients, run float64) {
		at := f.places(f.design.next(&c))[0]
		_, v := f.components[0].along(at)
		return v, f.components[0].ofNewDay()
	}
	before, own := variances(f, target)
	if w := math.Sqrt(before + own); apart(now, w) > 1e-12 {
		t.Errorf("now %.15g, want %.15g", now, w)
	}
	var rows [][]float64
	for i := range runs {
		c := ConditionsOf(&runs[i])
		rows = append(rows, f.design.on(&c, 0))
	}
	more := sumsOf(make([]float64, 3), append(rows, f.design.next(&test)))
	base, err := newBasis(k.basis.prior, more.xx)
	if err != nil {
		t.Fatal(err)
	}
	post := base.update(base.pulls(&more, 0), k.variance)
	_, after := post.along(base.at(f.design.next(&target)))
	if w := math.Sqrt(after + own); apart(then, w) > 1e-10 || !(then < now) {
		t.Errorf("then %.15g, want %.15g, now %.15g", then, w, now)
	}
}

// TestJointChance holds the copula against the chance that two, and three, equally
// correlated normal variables are all below 0, and against its own laws. Two are a turned
// and stretched view of two that are independent, in which both are below 0 in a wedge of
// π/2 + asin(ρ): P2 = 1/4 + asin(ρ)/2π. Of three, 1 - P3 = 3/2 - 3 P2 + P3 have one below 0
// at least, as all above 0 is as likely as all below: P3 = 1/8 + 3 asin(ρ)/4π.
func TestJointChance(t *testing.T) {
	// The integral promises about 1e-6 at every correlation that is admitted.
	const promised = 2e-6
	for i := range 20 {
		rho := maxCorrelation * float64(i) / 19
		two, three := 0.25+math.Asin(rho)/(2*math.Pi), 0.125+3*math.Asin(rho)/(4*math.Pi)
		if got := jointChance([]float64{0.5, 0.5}, rho); math.Abs(got-two) > promised {
			t.Errorf("ρ %.2f: %.8f of two, want %.8f", rho, got, two)
		}
		if got := jointChance([]float64{0.5, 0.5, 0.5}, rho); math.Abs(got-three) > promised {
			t.Errorf("ρ %.2f: %.8f of three, want %.8f", rho, got, three)
		}
		for _, c := range [][]float64{{0.9, 0.3}, {0.99, 0.8, 0.6}, {1, 0.7}, {1e-6, 0.5}, {0, 0.5}} {
			product, smallest := 1.0, 1.0
			for _, p := range c {
				product *= p
				smallest = math.Min(smallest, p)
			}
			if got := jointChance(c, rho); got < product-1e-6 || got > smallest+1e-6 {
				t.Errorf("ρ %.2f: chance %g of all of %v", rho, got, c)
			}
		}
	}
}

// TestUnderLiesBetweenItsBounds asks of whole cars that the chance of all parts lies
// between the product and the smallest of the parts' chances, and that each of these is
// the prediction's.
func TestUnderLiesBetweenItsBounds(t *testing.T) {
	car := fitted(t, season(12, 4))
	next := on("clay", driven(16, 12, 25))
	for c := units.Celsius(50); c < 110; c += 5 {
		under := car.Under(next, Limits{}.With(run.Motor, c).With(run.ESC, c-10).With(run.Battery, c-5))
		product, smallest := 1.0, 1.0
		for _, p := range under.Part.All() {
			product *= p
			smallest = math.Min(smallest, p)
		}
		if !(under.All >= product-1e-6 && under.All <= smallest+1e-6) || under.Part.Len() != 3 {
			t.Errorf("%g °C: %v", c, under)
		}
		if got, want := under.Part.At(run.Motor), car.Fit(run.Motor).Predict(next).CDF(c); got != want {
			t.Errorf("%g °C: motor %g, predicted %g", c, got, want)
		}
	}
}

// TestMovedRunsKeepTheirReading asks that a run moved to its own conditions stays where it
// was read, and that one moved to another length there is hotter by what the part's time
// constant says.
func TestMovedRunsKeepTheirReading(t *testing.T) {
	car := fitted(t, season(12, 4))
	for _, f := range car.Fits() {
		tau := f.likeliest().tau
		for i, r := range f.Used() {
			to := ConditionsOf(r)
			peak, _ := r.Peak.Of(f.Part)
			if got := f.Moved(i, to); math.Abs(float64(got-peak)) > 1e-9 {
				t.Errorf("%s: run %d was read %g °C and stands at %g", f.Part, i, peak, got)
			}
			if _, warm := to.Start.Of(f.Part); warm {
				continue
			}
			before := to.Minutes
			to.Minutes *= 1.5
			want := float64(peak.Above(r.Ambient)) * (1 - math.Exp(-float64(to.Minutes)/tau)) / (1 - math.Exp(-float64(before)/tau))
			if got := float64(f.Moved(i, to).Above(r.Ambient)); math.Abs(got-want) > 1e-9 {
				t.Errorf("%s: run %d would rise %g K in half again as long, want %g", f.Part, i, got, want)
			}
		}
	}
}
