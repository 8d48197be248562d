package web_test

import (
	"fmt"
	"net/http"
	"net/url"
	"os"
	"strings"
	"sync"
	"testing"

	"regear/analyze"
	"regear/analyze/run"
)

func TestRunIsLoggedAndAdvised(t *testing.T) {
	p := newPit(t, "")
	p.get("/").has("The log book is empty")
	got := p.saves(aRun(p.form("/log"), "84")).has("Saved: heron, 2026-05-30 15:04", "17/68", "What if")
	if !strings.HasPrefix(got.path, "/advice?car=heron&saved=") {
		t.Errorf("a saved run leads to %s", got.path)
	}
	if runs := p.runs(); len(runs) != 1 || runs[0].Minutes != 12 {
		t.Fatalf("the book holds %v", runs)
	}
	// Under a link that claims a run which the book lacks, nothing is claimed.
	p.get("/advice?car=heron&saved=2020-01-01").lacks("Saved")
}

func TestUntouchedFieldsStoreTheLastRunExactly(t *testing.T) {
	p := newPit(t, "")
	p.post("/log", aRun(p.form("/log"), "84"))
	// 118 mm stand as 4.65 in, which is 118.11 mm.
	p.post("/units", url.Values{"show": {"us"}, "back": {"/log"}})
	form := p.form("/log?car=heron")
	if form.Get("tire") != "4.65" {
		t.Fatalf("the tire stands as %q in inches", form.Get("tire"))
	}
	p.saves(aRun(form, "176", "minutes", "10", "ambient", "71,6"))
	kept := p.runs()[1]
	motor, _ := kept.Peak.Of(run.Motor)
	if kept.Tire != 118 || kept.Ambient != 22 || motor != 80 || kept.Gearing.Pinion != 17 {
		t.Errorf("stored: tire %v, air %v, motor %v, %v", kept.Tire, kept.Ambient, motor, kept.Gearing)
	}
}

func TestFormSentTwiceIsOneRun(t *testing.T) {
	p := newPit(t, "")
	form := aRun(p.form("/log"), "84")
	first, second := p.post("/log", form), p.post("/log", form)
	if first.path != second.path || len(p.runs()) != 1 {
		t.Errorf("a second tap leads to %s instead of %s; %d runs", second.path, first.path, len(p.runs()))
	}
	// The same values from a form of its own are another run.
	p.post("/log", aRun(p.form("/log?car=heron"), "84"))
	p.hasRuns(2)
}

func TestStalePageSaysSoAndKeepsWhatWasTyped(t *testing.T) {
	p := newPit(t, "")
	p.post("/log", aRun(p.form("/log"), "84"))
	here, there := p.form("/log?car=heron"), p.form("/log?car=heron")
	p.saves(aRun(there, "70", "pinion", "15"))

	got := p.post("/log", aRun(here, "83.5")).
		has("Not saved yet", "has changed since", "Pinion, teeth: 15 in the newest run, 17 here", `value="83.5"`)
	p.hasRuns(2)
	p.saves(formOf(got))
	p.hasRuns(3)
}

func TestRefusedRunShowsWhatIsWrong(t *testing.T) {
	p := newPit(t, "")
	for entered, says := range map[[2]string]string{
		{"pinion", ""}:         "is needed",
		{"minutes", "soon"}:    "soon",
		{"pinion", "84C"}:      "whole number",
		{"motor-peak", ""}:     "how hot at least one part got",
		{"motor-peak", "-400"}: "absolute zero",
		// What nobody can have read is refused beside its field.
		{"motor-peak", "1470F"}: "is no temperature of air or parts: check the reading and the unit",
		{"car", " "}:            "is needed",
	} {
		p.post("/log", aRun(p.form("/log"), "84", entered[0], entered[1])).hasStatus(http.StatusUnprocessableEntity).
			has("Not saved yet", says, `value="`+strings.TrimSpace(entered[1])+`"`)
		p.hasRuns(0)
	}
}

