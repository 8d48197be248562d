package runlog

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"
	"testing/iotest"
	"unicode/utf16"

	"github.com/gocarina/gocsv"

	"regear/analyze/run"
)

const smallHeader = "date,pinion_teeth,spur_teeth,tire_diameter_mm,ambient_c,run_minutes,motor_peak_c,note\n"

// mustRead reads a text that has a header.
func mustRead(t *testing.T, text string, opts Options) *Log {
	t.Helper()
	log, err := Read("log.csv", strings.NewReader(text), opts)
	if err != nil {
		t.Fatal(err)
	}
	checkAccounts(t, log)
	return log
}

func TestColumnOrderChangesNothing(t *testing.T) {
	data, err := os.ReadFile(filepath.Join(corpus, "tabs.tsv"))
	if err != nil {
		t.Fatal(err)
	}
	var table [][]string
	for _, line := range strings.Split(strings.TrimSuffix(string(data), "\n"), "\n") {
		table = append(table, strings.Split(line, "\t"))
	}
	want := mustRead(t, string(data), Options{})
	if len(want.Runs) != 3 {
		t.Fatalf("%d runs", len(want.Runs))
	}
	for seed := range uint64(20) {
		order := rand.New(rand.NewPCG(seed, 0)).Perm(len(table[0]))
		var b strings.Builder
		for _, cells := range table {
			for i, at := range order {
				if i > 0 {
					b.WriteByte('\t')
				}
				b.WriteString(cells[at])
			}
			b.WriteByte('\n')
		}
		if got := mustRead(t, b.String(), Options{}); !reflect.DeepEqual(got.Runs, want.Runs) {
			t.Errorf("columns in the order %v: got %v, want %v", order, got.Runs, want.Runs)
		}
	}
}

// TestManyRows reads more rows than a block holds, good and bad ones mixed, and
// checks that every row comes out in its place, however the bytes arrive.
func TestManyRows(t *testing.T) {
	var b strings.Builder
	b.WriteString(smallHeader)
	good := 0
	for i := range 5000 {
		switch {
		case i%7 == 3:
			fmt.Fprintf(&b, "2026-03-14,15,68,118,21,8,hot%d,\n", i)
		case i%1000 == 999:
			fmt.Fprintf(&b, "2026-03-14,15,68,118,21,8,66,\"open %d\n", i)
		default:
			fmt.Fprintf(&b, "2026-03-14,15,68,118,21,8,%d.5,\"note\n%d\"\n", 60+i%20, i)
			good++
		}
	}
	text := b.String()
	want := mustRead(t, text, Options{KeepCells: true})
	if len(want.Runs) != good || want.Rows != 5000 {
		t.Errorf("%d runs of %d rows, want %d of 5000", len(want.Runs), want.Rows, good)
	}
	for i, r := range want.Runs {
		if cells := want.Cells[i]; cells[6] != number(r.Peak.At(run.Motor)) || cells[7] != r.Note {
			t.Fatalf("cells %q beside run %v", cells, r)
		}
	}
	for name, r := range map[string]io.Reader{
		"one byte at a time": iotest.OneByteReader(strings.NewReader(text)),
		"error with data":    iotest.DataErrReader(strings.NewReader(text)),
	} {
		got, err := Read("log.csv", r, Options{KeepCells: true})
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%s: the log differs, %v", name, err)
		}
	}
}

