package report

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"

	"regear/analyze"
	"regear/analyze/runlog"
)

// RunsText writes a table of runs, and totals by car.
func RunsText(w io.Writer, runs []runlog.Run, s Style) error {
	if len(runs) == 0 {
		_, err := io.WriteString(w, "No run passes the filters.\n")
		return err
	}
	names, byCar := analyze.Cars(runs)
	header := table.Row{"\ndate"}
	if len(names) > 1 {
		header = append(header, "\ncar")
	}
	header = append(header, "\npinion/spur", "\nratio", "rollout\n"+s.Units.lengthUnit(), "\ntire",
		"air\n"+s.Units.degree(), "\nmin", "motor\n"+s.Units.degree(), "ESC\n"+s.Units.degree(), "battery\n"+s.Units.degree(), "\nnote")
	rows := make([]table.Row, len(runs))
	for i := range runs {
		rows[i] = s.runRow(&runs[i], len(names) > 1)
	}
	text := s.table(header, rows) + "\n"
	for _, name := range names {
		text += total(name, byCar[name]) + "\n"
	}
	_, err := io.WriteString(w, text)
	return err
}

func (s Style) runRow(r *runlog.Run, withCar bool) table.Row {
	row := table.Row{whenOf(r)}
	if withCar {
		row = append(row, r.Car)
	}
	row = append(row, fmt.Sprintf("%d/%d", r.Gearing.Pinion, r.Gearing.Spur), fixed(r.Gearing.FinalDriveRatio(), 2),
		s.Units.rollout(r.Rollout()), s.Units.tire(r.Tire), s.Units.givenNumber(r.Ambient), trimmed(float64(r.Minutes), 1))
	for _, p := range runlog.Parts {
		cell := ""
		if c, taken := r.Peak.Of(p); taken {
			cell = s.Units.givenNumber(c)
		}
		row = append(row, cell)
	}
	return append(row, strings.Join(remarks(r), "; "))
}

// remarks lists what a run's marks and note say.
func remarks(r *runlog.Run) []string {
	var all []string
	if r.StoppedByHeat {
		all = append(all, "stopped by heat")
	}
	if r.Skip {
		all = append(all, "skipped")
	}
	if r.Note != "" {
		all = append(all, strings.ReplaceAll(r.Note, "\n", " / "))
	}
	return all
}

// whenOf writes a run's moment, or its day where the log gave no time.
func whenOf(r *runlog.Run) string {
	if !r.HasTime {
		return r.When.Format(dateLayout)
	}
	return r.When.Format(dateLayout + " 15:04")
}

// total sums up the runs of one car.
func total(name string, runs []runlog.Run) string {
	t := totalOf(name, runs)
	if name == "" {
		name = "(no name)"
	}
	pinions := strconv.Itoa(t.FewestTeeth)
	if t.MostTeeth > t.FewestTeeth {
		pinions += " to " + strconv.Itoa(t.MostTeeth)
	}
	days := t.First
	if t.Last != t.First {
		days += " to " + t.Last
	}
	return fmt.Sprintf("%s: %s, %s min in all, %s, pinion %s", name, count(t.Runs, "run"), trimmed(t.Minutes, 1), days, pinions)
}

// totals are the sums of one car's runs.
type totals struct {
	Car         string  `json:"car"`
	Runs        int     `json:"runs"`
	Minutes     float64 `json:"run_minutes"`
	First       string  `json:"first"`
	Last        string  `json:"last"`
	FewestTeeth int     `json:"smallest_pinion_teeth"`
	MostTeeth   int     `json:"largest_pinion_teeth"`
}

// totalOf sums up runs, of which there must be one.
func totalOf(name string, runs []runlog.Run) totals {
	t := totals{Car: name, Runs: len(runs), FewestTeeth: runs[0].Gearing.Pinion}
	first, last := runs[0].When, runs[0].When
	for _, r := range runs {
		t.Minutes += float64(r.Minutes)
		t.FewestTeeth, t.MostTeeth = min(t.FewestTeeth, r.Gearing.Pinion), max(t.MostTeeth, r.Gearing.Pinion)
		if r.When.Before(first) {
			first = r.When
		}
		if r.When.After(last) {
			last = r.When
		}
	}
	t.Minutes = decimals(t.Minutes, 2)
	t.First, t.Last = first.Format(dateLayout), last.Format(dateLayout)
	return t
}