func TestImplausibleRunIsSavedOnceConfirmed(t *testing.T) {
	p := newPit(t, "")
	p.post("/log", aRun(p.form("/log"), "122")).has("Motor: 122 is very hot, check the reading and the unit.")
	got := p.post("/log", aRun(p.form("/log"), "184")).has("is this right?", "184", "Save as it is")
	p.hasRuns(0)
	// What was not confirmed is asked about anew.
	got = p.post("/log", aRun(formOf(got), "190")).has("is this right?", "190")
	p.saves(formOf(got))
	p.hasRuns(1)
}

// What can't be is refused beside its field, and what is odd beside the car's earlier runs is asked
// about, in the unit that is shown.
func TestTypingErrorsOnThePage(t *testing.T) {
	p := newPit(t, "")
	p.saves(aRun(p.form("/log"), "84", "date", "2026-05-30T10:00"))
	p.post("/units", url.Values{"show": {"us"}, "back": {"/log"}})
	usual := []string{"minutes", "12", "ambient", "75"}
	p.saves(aRun(p.form("/log?car=heron"), "180", usual...))
	for _, c := range []struct {
		motor   string
		typed   []string
		refused bool
		says    string
	}{
		{"1470", nil, true, "is no temperature of air or parts: check the reading and the unit"},
		{"17", nil, true, "is below the air of 75 °F, so no fit can use it, check both readings and their units"},
		{"180", []string{"ambient", "175"}, true, "is hotter than air to drive in"},
		{"180", []string{"minutes", "1200"}, true, "is a run of 20 hours"},
		{"180", []string{"pinion", "68", "spur", "17"}, true, "is more than the 17 teeth of the spur"},
		{"180", []string{"date", "2027-05-30T10:00"}, true, "lies in the future"},
		{"280", nil, false, "Motor: 280 is very hot, check the reading and the unit."},
		{"82", nil, false, "Motor: 82 is outside "},
		{"180", []string{"spur", "86"}, false, "Spur, teeth: 86 is a spur that this car has not run before, check its teeth."},
		{"180", []string{"ambient", "45"}, false, "Air: 45 is far from the air of the day&#39;s other runs, 71.6 to 75 °F"},
		{"180", []string{"date", "2026-05-30T10:04"}, false, "When it ended: 2026-05-30T10:04 overlaps the run that ended at 10:00"},
	} {
		form := aRun(p.form("/log?car=heron"), c.motor, append(usual, c.typed...)...)
		got := p.post("/log", form).hasStatus(http.StatusUnprocessableEntity).has("Not saved yet", c.says)
		p.hasRuns(2)
		if asked := strings.Contains(got.text, "Save as it is"); asked == c.refused {
			t.Errorf("%v: asked about is %v", form, asked)
		}
	}
	p.post("/log", aRun(p.form("/log?new=car"), "180", "car", "heorn", "tire", "4.65", "ambient", "75")).has("The car&#39;s name: heorn is a new car, check the name if it is heron.")
}

func TestSameMomentWithOtherValuesIsRefused(t *testing.T) {
	p := newPit(t, "")
	const moment = "2026-05-16T10:50"
	p.saves(aRun(p.form("/log?new=car"), "84", "date", moment))
	p.post("/log", aRun(p.form("/log?new=car"), "80", "date", moment)).has("at that moment with other values", `value="80"`)
	p.hasRuns(1)
}

func TestManyPhonesLoseNothing(t *testing.T) {
	const phones, each = 50, 3
	p := newPit(t, "")
	var all sync.WaitGroup
	for phone := range phones {
		all.Go(func() {
			for run := range each {
				form := aRun(p.form("/log?new=car"), fmt.Sprint(60+run),
					"car", fmt.Sprintf("car %d", phone%7), "note", fmt.Sprintf("phone %d run %d", phone, run))
				if got := p.post("/log", form); got.status != http.StatusOK || !strings.HasPrefix(got.path, "/advice") {
					t.Errorf("phone %d: %d %s", phone, got.status, got.path)
				}
			}
		})
	}
	all.Wait()
	notes := map[string]int{}
	for _, kept := range p.runs() {
		notes[kept.Note]++
	}
	if len(notes) != phones*each {
		t.Errorf("%d of %d runs are in the book", len(notes), phones*each)
	}
	for note, n := range notes {
		if n != 1 {
			t.Errorf("%s is there %d times", note, n)
		}
	}
}

