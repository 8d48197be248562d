package analyze

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// sums are the sums over runs that the regression needs, of a row x of the columns and of the
// responses y, one for each world. Each is taken with V⁻¹ in the middle.
type sums struct {
	n      float64       // runs
	xx     *mat.SymDense // XᵀV⁻¹X
	xy     *mat.Dense    // XᵀV⁻¹Y, columns × worlds
	both   []float64     // the rows of xx, each with that of xy behind it
	yy     []float64     // yᵀV⁻¹y of each world
	logDet float64       // ln|V|
}

func newSums(columns, worlds int) sums {
	wide := columns + worlds
	s := sums{xx: &mat.SymDense{}, xy: &mat.Dense{}, both: make([]float64, columns*wide), yy: make([]float64, worlds)}
	s.xx.SetRawSymmetric(blas64.Symmetric{N: columns, Stride: wide, Data: s.both, Uplo: blas.Upper})
	s.xy.SetRawMatrix(blas64.General{Rows: columns, Cols: worlds, Stride: wide, Data: s.both[columns:]})
	return s
}

// add enters a row with a weight, y behind x. Most columns of most rows are 0: labels, and what
// never changed.
func (s *sums) add(weight float64, row []float64) {
	wide := len(row)
	y := row[wide-len(s.yy):]
	for i, xi := range row[:wide-len(y)] {
		if xi != 0 {
			floats.AddScaled(s.both[i*wide+i:(i+1)*wide], weight*xi, row[i:])
		}
	}
	for k, yk := range y {
		s.yy[k] += weight * yk * yk
	}
}

// share takes out what the runs of a day have in common (sign 1), or puts it back (sign
// -1). With a day effect of variance λ, in units of σ²,
//
//	V⁻¹ = I - Σ_d λ/(1+λ n_d) 1_d 1_dᵀ,   |V| = Π_d (1+λ n_d)
func (s *sums) share(d *daySums, lambda, sign float64) {
	if lambda == 0 {
		return
	}
	s.add(-sign*lambda/(1+lambda*d.n), d.row)
	s.logDet += sign * math.Log1p(lambda*d.n)
}

func (s *sums) plus(other *sums) sums {
	columns, worlds := s.xy.Dims()
	all := newSums(columns, worlds)
	all.n, all.logDet = s.n+other.n, s.logDet+other.logDet
	floats.AddTo(all.both, s.both, other.both)
	floats.AddTo(all.yy, s.yy, other.yy)
	return all
}

// daySums are the weighted sums over the runs of one day. A run's weight is 1, or less for
// one that heat stopped.
type daySums struct {
	n     float64     // Σ weight
	row   []float64   // Σ x, and Σ y of each world behind it
	stops [][]float64 // the rows of runs that heat stopped: their responses are at least y
}

func (d *daySums) add(weight float64, row []float64) {
	d.n += weight
	floats.AddScaled(d.row, weight, row)
}

// accumulated is all that the fits need of the runs: one pass over the log serves every
// world and every day effect.
type accumulated struct {
	plain     sums // the runs that heat did not stop, as if each had a day of its own
	dayShares []Weighted
	shared    []sums    // what days have in common, one for each of the day shares
	stopDays  []daySums // the days on which heat stopped runs
	jacobian  []float64 // Σ ln rise, one for each world
}

// accumulate sums up the plain runs, and sets the heat stops apart.
func (f *Fit) accumulate(m *measured, worlds []world) *accumulated {
	columns, n := m.columns(), len(worlds)
	a := &accumulated{plain: newSums(columns, n), dayShares: f.Prior.DayShares, jacobian: make([]float64, n)}
	row := make([]float64, columns+n)
	days := make([]daySums, len(m.days))
	rows := make([]float64, len(days)*len(row))
	for d := range days {
		days[d].row, rows = rows[:len(row)], rows[len(row):]
	}
	for i, at := range m.at {
		m.row(i).fill(row[:columns])
		m.respond(worlds, row[columns:], a.jacobian, i)
		day := &days[m.day[at]]
		if m.row(i).stoppedByHeat {
			day.stops = append(day.stops, slices.Clone(row))
			continue
		}
		a.plain.n++
		a.plain.add(1, row)
		day.add(1, row)
	}
	for _, share := range a.dayShares {
		shared := newSums(columns, n)
		for d := range days {
			shared.share(&days[d], share.Value, 1)
		}
		a.shared = append(a.shared, shared)
	}
	a.stopDays = slices.DeleteFunc(days, func(d daySums) bool { return len(d.stops) == 0 })
	return a
}

// A run that heat stopped says that a full run would have gone higher: the driver eased off
// or the cut-off cut in. By how much is the excess. It is believed to be about as large at
// every stop of one log, since driver and cut-off are the same: e on average, with a
// spread of excessSpread e. Then a stop is a reading of e more that scatters by so much
// beside the usual, and a log with any number of them stays normal. The log decides
// what e is, as it decides on the scatter: where stops lie far below what the other runs
// lead to expect, e is large, and they weigh next to nothing; where they lie above, e is
// small, and they pull.

// excessSpread is the spread of the excess within one log, as a share of its mean. Common
// practice, no source. It is a third, so that an excess below 0 is next to impossible: stops
// above what other runs read then never pass for stops with a large excess.
const excessSpread = 1. / 3

// sums returns the regression's sums under one of the day shares, a variance σ² and an excess
// e of the heat stops.
func (a *accumulated) sums(share int, variance, excess float64) sums {
	all, lambda := a.plain.plus(&a.shared[share]), a.dayShares[share].Value
	spread := excessSpread * excess
	weight := variance / (variance + spread*spread)
	for i := range a.stopDays {
		plain := &a.stopDays[i]
		day := daySums{n: plain.n, row: slices.Clone(plain.row)}
		for _, stop := range plain.stops {
			row := slices.Clone(stop)
			floats.AddConst(excess, row[len(row)-len(all.yy):])
			all.n++
			all.add(weight, row)
			all.logDet -= math.Log(weight)
			day.add(weight, row)
		}
		all.share(plain, lambda, -1)
		all.share(&day, lambda, 1)
	}
	return all
}
