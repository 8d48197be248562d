package runlog

import (
	"bytes"
	"encoding/csv"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"regear/analyze/run"
	"regear/analyze/units"
)

// FuzzRead checks that nothing makes Read panic, that every data row is a valid
// run or a problem with its place, and that what Write writes is read as it was.
func FuzzRead(f *testing.F) {
	for _, file := range corpusFiles(f) {
		data, err := os.ReadFile(file)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data, uint8(len(data)))
	}
	own, err := filepath.Glob(filepath.Join(corpus, "spreadsheets", "*.?sv"))
	if err != nil || len(own) == 0 {
		f.Fatal("no spreadsheets", err)
	}
	for _, file := range own {
		data, err := os.ReadFile(file)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data, uint8(16))
		f.Add(data, uint8(16+32))
	}
	f.Fuzz(func(t *testing.T, data []byte, pick uint8) {
		opts := Options{DateOrder: DateOrder(pick % 3), KeepCells: pick&4 != 0}
		if pick&8 != 0 {
			opts.Columns = map[string]string{"note": "car", "x": "motor_peak_c"}
		}
		if opts.Forgiving = pick&16 != 0; pick&32 != 0 {
			system := units.Systems[pick>>6&1]
			opts.FileUnits, opts.HeatStops = &system, true
			opts.Constants = []Constant{mustConstant("ambient=25C"), mustConstant("spur_teeth=68"), mustConstant("tire_diameter=4 1/8in")}
		}
		log, err := Read("fuzz.csv", bytes.NewReader(data), opts)
		if err != nil {
			if err.Error() == "" || log != nil {
				t.Fatalf("error %v with log %v", err, log)
			}
			return
		}
		checkAccounts(t, log)
		checkCells(t, log, opts.KeepCells)
		_ = log.Format.String()
		checkRoundTrip(t, log.Runs)
	})
}

// checkCells checks that raw cells are kept for every row, or for none.
func checkCells(t *testing.T, log *Log, keep bool) {
	t.Helper()
	if !keep {
		if log.Header != nil || log.Cells != nil || log.Refused != nil {
			t.Error("cells kept that nobody asked for")
		}
		return
	}
	if len(log.Cells) != len(log.Runs) || len(log.Refused) != log.Rows-len(log.Runs) || len(log.Header) == 0 {
		t.Errorf("%d rows: cells of %d runs of %d and of %d refused rows", log.Rows, len(log.Cells), len(log.Runs), len(log.Refused))
	}
	for _, r := range log.Refused {
		if !slices.ContainsFunc(log.Problems, func(p run.Problem) bool { return p.Position == r.Position }) {
			t.Errorf("%v is refused without a reason", r.Position)
		}
	}
}

// checkRoundTrip checks that runs are read back as they were written.
func checkRoundTrip(t *testing.T, runs []run.Run) {
	t.Helper()
	var first, second bytes.Buffer
	if err := Write(&first, runs); err != nil {
		t.Fatalf("writing runs that were read: %v", err)
	}
	again, err := Read("again.csv", bytes.NewReader(first.Bytes()), Options{})
	if err != nil {
		t.Fatalf("reading back: %v\n%s", err, &first)
	}
	if len(again.Problems) > 0 || len(again.Runs) != len(runs) {
		t.Fatalf("%d runs came back as %d, %v\n%s", len(runs), len(again.Runs), again.Problems, &first)
	}
	for i, r := range again.Runs {
		want := runs[i]
		if !r.When.Equal(want.When) || r.Date() != want.Date() {
			t.Fatalf("time %v came back as %v", want.When, r.When)
		}
		r.When, r.Position = want.When, want.Position
		if r != want {
			t.Fatalf("run came back changed:\n%+v\n%+v\n%s", want, r, &first)
		}
	}
	if err := Write(&second, again.Runs); err != nil || !bytes.Equal(first.Bytes(), second.Bytes()) {
		t.Fatalf("written again it differs: %v\n%s\n%s", err, &first, &second)
	}
}

// FuzzCSVRows holds the cutting into cells against encoding/csv, for every text
// that encoding/csv takes without complaint.
func FuzzCSVRows(f *testing.F) {
	for _, seed := range []string{"a,b\n1,2\n", "a;\"b\r\nc\";d\r\n", "\"\"\"\",\n", "a\n\n\nb", "x\r\n", "\"\"\r", "\"b\r\r\nc\"", "\"a\nb\"\n\"c,d\",e", ",,\n,"} {
		f.Add(seed, byte(','))
	}
	f.Fuzz(func(t *testing.T, text string, delim byte) {
		if delimiters[delim] == "" || strings.ContainsAny(text, "#") {
			t.Skip()
		}
		reference := csv.NewReader(strings.NewReader(text))
		reference.Comma, reference.FieldsPerRecord = rune(delim), -1
		ours := &csvRows{text: text, delim: delim, suspect: !readable(text)}
		for {
			want, err := reference.Read()
			if err != nil && err != io.EOF {
				t.Skip() // a breach of the rules, in which the two need not agree
			}
			got, more := ours.next()
			if more == (err == io.EOF) {
				t.Fatalf("more rows: %t, want %v", more, err)
			}
			if err == io.EOF {
				return
			}
			if (got.problem == nil) == slices.ContainsFunc(want, func(cell string) bool { return !readable(cell) }) {
				t.Fatalf("problem %v of %q", got.problem, want)
			}
			// encoding/csv folds the line ends inside cells, csvRows leaves that to its user.
			same := func(want, got string) bool { return want == strings.ReplaceAll(got, "\r\n", "\n") }
			if line, _ := reference.FieldPos(0); !slices.EqualFunc(want, got.cells, same) || got.line != line {
				t.Fatalf("line %d %q, want line %d %q", got.line, got.cells, line, want)
			}
		}
	})
}

// FuzzEscapeFormula checks that no escaped cell starts a formula, and that escaping
// can be undone.
func FuzzEscapeFormula(f *testing.F) {
	for _, seed := range []string{"=1+1", "'=1", "-5", "+a", "@x", "\t=1", "''", "", " =1", "＝1"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, cell string) {
		escaped := EscapeFormula(cell)
		if got := UnescapeFormula(escaped); got != cell {
			t.Errorf("%q became %q, and came back as %q", cell, escaped, got)
		}
		if strings.ContainsAny(cell, "0123456789") {
			return // may be a number, which is none
		}
		if start := strings.TrimLeft(escaped, " "); start != "" && strings.ContainsRune("=+-@\t\r", rune(start[0])) {
			t.Errorf("%q became %q", cell, escaped)
		}
	})
}

// FuzzHeader checks that a header is understood the same however it is written, and
// that hints name columns.
func FuzzHeader(f *testing.F) {
	for _, name := range append(columnNames, "Motor peak (°F)", "Tyre [in]", "temp") {
		f.Add(name)
	}
	f.Fuzz(func(t *testing.T, header string) {
		m := matchHeader(header)
		if other := matchHeader(strings.NewReplacer("_", "-", " ", "  ").Replace(header)); m.name() != other.name() {
			t.Errorf("%q is %q, but not with other spaces: %q", header, m.name(), other.name())
		}
		if near := hintAt(header, columnNames); near != "" && !slices.Contains(columnNames, near) {
			t.Errorf("hint %q", near)
		}
		if m.known() && !m.needsUnit() && m.otherUnit == "" && !slices.Contains(columnNames, m.name()) {
			t.Errorf("%q is %q, which is no column", header, m.name())
		}
	})
}
