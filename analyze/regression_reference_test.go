package analyze

import "gonum.org/v1/gonum/mat"

// sumsOf returns the regression's sums over rows of independent responses.
func sumsOf(y []float64, rows [][]float64) sums {
	p := len(rows[0])
	s := sums{xx: mat.NewSymDense(p, nil), xy: mat.NewVecDense(p, nil), n: float64(len(y))}
	for i, row := range rows {
		x := mat.NewVecDense(p, row)
		s.xx.SymRankOne(s.xx, 1, x)
		s.xy.AddScaledVec(s.xy, y[i], x)
		s.yy += y[i] * y[i]
	}
	return s
}
