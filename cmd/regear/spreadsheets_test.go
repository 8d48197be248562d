package main

import (
	"archive/zip"
	"encoding/csv"
	"errors"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/xuri/excelize/v2"

	"regear/analyze/logbook"
)

// Spreadsheets as drivers of six countries write them, all invented, get into the log book at the
// first attempt, with one flag at most, and no row is lost. Beside each stands a .want, written by
// hand: the flag, and what every run has to hold, in °C and mm: (F - 32) / 1.8, 25.4 mm an inch,
// internal ratio = final drive ratio × pinion / spur, diameter = circumference / π.
func TestSpreadsheetsGetIn(t *testing.T) {
	inTopFolder(t)
	wants, err := filepath.Glob("testdata/logs/spreadsheets/*.want")
	if err != nil || len(wants) < 12 {
		t.Fatal("no spreadsheets", err)
	}
	for _, want := range wants {
		name := strings.TrimSuffix(want, ".want")
		t.Run(filepath.Base(name), func(t *testing.T) {
			files, err := filepath.Glob(name + ".?sv")
			if err != nil || len(files) != 1 {
				t.Fatal(files, err)
			}
			_, book := newBookFolder(t)
			flags, rows := wanted(t, want)
			if len(flags) > 2 {
				t.Errorf("%d words of flags are more than one flag", len(flags))
			}
			told := mustRun(t, "", slices.Concat([]string{"import", files[0]}, flags)...)
			if strings.Contains(told, "refused:") {
				t.Error(told)
			}
			holdsRuns(t, rows)
			before := read(t, book)
			mustRun(t, "", slices.Concat([]string{"import", files[0]}, flags)...)
			if read(t, book) != before {
				t.Error("a second import changed the book")
			}
		})
	}
}

// wanted reads a .want: its flags, and its table of runs.
func wanted(t *testing.T, name string) (flags []string, rows [][]string) {
	t.Helper()
	file, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	r := csv.NewReader(file)
	r.FieldsPerRecord = -1
	if rows, err = r.ReadAll(); err != nil {
		t.Fatal(err)
	}
	return strings.Fields(rows[0][1]), rows[1:]
}

// holdsRuns checks that the log book holds the runs of a table, in its order, and no others.
func holdsRuns(t *testing.T, rows [][]string) {
	t.Helper()
	got, err := csv.NewReader(strings.NewReader(mustRun(t, "", "runs", "--format", "csv"))).ReadAll()
	if err != nil || len(got) != len(rows) {
		t.Fatalf("%d lines, want %d: %v", len(got), len(rows), err)
	}
	for i, row := range rows[1:] {
		for j, want := range row {
			at := slices.Index(got[0], rows[0][j])
			if at < 0 {
				t.Fatalf("no column %s in %v", rows[0][j], got[0])
			}
			if have := got[i+1][at]; !sameCell(have, want) {
				t.Errorf("run %d: %s is %q, want %q", i+1, rows[0][j], have, want)
			}
		}
	}
}

// sameCell compares cells: numbers as far as the wanted ones are written out.
func sameCell(have, want string) bool {
	h, haveErr := strconv.ParseFloat(have, 64)
	w, wantErr := strconv.ParseFloat(want, 64)
	if haveErr != nil || wantErr != nil {
		return have == want
	}
	return math.Abs(h-w) < 1e-4
}