func TestCarFileFillsTheFirstRun(t *testing.T) {
	p := newPit(t, "[cars.heron]\ninternal_ratio = 2.5\ncells = 4\nspurs = [68]\n")
	form := p.form("/log")
	if form.Get("car") != "heron" || form.Get("spur") != "68" || form.Get("internal-ratio") != "2.5" {
		t.Errorf("the form stands at %v", form)
	}
}

func TestBookThatCanNotBeWrittenKeepsWhatWasTyped(t *testing.T) {
	p := newPit(t, "")
	p.post("/log", aRun(p.form("/log"), "84"))
	form := aRun(p.form("/log?car=heron"), "77.5", "minutes", "9")
	// A row is broken in an editor meanwhile.
	text, err := os.ReadFile(p.book.Path)
	if err != nil {
		t.Fatal(err)
	}
	broken := append(text, "2026-05-16T16:00,heron,many,68\n"...)
	if err := os.WriteFile(p.book.Path, broken, 0o644); err != nil {
		t.Fatal(err)
	}
	p.post("/log", form).has("Not saved yet", "mend or delete them first", "log book:3: has 4 cells under 22 headers", `value="77.5"`, `value="9"`)
	p.get("/").has("log book:3")
	if left, err := os.ReadFile(p.book.Path); err != nil || string(left) != string(broken) {
		t.Errorf("the book is\n%s", left)
	}

	if err := os.WriteFile(p.book.Path, text, 0o644); err != nil {
		t.Fatal(err)
	}
	p.saves(form)
}

// 2.2 in is what the trade calls a rim (common practice, no source): the form asks whether it
// is meant, saves it once that is said, and never asks again of the same car.
func TestRimSizeIsAskedAbout(t *testing.T) {
	p := newPit(t, "")
	got := p.post("/log", aRun(p.form("/log"), "84", "tire", "2.2in")).
		has("Not saved yet: is this right?", "Tire: 2.2in is a rim size, measure across the rubber.")
	p.hasRuns(0)
	p.saves(formOf(got))
	p.hasRuns(1)
	p.saves(aRun(p.form("/log?car=heron"), "80", "pinion", "16"))
	// A diameter in mm is asked about nowhere.
	p.saves(aRun(p.form("/log?car=heron"), "80", "pinion", "15", "tire", "66.04"))
	p.get("/advice?car=heron&tire=2.2in").has("Tire: 2.2in is a rim size, measure across the rubber.")
	p.get("/api/advice?car=heron&tire=2.2in").has("looks_implausible", "is a rim size")
	p.get("/advice?car=heron&tire=104mm").lacks("rim size")
}

// A note that tells of a heat stop is asked about, in the words of the form.
func TestNoteOfAHeatStopIsAskedAbout(t *testing.T) {
	p := newPit(t, "")
	got := p.post("/log", aRun(p.form("/log"), "84", "note", "ESC thermal shutdown")).
		has("Note: ESC thermal shutdown reads like a heat stop, if heat ended this run, tick “Heat cut the run short”.")
	p.saves(aRun(formOf(got), "84", "stopped-by-heat", "yes"))
	if runs := p.runs(); len(runs) != 1 || !runs[0].StoppedByHeat {
		t.Errorf("the book holds %v", runs)
	}
}

// A saved reading stands beside what the earlier runs foresaw of it, and one that next to no such
// run gives is asked about first.
func TestReadingMeetsItsForecast(t *testing.T) {
	p := newPit(t, "")
	p.saves(aRun(p.form("/log"), "84", "date", "2026-05-30T10:00")).lacks("foreseen")
	foreseen, err := analyze.Foresee(p.runs(), &p.runs()[0])
	if err != nil || len(foreseen) != 1 {
		t.Fatalf("%v, %v", foreseen, err)
	}
	says := fmt.Sprintf("Motor: foreseen %.0f–%.0f, read ", foreseen[0].Quantile(0.1), foreseen[0].Quantile(0.9))
	again := func(motor string) page { return p.post("/log", aRun(p.form("/log?car=heron"), motor)) }
	again("85").has(says + "85: inside.")
	p.post("/undo", url.Values{"mark": {again("90").hidden("mark")}})
	again("115").has("Not saved yet: is this right?", "99 of 100")
	again(fmt.Sprintf("%.0f", foreseen[0].Quantile(0.02))).has(": cooler.")
	again(fmt.Sprintf("%.0f", foreseen[0].Quantile(0.985))).has(": hotter.")
	p.hasRuns(4)
}

