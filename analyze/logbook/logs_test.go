package logbook

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"regear/analyze/run"
	"regear/analyze/runlog"
)

// workbook returns a workbook of one sheet.
func workbook(t *testing.T, rows [][]any, shape func(*excelize.File)) []byte {
	t.Helper()
	file := excelize.NewFile()
	defer file.Close()
	for i, cells := range rows {
		if err := file.SetSheetRow("Sheet1", fmt.Sprintf("A%d", i+1), &cells); err != nil {
			t.Fatal(err)
		}
	}
	if shape != nil {
		shape(file)
	}
	var data bytes.Buffer
	if err := file.Write(&data); err != nil {
		t.Fatal(err)
	}
	return data.Bytes()
}

var sheetHeader = []any{"Date", "Car", "Pinion teeth", "Spur teeth", "Tire diameter (mm)", "Ambient (°F)", "Run minutes", "Motor peak (°C)"}

// A sheet holds days as counts since 1899-12-30, or since 1904-01-01: 46158 and 44696 are
// 2026-05-16 in the two (computed with Python's datetime). 0.4375 is half past ten.
func TestSheet(t *testing.T) {
	noon, err := time.Parse(time.DateTime, "2026-05-16 10:30:00")
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		date  any
		shape func(*excelize.File)
		want  string
	}{
		"date":      {noon, nil, "2026-05-16T10:30"},
		"count":     {46158, nil, "2026-05-16"},
		"text":      {"2026-05-16T10:30", nil, "2026-05-16T10:30"},
		"basic ISO": {20260516, nil, "2026-05-16"},
		"from 1904": {44696.4375, func(f *excelize.File) {
			yes := true
			if err := f.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: &yes}); err != nil {
				t.Fatal(err)
			}
		}, "2026-05-16T10:30"},
		"minutes as time of day": {46158, func(f *excelize.File) {
			form := "h:mm"
			style, err := f.NewStyle(&excelize.Style{CustomNumFmt: &form})
			if err := errors.Join(err, f.SetCellValue("Sheet1", "G2", 750.0/1440), f.SetCellStyle("Sheet1", "G2", "G2", style)); err != nil {
				t.Fatal(err)
			}
		}, "2026-05-16"},
	} {
		data := workbook(t, [][]any{sheetHeader, {c.date, "heron", 16, 68, 118, 75.2, 12.5, 78.25}}, c.shape)
		logs, err := ReadLogs("log.xlsx", bytes.NewReader(data), runlog.Options{KeepCells: true})
		if err != nil || len(logs) != 1 || len(logs[0].Runs) != 1 {
			t.Errorf("%s: %v %v", name, err, logs)
			continue
		}
		got := strings.Join(runlog.Written(logs[0].Runs[0])[:9], ",")
		// 75.2 °F are 24 °C.
		if want := c.want + ",heron,16,68,1,118,24,12.5,78.25"; got != want {
			t.Errorf("%s: %s, want %s", name, got, want)
		}
	}
}

// archive returns a workbook with one of its parts replaced by something else.
func archive(t *testing.T, part string, write func(io.Writer)) []byte {
	t.Helper()
	whole := workbook(t, [][]any{sheetHeader}, nil)
	from, err := zip.NewReader(bytes.NewReader(whole), int64(len(whole)))
	if err != nil {
		t.Fatal(err)
	}
	var data bytes.Buffer
	to := zip.NewWriter(&data)
	for _, file := range from.File {
		if file.Name != part {
			if err := to.Copy(file); err != nil {
				t.Fatal(err)
			}
		}
	}
	w, err := to.Create(part)
	if err != nil {
		t.Fatal(err)
	}
	write(w)
	if err := to.Close(); err != nil {
		t.Fatal(err)
	}
	return data.Bytes()
}

const sheetPart = "xl/worksheets/sheet1.xml"

func sheetXML(rows func(w io.Writer)) func(io.Writer) {
	return func(w io.Writer) {
		io.WriteString(w, `<?xml version="1.0"?><worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>`)
		rows(w)
		io.WriteString(w, `</sheetData></worksheet>`)
	}
}