// sheetOf writes a workbook as spreadsheet programs do: a title over merged cells, days and times of
// day as numbers, a formula beside its value, a sheet of something else in front.
func sheetOf(t *testing.T, path string) {
	t.Helper()
	book := excelize.NewFile()
	defer book.Close()
	const name = "Läufe 2026"
	_, err := book.NewSheet(name)
	short, clock := "dd.mm.yy", "hh:mm"
	day, dayErr := book.NewStyle(&excelize.Style{CustomNumFmt: &short})
	time, timeErr := book.NewStyle(&excelize.Style{CustomNumFmt: &clock})
	err = errors.Join(err, dayErr, timeErr,
		book.SetSheetRow("Sheet1", "A1", &[]any{"Einkauf", "Preis"}), book.SetSheetRow("Sheet1", "A2", &[]any{"Ritzel 16", 9.5}),
		book.SetCellValue(name, "A1", "Fahrten im Mai"), book.MergeCell(name, "A1", "J1"),
		book.SetSheetRow(name, "A3", &[]any{"Datum", "Uhrzeit", "Auto", "Ritzel", "Hauptzahnrad", "Gesamtübersetzung", "Reifen Ø mm", "Luft °C", "Fahrzeit", "Motor °C"}),
		// 46158 is 2026-05-16, by Python's datetime; 0.4375 of a day is 10:30, 0.6875 is 16:30.
		book.SetSheetRow(name, "A4", &[]any{46158, 0.4375, "Dachs", 16, 68, 10.625, 118, 21.5, 12.5, 66}),
		book.SetSheetRow(name, "A5", &[]any{46158, 0.6875, "Dachs", 17, 68, 10, 118, 24, "12:30", 73}),
		book.SetSheetRow(name, "A6", &[]any{"Mittelwert", nil, nil, 16.5, nil, nil, nil, 22.75, nil, 69.5}),
		book.SetCellFormula(name, "F5", "E5/D5*2.5"),
		book.SetCellStyle(name, "A4", "A5", day), book.SetCellStyle(name, "B4", "B5", time), book.SaveAs(path))
	if err != nil {
		t.Fatal(err)
	}
}

func TestWorkbookGetsIn(t *testing.T) {
	inTopFolder(t)
	folder, _ := newBookFolder(t)
	path := filepath.Join(folder, "laeufe.xlsx")
	sheetOf(t, path)
	told := mustRun(t, "", "import", path)
	for _, want := range []string{"(Läufe 2026)", `passed over: "Sheet1"`, "Mittelwert", "Fahrten im Mai", "2 rows: 2 added"} {
		if !strings.Contains(told, want) {
			t.Errorf("no %q in\n%s", want, told)
		}
	}
	holdsRuns(t, [][]string{{"date", "car", "pinion_teeth", "spur_teeth", "internal_ratio", "tire_diameter_mm", "ambient_c", "run_minutes", "motor_peak_c"},
		{"2026-05-16T10:30", "Dachs", "16", "68", "2.5", "118", "21.5", "12.5", "66"},
		{"2026-05-16T16:30", "Dachs", "17", "68", "2.5", "118", "24", "12.5", "73"}})
	for args, want := range map[string]string{
		"--sheet Sheet1":       `found: "Einkauf", "Preis"`,
		"--sheet Läufe2026":    `has no sheet "Läufe2026" (did you mean Läufe 2026?); it has "Sheet1", "Läufe 2026"`,
		"--column Motr=note":   `there is no header "Motr"`,
		"--column Uhrzei=note": `did you mean "Uhrzeit"?`,
	} {
		if got := regear(t, "", slices.Concat([]string{"import", path}, strings.Fields(args))...); got.exit != exitFailed || !strings.Contains(got.stderr, want) {
			t.Errorf("%s: exit %d, %s", args, got.exit, got.stderr)
		}
	}
}

// words parts a line as a POSIX shell does, as far as the program's own lines need it.
func words(line string) (all []string) {
	var word strings.Builder
	quoted, begun := false, false
	for i := 0; i < len(line); i++ {
		switch c := line[i]; {
		case c == '\'':
			quoted, begun = !quoted, true
		case c == '\\' && !quoted:
			i++
			word.WriteByte(line[i])
		case c == ' ' && !quoted:
			if begun {
				all = append(all, word.String())
			}
			word.Reset()
			begun = false
		default:
			word.WriteByte(c)
			begun = true
		}
	}
	return append(all, word.String())
}

