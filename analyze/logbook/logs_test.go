package logbook

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"regear/analyze/run"
	"regear/analyze/runlog"
)

// What is no workbook is read as CSV wherever it comes from.
func TestReadLogsFromFilesAndStreams(t *testing.T) {
	path := filepath.Join(t.TempDir(), "log.csv")
	write(t, path, ownColumns)
	file, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	for name, c := range map[string]struct {
		r    io.Reader
		runs int
	}{
		"file":   {file, 2},
		"stream": {io.MultiReader(strings.NewReader(ownColumns)), 2},
	} {
		logs, err := ReadLogs("-", c.r, runlog.Options{KeepCells: true}, nil)
		if err != nil || len(logs[0].Runs) != c.runs || logs[0].Name != "standard input" {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, r := range []io.Reader{strings.NewReader(""), io.MultiReader(), strings.NewReader("PK")} {
		if _, err := ReadLogs("log.csv", r, runlog.Options{KeepCells: true}, nil); err == nil {
			t.Error("no error for an input that holds nothing")
		}
	}
	// The end of a zip archive (PKWARE's APPNOTE) that holds nothing.
	empty := strings.NewReader("PK\x05\x06" + strings.Repeat("\x00", 18))
	if _, err := ReadLogs("log.xlsx", empty, runlog.Options{}, nil); err == nil || !strings.Contains(err.Error(), "empty zip archive") {
		t.Errorf("an empty archive: %v", err)
	}
	// A workbook is what the program is given to read workbooks with.
	const sheet = "PK\x03\x04..."
	given := func(name string, r io.Reader, _ runlog.Options) ([]*runlog.Log, error) {
		all, err := io.ReadAll(r)
		return []*runlog.Log{{Name: name + string(all)}}, err
	}
	if logs, err := ReadLogs("log", strings.NewReader(sheet), runlog.Options{}, given); err != nil || logs[0].Name != "log"+sheet {
		t.Errorf("%v %v", logs, err)
	}
	if _, err := ReadLogs("log", strings.NewReader(sheet), runlog.Options{}, nil); err == nil || !strings.Contains(err.Error(), "save the sheet as CSV") {
		t.Errorf("nothing to read workbooks with: %v", err)
	}
	folder, err := os.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer folder.Close()
	if _, err := ReadLogs("folder", folder, runlog.Options{KeepCells: true}, nil); err == nil || !strings.Contains(err.Error(), "directory") {
		t.Errorf("folder: %v", err)
	}
}

// No refused row of the corpus of logs is lost: written as rejects, each is a row of its own
// with its cells, and its reason in front; and a spreadsheet runs nothing. Most are refused
// again, until somebody mends them; writing them anew mends what was wrong with the text.
func TestRejectsLoseNothing(t *testing.T) {
	files, err := filepath.Glob(filepath.Join("..", "..", "testdata", "logs", "*.?sv"))
	if err != nil || len(files) == 0 {
		t.Fatal("no logs", err)
	}
	opts := runlog.Options{DateOrder: runlog.DayFirst, KeepCells: true}
	refused, refusedAgain := 0, 0
	for _, name := range files {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		logs, err := ReadLogs(name, bytes.NewReader(data), opts, nil)
		if err != nil {
			continue // what can't be read as a whole has no rows
		}
		FromLog(logs[0])
		tables := Rejects(logs)
		if n := len(logs[0].Refused); (n > 0) != (len(tables) == 1) {
			t.Fatalf("%s: %d refused rows in %d tables", name, n, len(tables))
		}
		for _, table := range tables {
			refused += len(table.Rows)
			var text bytes.Buffer
			if err := table.Write(&text); err != nil {
				t.Fatal(err)
			}
			again, err := ReadLogs("rejects.csv", &text, opts, nil)
			if err != nil {
				t.Fatalf("%s: %v\n%v", name, err, table)
			}
			if got := again[0]; got.Rows != len(logs[0].Refused) || len(got.Runs)+len(got.Refused) != got.Rows {
				t.Errorf("%s: of %d refused rows %d are read again", name, len(logs[0].Refused), got.Rows)
			}
			refusedAgain += len(again[0].Refused)
			for i, row := range table.Rows {
				if row[0] == "" || len(row) != len(logs[0].Refused[i].Cells)+1 {
					t.Errorf("%s: row %q of %q", name, row, logs[0].Refused[i].Cells)
				}
				for _, cell := range row {
					if strings.HasPrefix(cell, "=") || strings.HasPrefix(cell, "@") {
						t.Errorf("%s: %q is a formula", name, cell)
					}
				}
			}
		}
	}
	if refused < 10 || refusedAgain < refused*3/4 {
		t.Errorf("%d rows were refused, and %d again", refused, refusedAgain)
	}
}

func TestNameCar(t *testing.T) {
	named := contents(t, ownColumns).Entries[0].Run
	nameless := func() *runlog.Log { return &runlog.Log{Name: "club.csv", Runs: make([]run.Run, 2)} }
	log := nameless()
	if err := NameCar(log, " gull "); err != nil || log.Runs[0].Car != "gull" || log.Runs[1].Car != "gull" {
		t.Errorf("%v: %q", err, log.Runs[0].Car)
	}
	var problem run.Problem
	if err := NameCar(nameless(), " "); !errors.As(err, &problem) || problem.File != "club.csv" || problem.Line != 0 {
		t.Errorf("no name: %v", err)
	}
	log = &runlog.Log{Runs: []run.Run{*named}}
	if err := NameCar(log, "gull"); err != nil || log.Runs[0].Car != "heron" {
		t.Errorf("%v: heron became %q", err, log.Runs[0].Car)
	}
	if err := NameCar(&runlog.Log{}, ""); err != nil {
		t.Errorf("a log without runs: %v", err)
	}
}

// A log without a car says what was found, and which column may name the car.
func TestNamelessLogSaysWhatWasFound(t *testing.T) {
	const columns = ",pinion_teeth,spur_teeth,tire_diameter_mm,ambient_c,run_minutes,motor_peak_c"
	for header, c := range map[string]struct{ cells, want, mayName string }{
		"date" + columns:                {"2026-05-16,17,68,118,22,12,84", "club.csv: has no column that names the car", ""},
		"date,car" + columns:            {"2026-05-16,,17,68,118,22,12,84", `club.csv: names no car: its column "car" is blank`, ""},
		"date,Auto" + columns:           {"2026-05-16,Dachs,17,68,118,22,12,84", `club.csv: has no column called car; it may be "Auto", as in "Dachs"`, "Auto"},
		"date,Lap,Auto,Track" + columns: {"2026-05-16,12.5,Dachs,,17,68,118,22,12,84", `it may be "Auto", as in "Dachs"`, "Auto"},
		"date,Ort,Auto" + columns:       {"2026-05-16,Halle,Dachs,17,68,118,22,12,84", `it may be "Ort", as in "Halle", or "Auto", as in "Dachs"`, "Ort"},
	} {
		logs, err := ReadLogs("club.csv", strings.NewReader(header+"\n"+c.cells+"\n"+c.cells+"\n"), runlog.Options{KeepCells: true}, nil)
		if err != nil {
			t.Fatal(err)
		}
		err = NameCar(logs[0], "")
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s:\n got %v\nwant %s", header, err, c.want)
		}
		var p run.Problem
		if want := (run.Remedy{Kind: run.NameCar, Header: c.mayName}); !errors.As(err, &p) || p.Remedy != want {
			t.Errorf("%s: remedy %+v, want %+v", header, p.Remedy, want)
		}
	}
}
