package plotting

import (
	"io"
	"testing"

	"regear/analyze/run"
	"regear/analyze/units"
)

// BenchmarkFigure measures what `advise --plot` adds on a log of 30 runs, and beside it the
// advice itself: the numbers, and each picture.
func BenchmarkFigure(b *testing.B) {
	s := scenario{many: 30, limits: run.ByPart[units.Celsius]{}.With(run.Motor, 80).With(run.Battery, 60), pinions: span(13, 21), air: 30, minutes: 12}
	a := s.advice(b)
	f, err := Ratio(a, run.Motor, units.Metric)
	if err != nil {
		b.Fatal(err)
	}
	b.Run("fit and advice", func(b *testing.B) {
		for b.Loop() {
			s.advice(b)
		}
	})
	b.Run("numbers", func(b *testing.B) {
		for b.Loop() {
			if _, err := Ratio(a, run.Motor, units.Metric); err != nil {
				b.Fatal(err)
			}
		}
	})
	for _, format := range []Format{PNG, SVG, PDF} {
		b.Run(string(format), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if err := f.Write(io.Discard, format, DefaultSize); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