// What a file leaves open is asked for once: the line that the refusal proposes reads it.
func TestOneLineReadsIt(t *testing.T) {
	inTopFolder(t)
	for name, c := range map[string]struct {
		text, asks, reads string
		runs              int
	}{
		"no unit anywhere": {"Datum;Auto;Ritzel;HZ;Reifen;Luft;Fahrzeit;Motor\n16.05.2026;Dachs;16;68;118;21;12;66\n17.05.2026;Dachs;17;68;118;23;12;71\n",
			"needs its unit", "--file-units metric", 2},
		"in °F by its numbers": {"Date,Car,Pinion,Spur,Tire,Air,Run time,Motor\n5/16/2026,Heron,16,68,4.6,71,12,146\n5/17/2026,Heron,17,68,4.6,73,12,151\n",
			"needs its unit", "--file-units us", 2},
		"two headers for one column": {"Date,Car,Pinion,Spur,Tire mm,Air °C,Mins,Motor temp °C,Motor max °C\n2026-05-16,Heron,16,68,118,21,12,60,66\n",
			`"Motor temp °C" and "Motor max °C" both read like motor_peak`, "--column 'Motor temp °C=motor_peak_c'", 1},
		"a header for two columns": {"Date,Car,Pinion,Spur,Tire mm,Temp °C,Mins,Motor °C\n2026-05-16,Heron,16,68,118,21,12,66\n",
			`"Temp °C" can be`, "--column 'Temp °C=", 1},
		"a ratio of one gearing": {"Date,Car,Pinion,Spur,Ratio,Tire mm,Air °C,Mins,Motor °C\n2026-05-16,Heron,16,68,9.8,118,21,12,66\n",
			`"Ratio" can be internal_ratio or final_drive_ratio`, "--column Ratio=final_drive_ratio", 1},
		"minutes or the time of day": {"Date,Car,Pinion,Spur,Tire mm,Air °C,Time,Motor °C\n2026-05-16,Heron,16,68,118,21,6:30,66\n",
			`"Time" can be`, "--column Time=run_minutes", 1},
		"dates of which one order lies ahead": {"Date,Car,Pinion,Spur,Tire,Air,Mins,Motor\n5/9/26,Heron,16,68,4.6,71,6,146\n5/10/26,Heron,17,68,4.6,73,6,151\n",
			"needs its unit", "own log.csv' --file-units us\n", 2},
		"all of it at once": {"Date,Car,Pinion,Tire,Air,Time,Motor's temp,Motor max\n3/2/26,Heron,16,118,21,6:30,60,66\n4/2/26,Heron,17,118,22,6:10,64,69\n",
			"missing: spur_teeth", "--constant spur_teeth=68", 2},
	} {
		t.Run(name, func(t *testing.T) {
			folder, _ := newBookFolder(t)
			keep(t, folder, "own log.csv", c.text)
			first := regear(t, "", "import", filepath.Join(folder, "own log.csv"))
			if first.exit != exitFailed || !strings.Contains(first.stderr, c.asks) || !strings.Contains(first.stderr, c.reads) {
				t.Fatalf("exit %d\n%s\nwant %q and %q", first.exit, first.stderr, c.asks, c.reads)
			}
			lines := strings.Split(strings.TrimSpace(first.stderr), "\n")
			line := words(strings.TrimSpace(lines[len(lines)-1]))
			if line[0] != "regear" {
				t.Fatalf("no line to paste in\n%s", first.stderr)
			}
			told := mustRun(t, "", line[1:]...)
			if strings.Contains(told, "refused:") || !strings.Contains(told, strconv.Itoa(c.runs)+" added") {
				t.Errorf("%q:\n%s", line, told)
			}
		})
	}
}