func TestReadErrors(t *testing.T) {
	broken := errors.New("cable pulled")
	ok := smallHeader + strings.Repeat("2026-03-14,15,68,118,21,8,66,\n", 10_000)
	folder, err := os.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer folder.Close()
	for _, row := range []struct {
		name string
		r    io.Reader
		opts Options
		want string
	}{
		{"broken at once", iotest.ErrReader(broken), Options{}, "log.csv: cable pulled"},
		{"broken later", io.MultiReader(strings.NewReader(ok), iotest.ErrReader(broken)), Options{}, "log.csv: cable pulled"},
		{"broken in Windows-1252", io.MultiReader(strings.NewReader(ok+"2026-03-14,15,68,118,21,8,66,\xe4\n"), iotest.ErrReader(broken)), Options{}, "log.csv: cable pulled"},
		{"too large", strings.NewReader(ok), Options{MaxBytes: 100_000}, "log.csv: is larger than 100000 bytes, split it into smaller logs"},
		{"folder", folder, Options{}, "log.csv: is a directory, name a file in it"},
		{"no such column", strings.NewReader(ok), Options{Columns: map[string]string{"Temp": "motor_peek_c"}},
			`there is no column "motor_peek_c": did you mean motor_peak_c?`},
		{"column without its unit", strings.NewReader(ok), Options{Columns: map[string]string{"Temp": "motor peak"}},
			`there is no column "motor peak": it needs its unit, motor_peak_c or motor_peak_f`},
	} {
		log, err := Read("log.csv", row.r, row.opts)
		if err == nil || err.Error() != row.want || log != nil {
			t.Errorf("%s: got %v, want %s", row.name, err, row.want)
		}
	}
	if _, err := Read("-", iotest.ErrReader(broken), Options{}); !errors.Is(err, broken) || !strings.HasPrefix(err.Error(), "standard input: ") {
		t.Errorf("got %v, want the wrapped error of standard input", err)
	}
	if log := mustRead(t, ok, Options{MaxBytes: int64(len(ok))}); len(log.Runs) != 10_000 {
		t.Errorf("a log of just MaxBytes gave %d runs", len(log.Runs))
	}
}

// TestEndlessLine reads a line of 100 MB in a log, which must cost that line alone, and hardly
// more memory than a text of that size takes by being read whole: five times its size, as what
// holds it grows by a quarter at a time.
func TestEndlessLine(t *testing.T) {
	for fill, size := range map[byte]int64{'x': 100 << 20, ',': 10 << 20, '"': 10 << 20} {
		text := io.MultiReader(
			strings.NewReader(smallHeader+"2026-03-14,15,68,118,21,8,66,one\n"),
			io.LimitReader(repeat(fill), size),
			strings.NewReader("\n2026-03-14,15,68,118,21,8,66,two\n"))
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		log, err := Read("log.csv", text, Options{})
		runtime.ReadMemStats(&after)
		if err != nil {
			t.Fatal(err)
		}
		checkAccounts(t, log)
		if len(log.Runs) != 2 || log.Runs[1].Line != 4 || len(log.Problems) != 1 || log.Problems[0].Line != 3 {
			t.Errorf("%q: got %v and %v", fill, log.Runs, log.Problems)
		}
		if got := after.TotalAlloc - before.TotalAlloc; got > 6*uint64(size) {
			t.Errorf("%q: %d bytes were allocated", fill, got)
		}
	}
}

// TestUnclosedQuoteAbovePairs reads a quote that does not close above many lines of quotes that
// do, which must cost no more than to look for its end once.
func TestUnclosedQuoteAbovePairs(t *testing.T) {
	text := smallHeader + "2026-03-14,15,68,118,21,8,66,one\n\"a\n" + strings.Repeat("\"\"\n", 300_000)
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	log := mustRead(t, text, Options{})
	runtime.ReadMemStats(&after)
	if got := after.TotalAlloc - before.TotalAlloc; got > 32<<20 || len(log.Runs) != 1 || len(log.Problems) == 0 || log.Problems[0].Line != 3 {
		t.Errorf("%d bytes were allocated, problems %v", got, log.Problems[:min(3, len(log.Problems))])
	}
}

