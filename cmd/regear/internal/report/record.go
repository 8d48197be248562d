package report

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"time"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/document"
	"regear/plotting"
)

// Record is everything about one answer, to be kept and shown to others.
type Record struct {
	Answer    *advise.Advice
	Hindsight *analyze.Hindsight // nil where no run has an earlier one to be foreseen from
	Runs      []run.Run          // of the car, in any order
	Notes     app.Notes          // in the logs
	Units     units.System
	Version   string // of the program
	Made      time.Time
}

// mostListed is how many runs, the latest, and how many of those left out a record lists. More
// would make a page that a phone can't open and nobody reads.
const mostListed = 500

// HTML writes the record as a page that needs no other file. It fails with what the plots
// and w report.
func (r *Record) HTML(w io.Writer) error { return r.write(w, document.Page.HTML) }

// Markdown writes the record in Markdown, its plots in words.
func (r *Record) Markdown(w io.Writer) error { return r.write(w, document.Page.Markdown) }

func (r *Record) write(w io.Writer, as func(document.Page, io.Writer) error) error {
	page, err := r.page()
	if err != nil {
		return err
	}
	return as(page, w)
}

// page words and draws the record: what answers the question first, on the first page of
// paper, and all else behind it. Its reader may never have seen the program.
func (r *Record) page() (document.Page, error) {
	const readingTitle = "How to read this"
	answering, more, errFigures := r.figures()
	hindsight, errHindsight := r.hindsight()
	a := adviceWords{r.Answer, r.Units}
	title, next := "Which pinion to run next", a.Next
	if car := a.Car.Name; car != "" {
		title = car + ": which pinion to run next"
	}
	occasion := document.Paragraph(fmt.Sprintf("For a next run of %s in air of %s, on a tire of %s. Words and numbers are explained near the end, under “%s”.",
		next.Minutes, r.Units.Reading(next.Ambient), r.Units.Tire(next.Tire), readingTitle))
	body := append(slices.Insert(a.opening(), 1, document.Block(occasion)),
		answering,
		section("candidates", "Candidates", a.candidates()),
		section("assumed", "Conditions", document.List(a.conditions(limitsLine(a.Limits, r.Units)))))
	if checks := a.checksFirst(); len(checks) > 0 {
		body = append(body, section("check-first", checksTitle, document.List(checks)))
	}
	body = append(body,
		section("warnings", "Warnings", r.warnings()...),
		section("cautions", "Safety", CautionNotes(r.Units)...))
	appendix := document.Document{section("why", "Why", document.List(a.why()))}
	if a.NextTest != nil {
		appendix = append(appendix, section("next", nextTestTitle, document.List{a.nextTest()}))
	}
	appendix = append(appendix,
		section("pictures", "More pictures", more),
		section("scaling", "How heat follows the gearing", r.scaling()...),
		section("hindsight", "Hindsight: would the forecasts have been right?", hindsight...),
		section("runs", "The runs", r.runs()...),
		section("reading", readingTitle, howToRead),
		section("details", "In full, for those who want to check", r.details()...))
	return document.Page{Title: title, Body: append(body, section("appendix", "Appendix", appendix...)), Foot: fmt.Sprintf("Made by regear %s on %s. "+
		"The answer is of the log as it was then; a run that was logged later can change it.", r.Version, moment(r.Made, true))}, errors.Join(errFigures, errHindsight)
}

// figures draw what decides: for the first page the peak of the part that decides against gearing,
// and the chances; and more, which are that peak against the minutes and the peaks of the other
// judged parts.
func (r *Record) figures() (answering, more document.Figures, err error) {
	figures, err := AdviceFigures(r.Answer, r.Units)
	if err != nil {
		return nil, nil, err
	}
	answering, more = figures[:2], figures[2:]
	for part := range r.Answer.Limits.All() {
		if part == r.Answer.Binding {
			continue
		}
		figure, err := drawn(plotting.Ratio(r.Answer, part, r.Units))
		if err != nil {
			return nil, nil, err
		}
		more = append(more, figure)
	}
	return answering, more, nil
}

// scaling sets what was held before the log beside what is held after it.
func (r *Record) scaling() document.Document {
	type scaled struct {
		*analyze.Fit
		exponent analyze.Coefficient
	}
	var parts []scaled
	for _, f := range r.Answer.Car.Fits() {
		all := f.Coefficients(analyze.ScalingLevel)
		parts = append(parts, scaled{f, all[slices.IndexFunc(all, func(c analyze.Coefficient) bool { return c.Name == "exponent" })]})
	}
	table := tableOf("What 10 % more rollout does to each part's rise over the air, at the middle gearing of its runs", parts, columnsOf[scaled]{
		{document.Column{Head: "part", Kind: document.Label}, func(s *scaled) string { return s.Part.Word() }},
		{document.Column{Head: "general rule"}, func(s *scaled) string { return signedGrowth(s.exponent.Prior.Mean) }},
		{document.Column{Head: "with this log"}, func(s *scaled) string { return signedGrowth(s.exponent.Now.Value) }},
		{document.Column{Head: "80 % sure"}, func(s *scaled) string { return growthRange(s.exponent.Now) }},
		{document.Column{Head: "runs used"}, func(s *scaled) string { return strconv.Itoa(s.Runs) }},
		{document.Column{Head: "time constant, min"}, func(s *scaled) string { return fixed(float64(s.TimeConstant()), 1) }},
		{document.Column{Head: "scatter"}, func(s *scaled) string { return share(s.Scatter()) }},
		{document.Column{Head: "known from", Kind: document.Label}, func(s *scaled) string { return sources[s.InformedBy(r.Answer.Next)].short }},
	})
	table.Legend = "Time constant: after that time 63 % of the final rise is there. Scatter: how much the rise of like runs differs from run to run."
	return document.Document{
		document.Paragraph("Before the first run all that is known is the general rule, which holds for cars of every kind. " +
			"Each logged run pulls it towards what this car shows; with few runs, or with one gearing alone, much of the rule is left."),
		table,
	}
}

