package workbook

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

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
		logs, err := Read("log.xlsx", bytes.NewReader(data), runlog.Options{KeepCells: true})
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
	for name, c := range map[string]struct {
		data []byte
		want string
	}{
		"ten million cells":   {tenMillionCells, "save the sheet as CSV"},
		"far to the right":    {wide, "save the sheet as CSV"},
		"300 MB of blanks":    {blanks, "save the sheet as CSV"},
		"cut short":           {plain[:len(plain)/2], "save the sheet as CSV"},
		"no workbook":         {append([]byte("PK\x03\x04"), make([]byte, 100)...), "save the sheet as CSV"},
		"sheet is no XML":     {archive(t, sheetPart, func(w io.Writer) { io.WriteString(w, "no XML") }), "holds no header"},
		"no header":           {workbook(t, [][]any{{"tires", 4}}, nil), "no usable header line"},
		"no rows":             {workbook(t, nil, nil), "holds no header"},
		"a NUL in the middle": {workbook(t, [][]any{sheetHeader, {"2026-05-16", "her\x00on", 16, 68, 118, 75, 12, 78}}, nil), ""},
	} {
		t.Run(name, func(t *testing.T) {
			logs, err := Read("log.xlsx", bytes.NewReader(c.data), runlog.Options{KeepCells: true})
			switch {
			case c.want == "" && err != nil:
				t.Error(err)
			case c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "log.xlsx")):
				t.Errorf("%v; want %q (%v)", err, c.want, logs)
			}
		})
	}
}
