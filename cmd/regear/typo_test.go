package main

import (
	"bytes"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The book of an invented car and of another one, and the evening on which the next run is logged.
const typoBook = `date,car,pinion_teeth,spur_teeth,internal_ratio,tire_diameter_mm,ambient_c,run_minutes,motor_peak_c,esc_peak_c,battery_peak_c,cells
2026-05-16T10:50,heron,17,68,2.5,118,22,12,84,57,40,4
2026-05-16T11:30,heron,17,68,2.5,118,25,8,74,56,41,4
2026-05-16T12:10,heron,16,68,2.5,118,24,12,78,53,40,4
2026-05-18T15:00,heron,16,68,2.5,118,23,12,77,53,40,4
2026-05-16T13:00,gull,14,60,2.2,104,24,9,66,,,2
`

// usualRun is what the driver of the car in that book types after a usual run.
var usualRun = map[string]string{"car": "heron", "date": "2026-05-18T16:00", "pinion": "16", "minutes": "12", "ambient": "75F", "motor-peak": "172F"}

// logged logs a usual run with some of it typed otherwise, in a pipe or at a terminal that answers
// no. In a pipe it returns what was told, and whether the run is in the book now.
func logged(t *testing.T, book string, otherwise map[string]string, atTerminal bool) (told string, saved bool) {
	t.Helper()
	folder, path := newBookFolder(t)
	keep(t, folder, "book.csv", book)
	typed := map[string]string{}
	for _, from := range []map[string]string{usualRun, otherwise} {
		maps.Copy(typed, from)
	}
	maps.DeleteFunc(typed, func(_, text string) bool { return text == "" })
	var out, errOut bytes.Buffer
	env := &environment{in: strings.NewReader(""), out: &out, errOut: &errOut, getenv: os.Getenv, now: fixedNow}
	if atTerminal {
		flags := runFlags{given: typed}
		// Each question for what was not typed is left blank, and what is odd is not meant.
		answers := newAsker(strings.NewReader(strings.Repeat("\n", 12)), &errOut)
		if err := flags.log(env, answers); err != nil {
			fmt.Fprintln(&errOut, err)
		}
	} else {
		args := []string{"log"}
		for name, text := range typed {
			args = append(args, "--"+name+"="+text)
		}
		env.run(args)
	}
	return errOut.String(), read(t, path) != book
}

// A typing error is never saved unasked: what can't be is refused, and what is odd is told in a pipe
// and asked about at a terminal. The message speaks of what was typed.
func TestTypingErrors(t *testing.T) {
	for _, c := range []struct {
		name    string
		typed   map[string]string
		refused bool
		says    string
	}{
		{"1470 for 147", map[string]string{"motor-peak": "1470F"}, true, `"1470F": is no temperature of air or parts`},
		{"a digit left out", map[string]string{"motor-peak": "17F"}, true, `"17F": is below the air of 75 °F`},
		{"°C for °F of the motor", map[string]string{"motor-peak": "172C"}, false, `"172C": is very hot`},
		{"°F for °C of the motor", map[string]string{"motor-peak": "78F"}, false, `"78F": is outside 150 to 202 °F, where 99 of 100 such runs would lie`},
		{"digits of the motor swapped", map[string]string{"motor-peak": "127F"}, false, `"127F": is outside`},
		{"another digit of the motor", map[string]string{"motor-peak": "142F"}, false, `"142F": is outside`},
		{"°C for °F of the ESC", map[string]string{"esc-peak": "127C"}, false, `"127C": is very hot`},
		{"°C for °F of the battery", map[string]string{"battery-peak": "104C"}, false, `"104C": is very hot`},
		{"°C for °F of the air", map[string]string{"ambient": "75C"}, true, `"75C": is hotter than air to drive in`},
		{"°F for °C of the air", map[string]string{"ambient": "24F"}, false, `"24F": is frost in °F`},
		{"a sign before the air", map[string]string{"ambient": "-24C"}, false, `"-24C": is very cold`},
		{"another digit of the air", map[string]string{"ambient": "45F"}, false, `"45F": is far from the air of the day's other runs, 73.4 °F`},
		{"air and peak swapped", map[string]string{"ambient": "172F", "motor-peak": "75F"}, true, `"172F": is hotter than air to drive in`},
		{"gears swapped", map[string]string{"pinion": "68", "spur": "16"}, true, `"68": is more than the 16 teeth of the spur`},
		{"digits of the spur swapped", map[string]string{"spur": "86"}, false, `"86": is a spur that this car has not run before`},
		{"digits of the pinion swapped", map[string]string{"pinion": "61"}, false, `far taller than all that this car has run`},
		{"a digit of the pinion left out", map[string]string{"pinion": "6"}, false, `far shorter than all that this car has run`},
		{"a point left out of the ratio", map[string]string{"internal-ratio": "25"}, false, `"25": is another internal ratio`},
		{"a year too many", map[string]string{"date": "2027-05-18T16:00"}, true, `"2027-05-18T16:00": lies in the future`},
		{"a year too few", map[string]string{"date": "2025-05-18T16:00"}, false, `"2025-05-18T16:00": lies long ago`},
		{"tomorrow", map[string]string{"date": "2026-05-19T16:00"}, false, `"2026-05-19T16:00": lies in the future`},
		{"an hour too few", map[string]string{"date": "2026-05-18T15:05"}, false, `"2026-05-18T15:05": overlaps the run that ended at 15:00`},
		{"1200 minutes", map[string]string{"minutes": "1200"}, true, `"1200": is a run of 20 hours`},
		{"a colon left out", map[string]string{"minutes": "1230"}, true, `"1230": is a run of 20.5 hours`},
		{"a point left out of the minutes", map[string]string{"minutes": "125"}, false, `"125": is a run of 2.083 hours`},
		{"a point too far left", map[string]string{"minutes": "1.25"}, false, `"1.25": is far shorter than all that this car has run`},
		{"hours for minutes", map[string]string{"minutes": "0:12"}, false, `"0:12": is a run of 12 seconds`},
		{"a point left out of the tire", map[string]string{"tire": "46.5in"}, true, `"46.5in": is no tire's diameter`},
		{"another digit of the tire", map[string]string{"tire": "14.65in"}, false, `"14.65in": makes a tire of 372.1 mm`},
		{"digits of the tire swapped", map[string]string{"tire": "181mm"}, false, `far taller than all that this car has run`},
		{"a rim for the tire", map[string]string{"tire": "2.8in"}, false, `"2.8in": is a rim size`},
		{"a wrong cell count", map[string]string{"cells": "14"}, false, `"14": is far from the cells`},
		{"a capacity for the cells", map[string]string{"cells": "50"}, false, `"50": is more cells in series than cars have`},
		{"the peak as the start", map[string]string{"motor-start": "180F"}, false, `"172F": is not above the start of 180 °F`},
		{"°F for °C of the start", map[string]string{"motor-start": "35F"}, false, `"35F": is far below the air of 75 °F`},
		{"two letters of the car swapped", map[string]string{"car": "heorn", "spur": "68", "internal-ratio": "2.5", "tire": "118mm"}, false, `"heorn": is a new car, check the name if it is heron`},
	} {
		told, saved := logged(t, typoBook, c.typed, false)
		if saved == c.refused || !strings.Contains(told, c.says) {
			t.Errorf("%s, in a pipe: saved %v, told\n%s", c.name, saved, told)
		}
		if strings.Contains(c.says, "rim") {
			c.says = strings.TrimPrefix(c.says, `"2.8in": `)
		}
		told, saved = logged(t, typoBook, c.typed, true)
		if saved || !strings.Contains(told, c.says) || !c.refused && !strings.Contains(told, "Log it all the same?") {
			t.Errorf("%s, at a terminal: saved %v, told\n%s", c.name, saved, told)
		}
	}
}

// What a driver usually does next is logged without a question.
func TestUsualRunsAreNotAskedAbout(t *testing.T) {
	day := func(date string) map[string]string { return map[string]string{"date": date} }
	season := strings.ReplaceAll(typoBook, "2026-05", "2025-08")
	crawler := typoBook + "2026-05-17T15:00,heron,16,68,2.5,118,23,75,77,53,40,4\n"
	heat := typoBook + "2026-05-17T15:00,heron,16,68,2.5,118,38,12,92,60,50,4\n"
	winter := typoBook + "2026-01-17T15:00,heron,16,68,2.5,118,-8,12,45,30,20,4\n"
	for name, c := range map[string]struct {
		book  string
		typed map[string]string
	}{
		"as before":                      {typoBook, nil},
		"now":                            {typoBook, day("")},
		"a day alone":                    {typoBook, day("2026-05-18")},
		"yesterday":                      {typoBook, day("2026-05-17")},
		"a clock a little ahead":         {typoBook, day("2026-05-18T19:15")},
		"the next pack at once":          {typoBook, day("2026-05-18T15:14")},
		"the pack before":                {typoBook, day("2026-05-18T14:46")},
		"last month":                     {typoBook, day("2026-04-12T16:00")},
		"an old run of an old season":    {season, day("2025-08-20T16:00")},
		"a pinion up":                    {typoBook, map[string]string{"pinion": "18", "motor-peak": "190F"}},
		"three pinions down":             {typoBook, map[string]string{"pinion": "13", "motor-peak": "140F"}},
		"a smaller tire":                 {typoBook, map[string]string{"tire": "104mm", "motor-peak": "150F"}},
		"a tire in inches":               {typoBook, map[string]string{"tire": "4.65in"}},
		"a taller tire":                  {typoBook, map[string]string{"tire": "135mm", "motor-peak": "190F"}},
		"a short check":                  {typoBook, map[string]string{"minutes": "2", "motor-peak": "108F"}},
		"a long run":                     {typoBook, map[string]string{"minutes": "25:30", "motor-peak": "195F"}},
		"a hot part":                     {typoBook, map[string]string{"motor-peak": "240F", "stopped-by-heat": "yes"}},
		"a cool evening":                 {typoBook, map[string]string{"ambient": "58F", "motor-peak": "150F"}},
		"a cold spring day":              {typoBook, map[string]string{"date": "2026-03-18T16:00", "ambient": "4C", "motor-peak": "58C"}},
		"a hot summer day in °F":         {typoBook, map[string]string{"date": "2026-05-17T16:00", "ambient": "104F", "motor-peak": "205F"}},
		"a hot summer day in °C":         {heat, map[string]string{"date": "2026-05-17T16:00", "ambient": "41C", "motor-peak": "96C"}},
		"a frosty day in °F":             {winter, map[string]string{"date": "2026-01-18T16:00", "ambient": "18F", "motor-peak": "115F"}},
		"all three parts":                {typoBook, map[string]string{"esc-peak": "128F", "battery-peak": "105F"}},
		"the battery alone":              {typoBook, map[string]string{"motor-peak": "", "battery-peak": "39C"}},
		"a warm start":                   {typoBook, map[string]string{"motor-start": "110F"}},
		"a car from indoors":             {typoBook, map[string]string{"motor-start": "68F"}},
		"another battery":                {typoBook, map[string]string{"cells": "3", "motor-peak": "140F"}},
		"another surface, and a note":    {typoBook, map[string]string{"surface": "grass", "note": "no shutdown, 3 laps"}},
		"a crawler's hours":              {crawler, map[string]string{"date": "2026-05-18T17:00", "minutes": "80"}},
		"the other car":                  {typoBook, map[string]string{"car": "gull", "pinion": "14", "motor-peak": "151F"}},
		"a new car":                      {typoBook, map[string]string{"car": "crane", "pinion": "20", "spur": "81", "internal-ratio": "1.9", "tire": "66mm"}},
		"a numbered car":                 {strings.ReplaceAll(typoBook, "heron", "heron 1"), map[string]string{"car": "heron 2", "spur": "68", "internal-ratio": "2.5", "tire": "118mm"}},
		"the first run ever":             {strings.SplitAfter(typoBook, "\n")[0], map[string]string{"spur": "68", "internal-ratio": "2.5", "tire": "4.65in"}},
		"a letter of the car's in upper": {typoBook, map[string]string{"car": "Heron"}},
	} {
		for _, atTerminal := range []bool{false, true} {
			told, saved := logged(t, c.book, c.typed, atTerminal)
			asked := strings.Contains(told, "yes or no") || !atTerminal && told != ""
			if !saved || asked {
				t.Errorf("%s, at a terminal %v: saved %v, told\n%s", name, atTerminal, saved, told)
			}
		}
	}
}

// At a terminal, an answer that can't be or is not meant is asked for again, and the others stay.
func TestAnswersAreAskedForAgain(t *testing.T) {
	folder, path := newBookFolder(t)
	keep(t, folder, "book.csv", typoBook)
	for _, answers := range []string{"17F\n\n\n\n172F\n", "172C\n\n\n\nno\n172F\n", "78F\n\n\n\n\n172F\n"} {
		keep(t, folder, "book.csv", typoBook)
		var out, errOut bytes.Buffer
		env := &environment{out: &out, errOut: &errOut, getenv: os.Getenv, now: fixedNow}
		flags := runFlags{given: map[string]string{"car": "heron", "pinion": "16", "spur": "68", "internal-ratio": "2.5", "tire": "118mm", "minutes": "12", "ambient": "75F"}}
		if err := flags.log(env, newAsker(strings.NewReader(answers), &errOut)); err != nil {
			t.Errorf("%q: %v\n%s", answers, err, errOut.String())
		}
		if book := read(t, path); strings.Count(book, "\n") != strings.Count(typoBook, "\n")+1 || !strings.Contains(book, ",77.7778,") { // 172 °F
			t.Errorf("%q: the book is\n%s", answers, book)
		}
	}
}

// An edit is judged as a new run is, beside the other runs, by what was entered alone.
func TestEditsAreJudged(t *testing.T) {
	odd := typoBook + "2026-05-17T15:00,heron,16,68,2.5,118,23,75,130,53,40,4\n"
	for _, c := range []struct {
		run, flag, text, says string
		refused               bool
	}{
		{"1", "note", "gusts", "", false},
		{"6", "note", "hot, and long, and meant", "", false},
		{"6", "minutes", "74", "is a run of 1.233 hours", false}, // its own 75 minutes don't make it usual
		{"1", "motor-peak", "180F", "", false},
		{"1", "motor-peak", "180C", `--motor-peak: "180C": is very hot`, false},
		{"1", "motor-peak", "17F", `--motor-peak: "17F": is below the air of 22 °C`, true},
		{"1", "spur", "86", `--spur: "86": is a spur that this car has not run before`, false},
		{"1", "pinion", "70", `--pinion: "70": is more than the 68 teeth of the spur`, true},
		{"1", "date", "2026-05-16T11:28", `--date: "2026-05-16T11:28": overlaps the run that ended at 11:30`, false},
		{"1", "date", "2026-05-16T10:52", "", false},
	} {
		folder, path := newBookFolder(t)
		keep(t, folder, "book.csv", odd)
		got := regear(t, "", "edit", c.run, "--"+c.flag+"="+c.text)
		if refused := got.exit == exitFailed; refused != c.refused || (read(t, path) == odd) != c.refused || !strings.Contains(got.stderr, c.says) || c.says == "" && got.stderr != "" {
			t.Errorf("run %s, %s %s: exit %d, told\n%s", c.run, c.flag, c.text, got.exit, got.stderr)
		}
	}
}

// Bare numbers are in the units that a driver keeps to, and in none where nobody said.
func TestUnitsOfBareNumbers(t *testing.T) {
	bare := []string{"log", "--car", "heron", "--pinion", "16", "--spur", "68", "--internal-ratio", "2.5", "--minutes", "12"}
	us := append(bare, "--tire", "4.65", "--ambient", "75", "--motor-peak", "172")
	metric := append(bare, "--tire", "118", "--ambient", "24", "--motor-peak", "78")
	folder := t.TempDir()
	for name, text := range map[string]string{"us": `units = "us"`, "metric": `units = "metric"`, "none": ""} {
		keep(t, folder, name, text+"\n")
	}
	for _, c := range []struct {
		cars string
		args []string
		want string // in the book: tire, air, minutes, motor
	}{
		{"none", append(us, "--units", "us"), "118.11,23.8889,12,77.7778"},
		{"us", us, "118.11,23.8889,12,77.7778"},
		{"us", append(metric, "--units", "metric"), "118,24,12,78"},
		{"metric", metric, "118,24,12,78"},
		{"us", append(bare, "--tire", "118mm", "--ambient", "24C", "--motor-peak", "78C"), "118,24,12,78"}, // a unit that was typed counts
	} {
		_, book := newBookFolder(t)
		t.Setenv(carsVariable, filepath.Join(folder, c.cars))
		mustRun(t, "", c.args...)
		if got := read(t, book); !strings.Contains(got, ","+c.want+",") {
			t.Errorf("%s: %q: the book is\n%s", c.cars, c.args, got)
		}
	}
	newBookFolder(t)
	t.Setenv(carsVariable, filepath.Join(folder, "none"))
	if got := regear(t, "", us...); got.exit != exitUsage || !strings.Contains(got.stderr, "write 4.65mm or 4.65in, or say --units metric or --units us") {
		t.Errorf("exit %d: %s", got.exit, got.stderr)
	}
}

// The line that names what a first run lacks is a command: once filled in, it logs the run.
func TestFirstRunInOneLine(t *testing.T) {
	_, book := newBookFolder(t)
	got := regear(t, "", "log", "--motor-peak", "76C", "--note", "it's hot")
	_, line, found := strings.Cut(got.stderr, "\n  ")
	if got.exit != exitUsage || !found {
		t.Fatalf("exit %d: %s", got.exit, got.stderr)
	}
	want := `regear log --motor-peak 76C --note 'it'\''s hot' --car NAME --pinion N --spur N --internal-ratio N --tire LENGTH --minutes N --ambient TEMP`
	if line = strings.TrimSpace(line); line != want {
		t.Fatalf("the line is\n%s\nwant\n%s", line, want)
	}
	var args []string
	for _, word := range strings.Fields(strings.ReplaceAll(line, `'it'\''s hot'`, "hot")) {
		filled := map[string]string{"NAME": "heron", "N": "16", "LENGTH": "118mm", "TEMP": "24C"}[word]
		if filled == "" {
			filled = word
		}
		args = append(args, filled)
	}
	mustRun(t, "", args[1:]...)
	if got := regear(t, "", "log", "--car", "heorn", "--motor-peak", "76C"); !strings.Contains(got.stderr, "check the name if it is heron") {
		t.Errorf("a wrong name: %s", got.stderr)
	}
	if text := read(t, book); !strings.Contains(text, "heron,16,16,16,118,24,16,76") {
		t.Errorf("the book is\n%s", text)
	}
}

// A run of tomorrow is refused by an import too, and what is odd in a log is asked about once.
func TestImportJudges(t *testing.T) {
	folder, book := newBookFolder(t)
	header := "date,car,pinion_teeth,spur_teeth,tire_diameter_mm,ambient_c,run_minutes,motor_peak_c\n"
	keep(t, folder, "log.csv", header+"2026-05-16,heron,16,68,118,24,12,78\n2026-05-20,heron,16,68,118,24,12,78\n2026-05-16,heron,68,16,118,24,12,78\n"+
		"2026-05-16,heron,16,68,118,78,12,24\n2026-05-16,heron,16,68,118,24,12,20\n2026-05-16,heron,16,68,118,24,1200,78\n")
	got := mustRun(t, "", "import", filepath.Join(folder, "log.csv"))
	for _, says := range []string{"1 added", "5 refused", `log.csv:3: date: "2026-05-20": lies in the future`, `log.csv:4: pinion_teeth: "68": is more than the 16 teeth`,
		`log.csv:5: ambient_c: "78": is hotter than air`, `log.csv:6: motor_peak_c: "20": is below the air of 24 °C`, `log.csv:7: run_minutes: "1200": is a run of 20 hours`} {
		if !strings.Contains(got, says) {
			t.Errorf("the import does not say %q:\n%s", says, got)
		}
	}
	// What a book holds already stays readable, and writable.
	keep(t, folder, "book.csv", header+"2026-05-16,heron,68,16,118,78,1200,24\n")
	mustRun(t, "", "import", filepath.Join(folder, "log.csv"))
	if text := read(t, book); strings.Count(text, "\n") != 3 || !strings.Contains(text, ",68,16,") {
		t.Errorf("the book is\n%s", text)
	}
}