func (r *Record) hindsight() (document.Document, error) {
	if r.Hindsight == nil {
		return document.Document{document.Paragraph("Not yet: each run is foreseen from the earlier ones alone, which takes two usable runs of a part " +
			"at least. Log more runs, and the next report will say how good the forecasts were.")}, nil
	}
	figures, err := HindsightFigures(r.Hindsight, r.Units)
	t := hindsightWords{r.Hindsight, r.Units}
	return document.Document{t.verdicts(), figures, t.chances(), document.Paragraph(t.remarks())}, err
}

// runs lists the latest runs, and those that some fit leaves out.
func (r *Record) runs() document.Document {
	runs := slices.SortedStableFunc(slices.Values(r.Runs), func(a, b run.Run) int { return a.When.Compare(b.When) })
	for i := range runs {
		runs[i].Number = 0 // the reader has no log book in which to look it up
	}
	var doc document.Document
	if more := len(runs) - mostListed; more > 0 {
		runs = runs[more:]
		doc = append(doc, document.Paragraph(fmt.Sprintf("The latest %d runs; %s before them %s in the log as well.",
			mostListed, count(more, "run"), choose(more, "is", "are"))))
	}
	return append(append(doc, listed(runs, r.Units)...), r.leftOut())
}

func (r *Record) leftOut() document.Block {
	why := problemLines(LeftOutOf(r.Answer.Car))
	notes := r.Notes.Worded(inReport)
	why = append(why, noteLines(app.Notes{LeftOut: notes.LeftOut, CountedOnce: notes.CountedOnce, Lost: notes.Lost})...)
	if len(why) == 0 {
		return document.Paragraph("No row and no run is left out.")
	}
	if more := len(why) - mostListed; more > 0 {
		why = append(why[:mostListed], fmt.Sprintf("and %d more", more))
	}
	return document.Lines{Head: "Left out, and why:", Items: why}
}

func (r *Record) warnings() document.Document {
	notes := r.Notes.Worded(inReport)
	doc := append(WarningNotes(r.Answer.Warnings, r.Units, InReport, nil), Noted(app.Notes{Implausible: notes.Implausible, Noticed: notes.Noticed})...)
	if len(r.Answer.Car.Warnings()) == 0 {
		doc = append(doc, document.Paragraph(fitWords{r.Answer.Car, r.Units}.allClear()))
	}
	return doc
}

// howToRead is for readers who have never seen the program.
var howToRead = document.Terms{
	{Word: "Ratio", Meaning: "final drive ratio: how often the motor turns for one turn of the wheels. A larger pinion makes it smaller; that is a taller gearing."},
	{Word: "Rollout", Meaning: "how far the car goes in one turn of the motor. A longer rollout is a taller gearing: faster at the same motor speed, and as a rule hotter."},
	{Word: "Rise", Meaning: "by how much a part gets hotter than the air."},
	{Word: "Chance", Meaning: "of one run, under the conditions named here, to stay under every limit. 80 % means that one run in five gets hotter. It is rounded down."},
	{Word: "Three temperatures, as in 64–71–78", Meaning: "one run in ten stays below the first temperature, half of them below the second, and one in ten gets above the third."},
	{Word: "General rule", Meaning: "what holds for cars of every kind, before this car's log says more."},
}

func (r *Record) details() document.Document {
	t := fitWords{r.Answer.Car, r.Units}
	fits := document.Document{document.Paragraph(t.summary())}
	for _, f := range t.Fits() {
		fits = append(fits, t.part(f))
	}
	doc := document.Document{section("fits", "What the runs say of each part", fits...)}
	if r.Hindsight == nil {
		return doc
	}
	return append(doc, section("replays", "Every forecast beside its reading", hindsightWords{r.Hindsight, r.Units}.sideBySide()))
}

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

// FitFigures draw the peak of each part against gearing, with the runs.
func FitFigures(a *advise.Advice, u units.System) (document.Figures, error) {
	var figures document.Figures
	for _, f := range a.Car.Fits() {
		figure, err := drawn(plotting.Ratio(a, f.Part, u))
		if err != nil {
			return nil, err
		}
		figures = append(figures, figure)
	}
	return figures, nil
}

// HindsightFigures draw how a car's forecasts fared.
func HindsightFigures(h *analyze.Hindsight, u units.System) (document.Figures, error) {
	figure, err := drawn(plotting.Hindsight(h, u))
	return document.Figures{figure}, err
}

// SmallFigure draws the binding part's peak against gearing to stand beside the headline, which
// says what its title would.
func SmallFigure(a *advise.Advice, u units.System) (document.Figure, error) {
	f, err := plotting.Ratio(a, a.Binding, u)
	if err != nil {
		return document.Figure{}, err
	}
	f.Plain = true
	figure, err := drawnIn(plotting.Size{Width: 320, Height: 300}, f)
	figure.Description = ""
	return figure, err
}

func drawn(f *plotting.Figure, err error) (document.Figure, error) {
	if err != nil {
		return document.Figure{}, err
	}
	return drawnIn(figureSize, f)
}

func drawnIn(size plotting.Size, f *plotting.Figure) (document.Figure, error) {
	var svg bytes.Buffer
	err := f.Write(&svg, plotting.SVG, size)
	return document.Figure{Title: f.Title, Description: f.Numbers, SVG: svg.Bytes()}, err
}
