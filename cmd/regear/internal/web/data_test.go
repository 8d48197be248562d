package web_test

import (
	"encoding/json"
	"net/http"
	"os"
	"strings"
	"testing"

	"regear/analyze/runlog"
)

func (p *pit) importDemo(name string) {
	p.Helper()
	text, err := os.ReadFile("../../../../testdata/demo/" + name)
	if err != nil {
		p.Fatal(err)
	}
	p.send(map[string]string{name: string(text)}, map[string]string{"do": "import"}).has(p.T, "added")
}

func TestDataOfTheAPI(t *testing.T) {
	p := newPit(t, "")
	p.importDemo("weekend.csv")
	var advice struct {
		Schema         int
		Car            string
		Limits         map[string]float64 `json:"limits_c"`
		Recommendation struct {
			Action string
			Pinion int `json:"pinion_teeth"`
		}
		Candidates []struct {
			Pinion int `json:"pinion_teeth"`
		}
	}
	got := p.get("/api/advice?limit=motor%3D80C&limit=battery%3Dnone&ambient=86F&minutes=12&pinions=13-18&confidence=0.9")
	if err := json.Unmarshal([]byte(got.text), &advice); err != nil || got.status != http.StatusOK {
		t.Fatalf("%d: %v:\n%s", got.status, err, got.text)
	}
	if advice.Schema != 1 || advice.Car != "heron" || advice.Limits["motor"] != 80 || len(advice.Candidates) != 6 {
		t.Errorf("the answer is %+v", advice)
	}
	if _, judged := advice.Limits["battery"]; judged {
		t.Error("the battery is judged")
	}
	for path, status := range map[string]int{
		"/api/advice?car=nobody":     http.StatusNotFound,
		"/api/advice?ambient=30":     http.StatusUnprocessableEntity, // no unit
		"/api/advice?ambeint=30C":    http.StatusUnprocessableEntity,
		"/api/runs?pinion=many":      http.StatusUnprocessableEntity,
		"/api/advice?limit=wheel=9C": http.StatusUnprocessableEntity,
	} {
		var fault struct{ Error string }
		got := p.get(path)
		if err := json.Unmarshal([]byte(got.text), &fault); err != nil || got.status != status || fault.Error == "" {
			t.Errorf("%s: %d: %v:\n%s", path, got.status, err, got.text)
		}
	}
	if got := p.post("/api/runs", nil); got.status != http.StatusMethodNotAllowed || !strings.Contains(got.text, `"error"`) {
		t.Errorf("the data takes a post: %d", got.status)
	}
}

func TestRunsLeaveAsTheyAre(t *testing.T) {
	p := newPit(t, "")
	p.importDemo("season.csv")
	log, err := runlog.Read("runs.csv", strings.NewReader(p.get("/runs.csv").text), runlog.Options{})
	if err != nil || len(log.Problems) > 0 {
		t.Fatal(err, log.Problems)
	}
	kept := p.runs()
	if len(log.Runs) != len(kept) {
		t.Fatalf("%d of %d runs leave", len(log.Runs), len(kept))
	}
	for i := range kept {
		log.Runs[i].Position = kept[i].Position
		if log.Runs[i] != kept[i] {
			t.Errorf("%v leaves as %v", kept[i], log.Runs[i])
		}
	}
}

func TestEveryViewOfACar(t *testing.T) {
	p := newPit(t, "")
	p.importDemo("season.csv")
	for path, says := range map[string]string{
		"/":                                  "Go down",
		"/advice?car=heron":                  "The motor decides",
		"/advice":                            "The motor decides", // the only car
		"/advice?car=heron&minutes=5":        "As you said: 5 min",
		"/advice?car=heron&ambient=27":       "As in the last run: 12 min, air of 27 °C", // as it stands anyway
		"/advice?car=heron&minutes=x":        "Mend what is marked",
		"/advice?car=heron&confidence=100":   "above 0 and below 100",
		"/advice?car=heron&confidence=95":    "still reaches 95 %",
		"/advice?car=heron&limit-motor=none": "The ESC decides",
		"/advice?car=heron&tire=wide":        "car file",
		"/fit?car=heron":                     "to the power",
		"/hindsight?car=heron":               "range held",
		"/runs?car=heron":                    "first outing of the year",
		"/runs?car=heron&pinion=17":          "17/68",
		"/runs?since=soon":                   "write a day",
		"/report?car=heron":                  "How to read this",
		"/report?car=heron&minutes=5":        "5 min",
		"/log?car=heron":                     `value="68"`,
		"/advice?car=nobody":                 "no run of a car",
		"/nowhere":                           "leads nowhere",
	} {
		got := p.get(path)
		// Numbers hold on to their units in HTML.
		got.text = strings.ReplaceAll(got.text, "\u00a0", " ")
		got.has(t, says)
	}
}

func TestBrokenCarFileLeavesRunsToBeLogged(t *testing.T) {
	p := newPit(t, "[cars.heron]\ninternal = many\n")
	got := p.post("/log", aRun(p.form("/log"), "84"))
	got.has(t, "Saved: heron", "The car file can&#39;t be read")
	if n := len(p.runs()); n != 1 {
		t.Fatalf("%d runs", n)
	}
	p.get("/").has(t, "mend it on the computer")
	p.get("/log?car=heron").has(t, "nothing is taken from it", `value="17"`)
	p.get("/runs").has(t, "17/68")
	if got := p.get("/api/advice"); got.status != http.StatusInternalServerError || !strings.Contains(got.text, "cars.toml") {
		t.Errorf("the data say %d %s", got.status, got.text)
	}
}

// The report's hindsight judges by the limits that its answer does.
func TestReportJudgesByTheLimitsThatAreAsked(t *testing.T) {
	p := newPit(t, "")
	p.importDemo("season.csv")
	const missed = "0 % to 20 %" // chances stated of runs that hardly stay under a limit
	for limits, want := range map[string]bool{"": true, "&limit-motor=200&limit-esc=200&limit-battery=200": false} {
		got := strings.ReplaceAll(p.get("/report?car=heron"+limits).text, "\u00a0", " ")
		if strings.Contains(got, missed) != want {
			t.Errorf("limits %q: a forecast of %s is told: %v", limits, missed, !want)
		}
	}
}
