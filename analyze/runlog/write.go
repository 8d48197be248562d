package runlog

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/gocarina/gocsv"

	"regear/analyze/run"
	"regear/analyze/units"
)

// Write writes runs as a log: UTF-8 with commas, decimal points and line feeds,
// temperatures in °C and lengths in mm. [Read] gives the same runs back, to the
// last bit, but for their positions. A text that a spreadsheet would take for a
// formula gets an apostrophe in front, which Read takes off.
//
// It fails on a run that Read would refuse, and on one without a car among runs
// that have one, and says which; what stands before it may have been written by
// then.
func Write(w io.Writer, runs []run.Run) error {
	out := csv.NewWriter(w)
	marshal := gocsv.MarshalCSV
	records := make([]record, 0, min(len(runs), batchRows))
	for first := 0; first == 0 || first < len(runs); first += batchRows {
		records = records[:0]
		for i := first; i < min(first+batchRows, len(runs)); i++ {
			err := check(runs[i])
			if err == nil && (runs[i].Car == "") != (runs[0].Car == "") {
				err = errors.New("either every run must name its car or none")
			}
			if err != nil {
				return fmt.Errorf("run %d of %d, %s: %w", i+1, len(runs), runs[i].Date(), err)
			}
			records = append(records, recordOf(runs[i]))
		}
		if err := marshal(records, out); err != nil {
			return fmt.Errorf("writing runs: %w", err)
		}
		marshal = gocsv.MarshalCSVWithoutHeaders
	}
	return nil
}

// record returns r as cells.
func recordOf(r run.Run) record {
	return record{
		Date:          r.Date(),
		Car:           formatText(r.Car),
		PinionTeeth:   strconv.Itoa(r.Gearing.Pinion),
		SpurTeeth:     strconv.Itoa(r.Gearing.Spur),
		InternalRatio: formatNumber(r.Gearing.Internal),
		TireDiameter:  formatNumber(float64(r.Tire)),
		Ambient:       formatNumber(float64(r.Ambient)),
		RunMinutes:    formatNumber(float64(r.Minutes)),
		MotorPeak:     formatReading(r.Peak.Of(run.Motor)),
		ESCPeak:       formatReading(r.Peak.Of(run.ESC)),
		BatteryPeak:   formatReading(r.Peak.Of(run.Battery)),
		MotorStart:    formatReading(r.Start.Of(run.Motor)),
		ESCStart:      formatReading(r.Start.Of(run.ESC)),
		BatteryStart:  formatReading(r.Start.Of(run.Battery)),
		StoppedByHeat: formatYes(r.StoppedByHeat),
		Cells:         formatCells(r.Cells),
		Motor:         formatText(r.Motor),
		Surface:       formatText(r.Surface),
		Cooling:       formatText(r.Cooling),
		Skip:          formatYes(r.Skip),
		Note:          formatText(r.Note),
	}
}

func formatText(text string) string { return EscapeFormula(trim(foldLines(text))) }

func formatNumber(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func formatReading(t units.Celsius, taken bool) string {
	if !taken {
		return ""
	}
	return formatNumber(float64(t))
}

func formatYes(yes bool) string {
	if yes {
		return "yes"
	}
	return ""
}

func formatCells(cells int) string {
	if cells == 0 {
		return ""
	}
	return strconv.Itoa(cells)
}

// check returns why [Read] would refuse r, or nil. It says nothing of what is
// merely implausible.
func check(r run.Run) error {
	if err := r.Gearing.Check(); err != nil {
		return err
	}
	if err := checkWhen(r.When, r.HasTime); err != nil {
		return err
	}
	switch {
	case r.Gearing.Pinion > maxTeeth || r.Gearing.Spur > maxTeeth:
		return fmt.Errorf("a gear has more than %d teeth", maxTeeth)
	case !isRatio(r.Gearing.Internal):
		return fmt.Errorf("the internal ratio is %g", r.Gearing.Internal)
	case !isTire(r.Tire):
		return fmt.Errorf("%g mm is no size of a tire", float64(r.Tire))
	case !isDuration(r.Minutes):
		return fmt.Errorf("%g minutes is no length of a run", float64(r.Minutes))
	case !isReading(r.Ambient):
		return fmt.Errorf("%g °C is no ambient temperature", float64(r.Ambient))
	case r.Cells < 0 || r.Cells > maxCells:
		return fmt.Errorf("%d is no number of cells", r.Cells)
	case r.Peak == (run.Readings{}):
		return errors.New("no part has a peak reading")
	}
	for _, p := range run.Parts {
		for _, of := range []run.Readings{r.Peak, r.Start} {
			if t, taken := of.Of(p); taken && !isReading(t) {
				return fmt.Errorf("%g °C is no reading of the %s", float64(t), p)
			}
		}
	}
	for _, text := range []string{r.Car, r.Motor, r.Surface, r.Cooling, r.Note} {
		if !utf8.ValidString(text) || strings.IndexByte(text, 0) >= 0 {
			return fmt.Errorf("%q is not UTF-8 without NUL", excerpt(text))
		}
		if f := checkText(trim(foldLines(text))); !f.none() {
			return fmt.Errorf("%q %s", excerpt(text), f.what)
		}
	}
	return nil
}

// checkWhen returns why a moment can't be written so that it is read as it was.
func checkWhen(t time.Time, hasTime bool) error {
	_, offset := t.Zone()
	switch {
	case t.Year() < 0 || t.Year() > 9999:
		return fmt.Errorf("the year %d does not have four digits", t.Year())
	case offset%60 != 0:
		return fmt.Errorf("the zone is %d seconds off UTC, which is no number of minutes", offset)
	case !hasTime && t != time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC):
		return errors.New("a date without a time of day must be midnight UTC")
	}
	return nil
}
