package report

import (
	"encoding/csv"
	"errors"
	"io"
	"slices"
	"strings"

	"regear/analyze"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/analyze/units"
	"regear/cmd/regear/internal/document"
)

// RunsCSV writes runs as a run log.
func RunsCSV(w io.Writer, runs []run.Run, _ Style) error {
	return runlog.Write(w, runs)
}

type runsJSON struct {
	Schema int       `json:"schema"`
	Runs   []runJSON `json:"runs"`
	Cars   []totals  `json:"cars"`
}

// runJSON is one run under the names of the log's columns.
type runJSON struct {
	Date          string                `json:"date"`
	Car           string                `json:"car,omitempty"`
	Pinion        int                   `json:"pinion_teeth"`
	Spur          int                   `json:"spur_teeth"`
	Internal      float64               `json:"internal_ratio"`
	FinalDrive    float64               `json:"final_drive_ratio"`
	Rollout       float64               `json:"rollout_mm"`
	Tire          float64               `json:"tire_diameter_mm"`
	Ambient       float64               `json:"ambient_c"`
	Minutes       float64               `json:"run_minutes"`
	Peak          byPart[units.Celsius] `json:"peak_c"`
	Start         byPart[units.Celsius] `json:"start_c"`
	StoppedByHeat bool                  `json:"stopped_by_heat,omitempty"`
	Cells         int                   `json:"cells,omitempty"`
	Motor         string                `json:"motor,omitempty"`
	Surface       string                `json:"surface,omitempty"`
	Cooling       string                `json:"cooling,omitempty"`
	Skip          bool                  `json:"skip,omitempty"`
	Note          string                `json:"note,omitempty"`
	Place         string                `json:"place"`
}

// RunsJSON writes runs and totals by car as a document for programs.
func RunsJSON(w io.Writer, runs []run.Run, _ Style) error {
	doc := runsJSON{Schema: Schema, Runs: make([]runJSON, len(runs)), Cars: []totals{}}
	for i := range runs {
		doc.Runs[i] = toRunJSON(&runs[i])
	}
	names, byCar := analyze.Cars(runs)
	for _, name := range names {
		doc.Cars = append(doc.Cars, totalOf(name, byCar[name]))
	}
	return writeJSON(w, doc)
}

func toRunJSON(r *run.Run) runJSON {
	j := runJSON{
		Date: r.Date(), Car: r.Car,
		Pinion: r.Gearing.Pinion, Spur: r.Gearing.Spur, Internal: r.Gearing.Internal,
		FinalDrive: decimals(r.Gearing.FinalDriveRatio(), 3), Rollout: decimals(float64(r.Rollout()), 3),
		Tire: float64(r.Tire), Ambient: float64(r.Ambient), Minutes: float64(r.Minutes),
		StoppedByHeat: r.StoppedByHeat, Cells: r.Cells,
		Motor: r.Motor, Surface: r.Surface, Cooling: r.Cooling, Skip: r.Skip, Note: r.Note,
		Place: r.Position.String(),
	}
	for _, p := range run.Parts {
		if c, taken := r.Peak.Of(p); taken {
			j.Peak.set(p, c)
		}
		if c, taken := r.Start.Of(p); taken {
			j.Start.set(p, c)
		}
	}
	return j
}

// RunProblem is what keeps a row or a run out of fits.
type RunProblem struct {
	run.Position
	Car   string     // "" where the row is not known to be of a car
	Parts []run.Part // whose fits lack the run; none stands for all
	Why   string
}

// RowProblems lists what was noticed in logs.
func RowProblems(n Noticed) []RunProblem {
	var all []RunProblem
	for _, k := range n.kinds() {
		for _, p := range k.problems {
			at := p.Position
			all = append(all, RunProblem{Position: at, Why: p.String() + "; " + k.consequence})
		}
	}
	return all
}

// NoUsableRun says of a car, or of a log, that none of its runs can be fitted.
func NoUsableRun(beginning string) string {
	return beginning + " can be used: a run counts if it isn't skipped and some part got hotter than it started"
}

// LeftOutOf lists the runs that some fit of a car leaves out, in the order of the log.
func LeftOutOf(car *analyze.Car) []RunProblem {
	var all []RunProblem
	for _, f := range car.Fits() {
		for _, left := range f.LeftOut {
			why := left.Position.String() + ": " + reasonWords[left.Reason]
			at := slices.IndexFunc(all, func(p RunProblem) bool { return p.Position == left.Position && p.Why == why })
			if at < 0 {
				at = len(all)
				all = append(all, RunProblem{Position: left.Position, Car: car.Name, Why: why})
			}
			all[at].Parts = append(all[at].Parts, f.Part)
		}
	}
	slices.SortStableFunc(all, func(a, b RunProblem) int { return a.Line - b.Line })
	return all
}

func inWords(parts []run.Part) []string {
	var words []string
	for _, p := range parts {
		words = append(words, p.Word())
	}
	return words
}

// names returns the parts' names for programs.
func names(parts []run.Part) []string {
	var names []string
	for _, p := range parts {
		names = append(names, p.String())
	}
	return names
}

// RunProblems are a line for each problem.
func RunProblems(problems []RunProblem) document.Document {
	if len(problems) == 0 {
		return document.Document{document.Paragraph("Nothing keeps a run out of the fits.")}
	}
	return document.Document{document.Lines{Items: problemLines(problems)}}
}

func problemLines(problems []RunProblem) []string {
	var lines []string
	for _, p := range problems {
		line := p.Why
		if len(p.Parts) > 0 {
			line += "; left out of the fit of the " + list(inWords(p.Parts))
		}
		lines = append(lines, line)
	}
	return lines
}

// RunProblemsText writes the problems as text.
func RunProblemsText(w io.Writer, problems []RunProblem) error {
	return RunProblems(problems).Text(w, document.Layout{})
}

// RunProblemsCSV writes a row for each problem.
func RunProblemsCSV(w io.Writer, problems []RunProblem) error {
	out := csv.NewWriter(w)
	err := out.Write([]string{"place", "car", "parts", "why"})
	for _, p := range problems {
		err = errors.Join(err, out.Write([]string{p.place(), runlog.EscapeFormula(p.Car), strings.Join(names(p.Parts), " "), runlog.EscapeFormula(p.Why)}))
	}
	out.Flush()
	return errors.Join(err, out.Error())
}

// place returns where the problem is, "" if it is nowhere in particular.
func (p RunProblem) place() string {
	switch {
	case p.File == "":
		return ""
	case p.Line == 0:
		return p.File
	}
	return p.Position.String()
}

type runProblemJSON struct {
	Place string   `json:"place,omitempty"`
	Car   string   `json:"car,omitempty"`
	Parts []string `json:"parts,omitempty"`
	Why   string   `json:"why"`
}

// RunProblemsJSON writes the problems as a document for programs.
func RunProblemsJSON(w io.Writer, problems []RunProblem) error {
	doc := struct {
		Schema   int              `json:"schema"`
		Problems []runProblemJSON `json:"problems"`
	}{Schema, []runProblemJSON{}}
	for _, p := range problems {
		doc.Problems = append(doc.Problems, runProblemJSON{p.place(), p.Car, names(p.Parts), p.Why})
	}
	return writeJSON(w, doc)
}