// Words in a peak's cell mark a heat stop if the driver says so, and are told else. Said later, they
// fill in what the book left blank.
func TestHeatStopsInWords(t *testing.T) {
	inTopFolder(t)
	newBookFolder(t)
	const file = "testdata/logs/spreadsheets/american.csv"
	stopped := func() (runs int) {
		rows, err := csv.NewReader(strings.NewReader(mustRun(t, "", "runs", "--format", "csv"))).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		at := slices.Index(rows[0], "stopped_by_heat")
		for _, row := range rows[1:] {
			if row[at] == "yes" {
				runs++
			}
		}
		return runs
	}
	told := mustRun(t, "", "import", file)
	if !strings.Contains(told, `american.csv:8: Motor temp (F): "too hot!": reads like a heat stop, if heat ended this run, add --heat-stops`) || stopped() != 0 {
		t.Errorf("%d stops\n%s", stopped(), told)
	}
	if told = mustRun(t, "", "import", file, "--heat-stops"); stopped() != 1 {
		t.Errorf("%d stops\n%s", stopped(), told)
	}
	// On a terminal it is asked.
	for answer, want := range map[string]bool{"yes\n": true, "no\n": false} {
		env := &environment{getenv: os.Getenv, errOut: new(strings.Builder), now: fixedNow}
		book := logbook.Book{Path: filepath.Join(t.TempDir(), "book.csv")}
		f := importFlags{files: []string{file}}
		f.readingFlags.register(new(cobra.Command), "")
		logs, err := f.read(env, book)
		if err != nil {
			t.Fatal(err)
		}
		logs, err = f.askAboutHeat(env, book, newAsker(strings.NewReader(answer), env.errOut), logs)
		if err != nil {
			t.Fatal(err)
		}
		last := logs.Logs[0].Runs[len(logs.Logs[0].Runs)-1]
		if last.StoppedByHeat != want || !strings.Contains(env.errOut.(*strings.Builder).String(), "Did heat end these runs?") {
			t.Errorf("%q: stopped %v", answer, last.StoppedByHeat)
		}
	}
}

// What a file lacks is remembered for the next with its header, listed, and forgotten one by one. A
// failed import remembers nothing.
func TestRememberedAndForgotten(t *testing.T) {
	inTopFolder(t)
	folder, _ := newBookFolder(t)
	const header = "Datum,Auto,Ritzel,Reifen mm,Luft °C,Dauer,Hitze am Motor,Motor °C\n"
	log := filepath.Join(folder, "log.csv")
	keep(t, folder, "log.csv", header+"16.05.2026,Dachs,16,118,21,zwölf,x,66\n")
	flags := []string{"--constant", "spur_teeth=68", "--column", "Hitze am Motor=note"}
	if got := regear(t, "", slices.Concat([]string{"import", log}, flags)...); got.exit != exitFailed {
		t.Fatalf("exit %d", got.exit)
	}
	if got := mustRun(t, "", "import", "--remembered"); got != "Nothing is remembered.\n" {
		t.Errorf("a failed import is remembered: %s", got)
	}
	keep(t, folder, "log.csv", header+"16.05.2026,Dachs,16,118,21,12,x,66\n")
	mustRun(t, "", slices.Concat([]string{"import", log}, flags)...)
	keep(t, folder, "log.csv", header+"17.05.2026,Dachs,17,118,21,12,y,71\n")
	if got := mustRun(t, "", "import", log); !strings.Contains(got, "spur_teeth=68 was taken for 1 run, as remembered") || !strings.Contains(got, `"Hitze am Motor" → note as remembered`) {
		t.Error(got)
	}
	if got := mustRun(t, "", "fit", "--log", log); strings.Contains(got, "missing") {
		t.Error(got)
	}
	holdsRuns(t, [][]string{{"date", "spur_teeth", "motor_peak_c", "note"}, {"2026-05-16", "68", "66", "x; spur assumed"}, {"2026-05-17", "68", "71", "y; spur assumed"}})
	listed := mustRun(t, "", "import", "--remembered")
	if !strings.Contains(listed, "Hitze am Motor=note") || !strings.Contains(listed, "spur_teeth=68: Datum; Auto; Ritzel") {
		t.Error(listed)
	}
	if got := regear(t, "", "import", "--forget", "Hitze an Motor"); got.exit != exitFailed || !strings.Contains(got.stderr, "did you mean Hitze am Motor?") {
		t.Errorf("exit %d: %s", got.exit, got.stderr)
	}
	mustRun(t, "", "import", "--forget", "hitze AM motor")
	if got := mustRun(t, "", "import", "--forget", "spur_teeth=68"); got != "Nothing is remembered.\n" {
		t.Error(got)
	}
}