// Sheets that would fill the memory are refused, whatever their size as files.
func TestHostileWorkbooks(t *testing.T) {
	tenMillionCells := archive(t, sheetPart, sheetXML(func(w io.Writer) {
		row := "<row>" + strings.Repeat("<c><v>1</v></c>", 1000) + "</row>"
		for range 10_000 {
			io.WriteString(w, row)
		}
	}))
	wide := archive(t, sheetPart, sheetXML(func(w io.Writer) {
		io.WriteString(w, `<row r="1">`)
		for _, h := range sheetHeader {
			fmt.Fprintf(w, `<c t="inlineStr"><is><t>%s</t></is></c>`, h)
		}
		io.WriteString(w, `</row>`)
		for i := range 20_000 {
			fmt.Fprintf(w, `<row r="%d"><c r="XFD%d"><v>1</v></c></row>`, i+2, i+2)
		}
	}))
	blanks := archive(t, sheetPart, func(w io.Writer) {
		block := bytes.Repeat([]byte(" "), 1<<20)
		for range 300 {
			w.Write(block)
		}
	})
	plain := workbook(t, [][]any{sheetHeader, {"2026-05-16", "heron", 16, 68, 118, 75, 12, 78}}, nil)
	var empty bytes.Buffer
	if err := zip.NewWriter(&empty).Close(); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		data []byte
		want string
	}{
		"ten million cells":   {tenMillionCells, "save the sheet as CSV"},
		"far to the right":    {wide, "save the sheet as CSV"},
		"300 MB of blanks":    {blanks, "save the sheet as CSV"},
		"cut short":           {plain[:len(plain)/2], "save the sheet as CSV"},
		"no workbook":         {append([]byte("PK\x03\x04"), make([]byte, 100)...), "save the sheet as CSV"},
		"empty archive":       {empty.Bytes(), "empty zip archive"},
		"sheet is no XML":     {archive(t, sheetPart, func(w io.Writer) { io.WriteString(w, "no XML") }), "holds no header"},
		"no header":           {workbook(t, [][]any{{"tires", 4}}, nil), "no usable header line"},
		"no rows":             {workbook(t, nil, nil), "holds no header"},
		"a NUL in the middle": {workbook(t, [][]any{sheetHeader, {"2026-05-16", "her\x00on", 16, 68, 118, 75, 12, 78}}, nil), ""},
	} {
		t.Run(name, func(t *testing.T) {
			logs, err := ReadLogs("log.xlsx", bytes.NewReader(c.data), runlog.Options{KeepCells: true})
			switch {
			case c.want == "" && err != nil:
				t.Error(err)
			case c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "log.xlsx")):
				t.Errorf("%v; want %q (%v)", err, c.want, logs)
			}
		})
	}
}

// What is no workbook is read as CSV wherever it comes from.
func TestReadLogsFromFilesAndStreams(t *testing.T) {
	path := filepath.Join(t.TempDir(), "log.csv")
	write(t, path, ownColumns)
	file, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	sheet := workbook(t, [][]any{sheetHeader, {"2026-05-16", "heron", 16, 68, 118, 75, 12, 78}}, nil)
	for name, c := range map[string]struct {
		r    io.Reader
		runs int
	}{
		"file":   {file, 2},
		"stream": {io.MultiReader(strings.NewReader(ownColumns)), 2},
		"sheet":  {io.MultiReader(bytes.NewReader(sheet)), 1},
	} {
		logs, err := ReadLogs("-", c.r, runlog.Options{KeepCells: true})
		if err != nil || len(logs[0].Runs) != c.runs || logs[0].Name != "standard input" {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, r := range []io.Reader{strings.NewReader(""), io.MultiReader(), strings.NewReader("PK")} {
		if _, err := ReadLogs("log.csv", r, runlog.Options{KeepCells: true}); err == nil {
			t.Error("no error for an input that holds nothing")
		}
	}
	folder, err := os.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer folder.Close()
	if _, err := ReadLogs("folder", folder, runlog.Options{KeepCells: true}); err == nil || !strings.Contains(err.Error(), "directory") {
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
		logs, err := ReadLogs(name, bytes.NewReader(data), opts)
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
			again, err := ReadLogs("rejects.csv", &text, opts)
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
		logs, err := ReadLogs("club.csv", strings.NewReader(header+"\n"+c.cells+"\n"+c.cells+"\n"), runlog.Options{KeepCells: true})
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
