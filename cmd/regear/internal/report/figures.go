package report

import (
	"bytes"
	"errors"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/units"
	"regear/cmd/regear/internal/document"
	"regear/plotting"
)

// figureSize suits a phone, two or three side by side on a desk screen, and half the width
// of a printed page: the text in a wider figure would be too small on any of them.
var figureSize = plotting.Size{Width: 320, Height: 420}

// AdviceFigures draw what decides an answer: the binding part's peak against gearing, the
// chances, and the binding part's peak against the minutes.
func AdviceFigures(a *advise.Advice, u units.System) (document.Figures, error) {
	ratio, errRatio := drawn(plotting.Ratio(a, a.Binding, u))
	chances, errChances := drawn(plotting.Chance(a, u), nil)
	minutes, errMinutes := drawn(plotting.Minutes(a, a.Binding, u))
	return document.Figures{ratio, chances, minutes}, errors.Join(errRatio, errChances, errMinutes)
}

// HindsightFigures draw how a car's forecasts fared.
func HindsightFigures(h *analyze.Hindsight, u units.System) (document.Figures, error) {
	figure, err := drawn(plotting.Hindsight(h, u))
	figure.Description = "" // its numbers are those of its title
	return document.Figures{figure}, err
}

// drawn draws a figure, if there is one.
func drawn(f *plotting.Figure, err error) (document.Figure, error) {
	if err != nil {
		return document.Figure{}, err
	}
	var svg bytes.Buffer
	err = f.Write(&svg, plotting.SVG, figureSize)
	return document.Figure{Title: f.Title, Description: f.Numbers, SVG: svg.Bytes()}, err
}
