package main

import (
	"encoding/csv"
	"errors"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
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