// The program's own headers win over what is remembered, so that its export goes in again.
func TestOwnHeadersWin(t *testing.T) {
	inTopFolder(t)
	folder, book := newBookFolder(t)
	keep(t, folder, "log.csv", "date,car,pinion_teeth,spur_teeth,tire_diameter_mm,ambient_c,run_minutes,Motor,Engine\n2026-05-16,heron,16,68,118,21,12,66,17.5T\n")
	mustRun(t, "", "import", filepath.Join(folder, "log.csv"), "--column", "Motor=motor_peak_c", "--column", "Engine=motor")
	before := read(t, book)
	keep(t, folder, "export.csv", mustRun(t, "", "runs", "--format", "csv"))
	mustRun(t, "", "import", filepath.Join(folder, "export.csv"))
	if read(t, book) != before || !strings.Contains(before, "17.5T") {
		t.Errorf("the export changed the book:\n%s\n%s", before, read(t, book))
	}
}

// What contradicts itself is refused, and what is no log says how to save it.
func TestRefusedSpreadsheets(t *testing.T) {
	inTopFolder(t)
	const header, row = "Date,Car,Pinion,Spur,Tire mm,Air °C,Mins,%s\n", "16.05.2026,Heron,16,68,118,21,12,%s\n"
	for name, c := range map[string]struct {
		text string
		args string
		want string
	}{
		"mapped to another unit":   {"Motor temp (F)|146", "--column|Motor temp (F)=motor_peak_c", `"Motor temp (F)" is said to be in °C and in °F`},
		"cells in two units":       {"Motor temp|146F", "", "needs its unit"},
		"cells against the header": {"Motor temp °C|146F", "", `"146F": is in °F in a column of °C`},
		"constant without a unit":  {"Motor °C|66", "--constant|ambient=25", "it needs its unit: write ambient=25C or ambient=25F"},
		"constant of no column":    {"Motor °C|66", "--constant|spurteeth=no", "write the number of teeth"},
		"constant that is no run":  {"Motor °C|66", "--constant|spurs=70", "there is no column"},
		"sheet of a CSV":           {"Motor °C|66", "--sheet|May", "is no workbook"},
	} {
		folder, _ := newBookFolder(t)
		head, cell, _ := strings.Cut(c.text, "|")
		rows := strings.Replace(row, "%s", cell, 1)
		if name == "cells in two units" {
			rows += strings.Replace(row, "%s", "66C", 1)
		}
		keep(t, folder, "log.csv", strings.Replace(header, "%s", head, 1)+rows)
		args := []string{"import", filepath.Join(folder, "log.csv")}
		if c.args != "" {
			args = append(args, strings.Split(c.args, "|")...)
		}
		got := regear(t, "", args...)
		if got.exit == 0 || !strings.Contains(got.stderr+got.stdout, c.want) {
			t.Errorf("%s: exit %d\n%s%s", name, got.exit, got.stdout, got.stderr)
		}
	}
	// An OpenDocument archive begins with its type, uncompressed (OpenDocument 1.3, part 2).
	folder, _ := newBookFolder(t)
	var ods strings.Builder
	archive := zip.NewWriter(&ods)
	part, err := archive.CreateRaw(&zip.FileHeader{Name: "mimetype", UncompressedSize64: 46, CompressedSize64: 46})
	if err == nil {
		_, err = part.Write([]byte("application/vnd.oasis.opendocument.spreadsheet"))
	}
	if err := errors.Join(err, archive.Close()); err != nil {
		t.Fatal(err)
	}
	keep(t, folder, "log.ods", ods.String())
	if got := regear(t, "", "import", filepath.Join(folder, "log.ods")); !strings.Contains(got.stderr, "is an .ods sheet, which is not read, save it as .xlsx, or save the sheet as CSV") {
		t.Error(got.stderr)
	}
}