// Comments are kept in the order of their lines, whatever the text was before it was UTF-8 with
// line feeds. A spreadsheet's error is none.
func TestComments(t *testing.T) {
	const text = "# Größe in mm\n" + smallHeader + "2026-03-14,15,68,118,21,8,66,\n#N/A,15,68,118,21,8,66,\n# Ende\n"
	cr := strings.ReplaceAll(text, "\n", "\r")
	crlf := strings.ReplaceAll(text, "\n", "\r\n")
	for encoding, texts := range map[string][]string{
		"UTF-8":                {text, "\uFEFF" + text, crlf, cr},
		"UTF-16 little-endian": {utf16Text(binary.LittleEndian, text), utf16Text(binary.LittleEndian, crlf), utf16Text(binary.LittleEndian, cr)},
		"UTF-16 big-endian":    {utf16Text(binary.BigEndian, text), utf16Text(binary.BigEndian, crlf), utf16Text(binary.BigEndian, cr)},
		"Windows-1252":         {strings.NewReplacer("ö", "\xf6", "ß", "\xdf").Replace(text)},
	} {
		for _, text := range texts {
			log := mustRead(t, text, Options{})
			if want := []string{"# Größe in mm", "# Ende"}; !slices.Equal(log.Comments, want) || log.Format.Encoding != encoding {
				t.Errorf("%v: %q", log.Format, log.Comments)
			}
			if len(log.Runs) != 1 || len(log.Problems) != 1 || log.Problems[0].Line != 4 {
				t.Errorf("%v: runs %v, problems %v", log.Format, log.Runs, log.Problems)
			}
		}
	}
}

// utf16Text returns a text in UTF-16, with its byte order mark (RFC 2781).
func utf16Text(order binary.AppendByteOrder, text string) string {
	var coded []byte
	for _, unit := range utf16.Encode([]rune("\uFEFF" + text)) {
		coded = order.AppendUint16(coded, unit)
	}
	return string(coded)
}

// An announced delimiter is a byte, also one above ASCII, of a text that is UTF-8 by its mark.
func TestDelimiterIsAByte(t *testing.T) {
	row := func(note string) string {
		return strings.ReplaceAll("2026-03-14,15,68,118,21,8,66,", ",", "\xa7") + note + "\n"
	}
	log := mustRead(t, "\uFEFFsep=\xa7\n"+strings.ReplaceAll(smallHeader, ",", "\xa7")+
		row(`"windy"`)+"\"2026-03-15\""+row("a\xa8b")[len("2026-03-15"):]+row(`"a quote`)+row(`of two rows"`), Options{})
	if len(log.Runs) != 2 || log.Runs[0].Note != "windy" || log.Runs[1].Line != 6 {
		t.Errorf("runs %v", log.Runs)
	}
	wants := []string{`:4: note: "a\xa8b": is not UTF-8`, `:5: "\"a quote": has a quote that does not close`}
	if len(log.Problems) != len(wants) {
		t.Fatalf("problems %v", log.Problems)
	}
	for i, want := range wants {
		if got := log.Problems[i].String(); !strings.Contains(got, want) {
			t.Errorf("%s, want %s", got, want)
		}
	}
}

// repeat is a reader of one byte without end.
type repeat byte

func (b repeat) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = byte(b)
	}
	return len(p), nil
}

// TestLateSurprises puts what the first block of a log did not show behind it.
func TestLateSurprises(t *testing.T) {
	many := strings.Repeat("2026-03-14,15,68,118,21,8,66,\n", 20_000)
	for _, row := range []struct {
		name, last, encoding string
		mark                 byte
	}{
		{"Windows-1252", "2026-03-14,15,68,118,21,8,66,Stra\xdfe\n", "Windows-1252", 0},
		{"UTF-8", "2026-03-14,15,68,118,21,8,66,Straße\n", "UTF-8", 0},
		{"decimal point", "2026-03-14,15,68,118,21.5,8,66,Straße\n", "UTF-8", '.'},
		{"decimal comma", "2026-03-14,15,68,118,\"21,5\",8,66,Straße\n", "UTF-8", ','},
	} {
		log := mustRead(t, smallHeader+many+row.last+many, Options{})
		if len(log.Problems) > 0 || log.Runs[20_000].Note != "Straße" && row.mark == 0 {
			t.Errorf("%s: %v, note %q", row.name, log.Problems, log.Runs[20_000].Note)
		}
		if log.Format.Encoding != row.encoding || log.Format.DecimalMark != row.mark {
			t.Errorf("%s: found %v", row.name, log.Format)
		}
		if row.mark != 0 && log.Runs[20_000].Ambient != 21.5 {
			t.Errorf("%s: %v °C", row.name, log.Runs[20_000].Ambient)
		}
	}
}