// Switching the units keeps what was typed, in the units in which it was typed.
func TestSwitchingUnitsKeepsWhatWasTyped(t *testing.T) {
	p := newPit(t, `cars.heron.tires.big = "125mm"`)
	p.saves(aRun(p.form("/log"), "84"))
	form := aRun(p.form("/log?car=heron"), "81.5", "pinion", "16", "tire", "big", "minutes", "12:30", "note", "gusts", "skip", "yes", "stopped-by-heat", "")
	form.Set("show", "us")
	got := p.post(p.get("/log?car=heron").attribute("formaction", "/units"), form).
		has(`value="81.5 °C"`, `value="12:30"`, `value="gusts"`, `name="tire" value="big" checked`, `name="skip" value="yes" checked`, "Show °C and mm")
	if form, again := form.Get("form"), formOf(got).Get("form"); form != again {
		t.Errorf("form %s became form %s", form, again)
	}
	p.saves(formOf(got))
	saved := p.runs()[1]
	motor, _ := saved.Peak.Of(run.Motor)
	if motor != 81.5 || saved.Gearing.Pinion != 16 || saved.Tire != 125 || saved.Minutes != 12.5 || saved.Ambient != 22 || !saved.Skip || saved.Note != "gusts" {
		t.Errorf("saved %+v", saved)
	}

	form = p.form("/run?number=1")
	form.Set("show", "metric")
	form.Set("motor-peak", "182")
	p.post(p.get("/run?number=1").attribute("formaction", "/units"), form).has(`value="182 °F"`, `name="ambient" value="22"`)

	p.post("/units", url.Values{"show": {"metric"}, "back": {"/"}})
	shown := p.get("/car?car=heron")
	p.post(shown.attribute("formaction", "/units"), url.Values{"show": {"us"}, "units": {"metric"}, "seen": {shown.hidden("seen")}, "car": {"heron"},
		"motor-limit": {"85"}, "motor-whose": {"own choice"}, "pinions": {"15", "16"}, "tire-1-name": {"big"}, "tire-1-size": {"125"}}).
		has(`value="85 °C"`, `value="own choice" checked`, `value="15" checked`, `value="4.92"`)
}

// The form offers the last pinion and the one that is advised, and the tires by their names.
func TestFormKnowsTheAdvice(t *testing.T) {
	p := newPit(t, `cars.heron.tires.big = "125mm"`)
	p.saves(aRun(p.form("/log"), "71", "date", "2026-05-30T10:00"))
	p.saves(aRun(p.form("/log?car=heron"), "70"))
	pick := p.advised("heron").Pick.Gearing
	if pick.Pinion == 17 {
		t.Fatal("the pick is the last pinion")
	}
	advised := fmt.Sprint(pick.Pinion)
	got := p.get("/log?car=heron").has(`value="17" checked>17 as last time`, `value="`+advised+`">`+advised+` as advised`, "118 mm as last time", "big, 125 mm",
		`name="ambient" value="22"`, `name="minutes" value="12"`)
	p.saves(aRun(formOf(got), "66", "pinion", advised, "tire", "big"))
	if saved := p.runs()[2]; saved.Gearing != pick || saved.Tire != 125 {
		t.Errorf("saved %+v", saved)
	}
	// Another pinion than those is typed.
	p.saves(aRun(p.form("/log?car=heron"), "76", "pinion", "", "tire", "118", "pinion-other", "18"))
	if saved := p.runs()[3]; saved.Gearing.Pinion != 18 {
		t.Errorf("saved %+v", saved)
	}
	// The air and the minutes of another day say nothing.
	p.saves(aRun(p.form("/log?new=car"), "84", "car", "gull", "date", "2026-05-29T10:00"))
	p.get("/log?car=gull").has(`name="ambient" value="22"`, `name="minutes" value=""`)
}
