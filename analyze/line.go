package analyze

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// ErrNoLine reports that points do not determine a line and its scatter: fewer
// than three, or all at one x.
var ErrNoLine = errors.New("analyze: a line needs three points at two places at least")

// Line is the least-squares line y = Intercept + Slope·x, the one that a driver
// would draw through the points. It knows nothing of heat; it stands beside the
// model so that anyone can see where the two differ.
type Line struct {
	Intercept, Slope             float64
	InterceptStdErr, SlopeStdErr float64
	ResidualSD                   float64 // √(Σ residual² / DF)
	// RSquared is 1 - Σ residual² / Σ (y-ȳ)², given where y is not constant.
	RSquared    float64
	HasRSquared bool
	N, DF       int

	meanX, meanY, squaresX float64 // x̄, ȳ and Σ (x-x̄)²
}

// fitLine fits a line by least squares:
//
//	slope = Σ (x-x̄)(y-ȳ) / Σ (x-x̄)²,   se(slope) = s / √Σ (x-x̄)²,
//	se(intercept) = s √(1/n + x̄²/Σ (x-x̄)²),   s² = Σ residual² / (n-2)
//
// It fails with ErrNoLine on fewer than three points or constant x. There must be as many x
// as y, all finite.
func fitLine(x, y []float64) (Line, error) {
	n := len(x)
	if n < 3 || floats.Min(x) == floats.Max(x) {
		return Line{}, ErrNoLine
	}
	l := Line{N: n, DF: n - 2, meanX: stat.Mean(x, nil), meanY: stat.Mean(y, nil)}
	// About the means, so that no digits are lost to an origin far away.
	dx, dy := make([]float64, n), make([]float64, n)
	for i := range x {
		dx[i], dy[i] = x[i]-l.meanX, y[i]-l.meanY
	}
	_, l.Slope = stat.LinearRegression(dx, dy, nil, true)
	l.Intercept = l.at(0)
	l.squaresX = floats.Dot(dx, dx)
	var rss float64
	for i := range dx {
		r := dy[i] - l.Slope*dx[i]
		rss += r * r
	}
	l.ResidualSD = math.Sqrt(rss / float64(l.DF))
	l.SlopeStdErr = l.ResidualSD / math.Sqrt(l.squaresX)
	l.InterceptStdErr = l.ResidualSD * math.Sqrt(1/float64(n)+l.meanX*l.meanX/l.squaresX)
	if total := floats.Dot(dy, dy); total > 0 {
		l.RSquared, l.HasRSquared = 1-rss/total, true
	}
	return l, nil
}

// SlopeInterval returns the slope with its t interval: slope ± t(DF)·se.
func (l Line) SlopeInterval(level float64) Estimate { return l.interval(l.Slope, l.SlopeStdErr, level) }

// Mean returns where the average of many runs at x lies:
//
//	y ± t(DF)·s·√(1/n + (x-x̄)²/Σ(x-x̄)²)
func (l Line) Mean(x, level float64) Estimate {
	return l.interval(l.at(x), l.ResidualSD*math.Sqrt(l.leverage(x)), level)
}

// NextRun returns where one further run at x lies, which is always wider:
//
//	y ± t(DF)·s·√(1 + 1/n + (x-x̄)²/Σ(x-x̄)²)
func (l Line) NextRun(x, level float64) Estimate {
	return l.interval(l.at(x), l.ResidualSD*math.Sqrt(1+l.leverage(x)), level)
}

func (l Line) at(x float64) float64 { return l.meanY + l.Slope*(x-l.meanX) }

func (l Line) leverage(x float64) float64 { return 1/float64(l.N) + (x-l.meanX)*(x-l.meanX)/l.squaresX }

func (l Line) interval(value, stdErr, level float64) Estimate {
	t := distuv.StudentsT{Sigma: 1, Nu: float64(l.DF)}.Quantile((1 + level) / 2)
	return Estimate{Value: value, Low: value - t*stdErr, High: value + t*stdErr, Level: level}
}