// TestEveryBreakIsRefused takes a good row and spoils one cell after the other.
func TestEveryBreakIsRefused(t *testing.T) {
	header := "date,pinion_teeth,spur_teeth,internal_ratio,final_drive_ratio,tire_diameter_mm,tire_circumference_mm,ambient_c," +
		"run_minutes,motor_peak_c,esc_peak_c,battery_peak_c,motor_start_c,esc_start_c,battery_start_c,stopped_by_heat,cells,skip"
	good := "2026-03-14,15,60,2.5,10,118,370.7,21,8,66,55,44,25,24,23,no,2,no"
	if log := mustRead(t, header+"\n"+good+"\n", Options{}); len(log.Runs) != 1 || len(log.Warnings) > 0 {
		t.Fatalf("the good row gave %v %v", log.Problems, log.Warnings)
	}
	for i, name := range strings.Split(header, ",") {
		for _, spoilt := range []string{"#REF!", "=A1", "1e999", "12 34", "1.2.3", "?"} {
			cells := strings.Split(good, ",")
			cells[i] = spoilt
			log := mustRead(t, header+"\n"+strings.Join(cells, ",")+"\n", Options{})
			if len(log.Problems) != 1 || log.Problems[0].Column != name || log.Problems[0].Value != spoilt || log.Problems[0].Do == "" {
				t.Errorf("%s = %q: got %v", name, spoilt, log.Problems)
			}
		}
	}
}

func TestHeaderErrorIsTyped(t *testing.T) {
	_, err := Read("club.csv", strings.NewReader("date,Pinion,spur_teeth,tire_diameter_mm,ambient_c,run_minutes,Motor peak,note,Note\n"), Options{})
	var header *HeaderError
	if !errors.As(err, &header) {
		t.Fatalf("got %v", err)
	}
	want := &HeaderError{
		Position: run.Position{File: "club.csv", Line: 1},
		Found:    []string{"date", "Pinion", "spur_teeth", "tire_diameter_mm", "ambient_c", "run_minutes", "Motor peak", "note", "Note"},
		Missing:  []string{`pinion_teeth ("Pinion" could be it)`},
		Others: []string{`"Motor peak": a temperature column needs its unit: motor_peak_c or motor_peak_f`,
			`"note" and "Note" both hold note: keep one, and rename the other`},
		Lacking: []string{"pinion_teeth"},
		Headings: []Heading{{Header: "date", Name: "date"}, {Header: "Pinion"}, {Header: "spur_teeth", Name: "spur_teeth", Unit: "teeth"},
			{Header: "tire_diameter_mm", Name: "tire_diameter_mm", Unit: "mm"}, {Header: "ambient_c", Name: "ambient_c", Unit: "°C"},
			{Header: "run_minutes", Name: "run_minutes", Unit: "min"}, {Header: "Motor peak", Name: "motor_peak"},
			{Header: "note", Name: "note"}, {Header: "Note", Name: "note"}},
	}
	if !reflect.DeepEqual(header, want) {
		t.Errorf("got %+v, want %+v", header, want)
	}
}

func TestMatchHeader(t *testing.T) {
	// The contract: matching forgives case, spaces, hyphens, a °, and a unit in brackets.
	for _, row := range []struct{ header, want string }{
		{"motor_peak_f", "motor_peak_f"},
		{"Motor peak (°F)", "motor_peak_f"},
		{"MOTOR-PEAK °C", "motor_peak_c"},
		{"Motor peak [deg F, can]", "motor_peak_f"},
		{"motorpeakcelsius", "motor_peak_c"},
		{"Ambient °C (in the shade)", "ambient_c"},
		{"Ambient (in the shade, °C)", "ambient_c"},
		{"Tire diameter (inches)", "tire_diameter_in"},
		{`Tyre diameter (")`, "tire_diameter_in"},
		{"Pinion (teeth)", "pinion_teeth"},
		{"Run (min)", ""}, // "min" is not how the name ends
		{"Run (minutes)", "run_minutes"},
		{"run_minutes (min)", "run_minutes"},
		{"cells (S)", "cells"},
		{"note (free text)", "note"},
		{"motor", "motor"},
		{"motor peak", "motor_peak"}, // known, but needs its unit
		{"ambient (K)", "ambient"},
		{"pinion", ""},
		{"", ""},
		{"(°C)", ""},
		{"minutes", ""},
	} {
		if got := matchHeader(row.header).name(); got != row.want {
			t.Errorf("%q: got %q, want %q", row.header, got, row.want)
		}
	}
}

func TestParseColumn(t *testing.T) {
	for _, row := range []struct{ mapping, header, column, err string }{
		{"Temp mot=motor_peak_f", "Temp mot", "motor_peak_f", ""},
		{" a=b = Motor peak (°F) ", "a=b", "motor_peak_f", ""},
		{"motor_peak_f", "", "", `"motor_peak_f" is no mapping: write 'own header=column', such as 'Temp mot=motor_peak_f'`},
		{"=note", "", "", `"=note" is no mapping: write 'own header=column', such as 'Temp mot=motor_peak_f'`},
		{"x=motor_peak", "", "", `there is no column "motor_peak": it needs its unit, motor_peak_c or motor_peak_f`},
		{"x=nots", "", "", `there is no column "nots": did you mean note?`},
	} {
		header, column, err := ParseColumn(row.mapping)
		if got := fmt.Sprint(err); err != nil && got != row.err || err == nil && row.err != "" || header != row.header || column != row.column {
			t.Errorf("%q: got %q, %q, %v", row.mapping, header, column, err)
		}
	}
}

// TestTagsDecode holds the row's own decoding of cells against gocsv's, which goes by the tags.
func TestTagsDecode(t *testing.T) {
	type byTags row
	for _, c := range columns {
		for _, name := range c.Names {
			b := records{{name}, {"x"}}
			var ours []decoded
			var theirs []byTags
			if err := errors.Join(gocsv.UnmarshalDecoder(b, &ours), gocsv.UnmarshalDecoder(b, &theirs)); err != nil {
				t.Fatal(err)
			}
			if got := *ours[0].Cells; got != row(theirs[0]) || got == (row{}) {
				t.Errorf("%s: %+v, by its tag %+v", name, got, theirs[0])
			}
		}
	}
	if fields := len(reflect.VisibleFields(reflect.TypeFor[row]())) - 1; fields != len(columns) {
		t.Errorf("%d cells in a row, %d columns in the table", fields, len(columns))
	}
}

func TestWarningsAreAbsentFromCleanLogs(t *testing.T) {
	log, err := Read("bench.csv", bytes.NewReader(inventedLog(2000)), Options{})
	if err != nil || len(log.Problems) > 0 || len(log.Warnings) > 0 {
		t.Errorf("got %v, %v, %v", err, log.Problems, log.Warnings)
	}
	if cap(log.Runs) > len(log.Runs)*21/20 {
		t.Errorf("%d runs in a slice for %d", len(log.Runs), cap(log.Runs))
	}
	if slices.ContainsFunc(log.Columns, func(c Heading) bool { return c.Name == "" }) {
		t.Errorf("unknown columns in %v", log.Columns)
	}
}
