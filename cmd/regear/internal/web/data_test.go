package web_test

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"testing"

	"regear/advise/carfile"
	"regear/analyze/runlog"
)

func (p *pit) importDemo(name string) {
	p.Helper()
	text, err := os.ReadFile("../../../../testdata/demo/" + name)
	if err != nil {
		p.Fatal(err)
	}
	p.imports(name, string(text)).has("added")
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
	const noUnit = "/api/advice?ambient=30"
	for _, path := range []string{noUnit, "/api/advice?ambeint=30C", "/api/runs?pinion=many", "/api/advice?limit=wheel=9C"} {
		var problem struct{ Error string }
		got := p.get(path).hasStatus(http.StatusUnprocessableEntity)
		if err := json.Unmarshal([]byte(got.text), &problem); err != nil || problem.Error == "" {
			t.Errorf("%s: %v:\n%s", path, err, got.text)
		}
	}
	p.get("/api/advice?car=nobody").hasStatus(http.StatusNotFound).has(`"error"`)
	p.post("/api/runs", nil).hasStatus(http.StatusMethodNotAllowed).has(`"error"`)
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

func TestEveryPageOfACar(t *testing.T) {
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
		"/rest?car=heron":                    "from cold",
		"/rest?motor-now=60":                 "as warm as it is now",
		"/rest?minutes=6&limit-motor=90":     `name="limit-motor" value="90"`, // what was asked under What if is kept
		"/rest?limit-motor=x":                "correct it on the advice page",
		"/compare":                           "up to three others",
		"/compare?ambient-1=35&tire-3=104":   "air 35 °C",
		"/compare?minutes-2=0":               "Mend what is marked",
		"/compare?tire-2=wide":               "car file",
		"/compare?pinions=x&ambient-1=35":    "correct it on the advice page",
		"/start?car=heron&tire=130":          "keeps the load",
		"/start?car=heron&units=metric":      "nothing changes yet",
		"/start?car=nobody&units=metric":     "which pinion was fitted?",
		"/table?car=heron":                   "Spur 68",
		"/table?car=heron&spurs=1-":          "write numbers of teeth",
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
		p.get(path).has(says)
	}
}

func TestBrokenCarFileLeavesRunsToBeLogged(t *testing.T) {
	p := newPit(t, "[cars.heron]\ninternal = many\n")
	p.get("/log").has("nothing is taken from it")
	p.post("/log", aRun(p.form("/log"), "84")).has("Saved: heron", "The car file can&#39;t be read")
	p.hasRuns(1)
	p.get("/").has("mend it on the computer")
	p.get("/log?car=heron").has("nothing is taken from it", `value="17"`)
	p.get("/log?new=car").has("nothing is taken from it")
	p.get("/runs").has("17/68")
	p.get("/api/advice").hasStatus(http.StatusInternalServerError).has("cars.toml")
}

// Every car of a page is answered for by the same car file, though it may change meanwhile.
func TestCarFileIsReadOnceForAPage(t *testing.T) {
	p := newPit(t, "")
	for _, car := range []string{"heron", "gull", "crane"} {
		p.saves(aRun(p.form("/log?new=car"), "84", "car", car))
	}
	site := newSite(p.book, "")
	read, times := site.Cars, 0
	site.Cars = func() (*carfile.File, error) { times++; return read() }
	for _, path := range []string{"/", "/advice?car=gull", "/log?car=gull", "/log"} {
		times = 0
		site.Handler().ServeHTTP(httptest.NewRecorder(), httptest.NewRequest("GET", path, nil))
		if times != 1 {
			t.Errorf("%s: read %d times", path, times)
		}
	}
}

// The report's hindsight judges by the limits that its answer does.
func TestReportJudgesByTheLimitsThatAreAsked(t *testing.T) {
	p := newPit(t, "")
	p.importDemo("season.csv")
	const missed = "0 % to 20 %" // chances stated of runs that hardly stay under a limit
	p.get("/report?car=heron").has(missed)
	p.get("/report?car=heron&limit-motor=200&limit-esc=200&limit-battery=200").lacks(missed)
}

// The file of chosen runs holds those that the page lists, whatever the units of what was typed, and
// a name that no filter has is refused, as it would silently not count.
func TestFileOfChosenRuns(t *testing.T) {
	p := newPit(t, "")
	p.imports("a.csv", "date,car,pinion_teeth,spur_teeth,internal_ratio,tire_diameter_mm,ambient_c,run_minutes,motor_peak_c,surface\n"+
		"2026-05-16T10:50,heron,17,68,2.5,118,22,12,84,grass\n"+
		"2026-05-16T11:30,heron,16,68,2.5,118,24,12,78,clay\n"+
		"2026-05-17T11:30,heron,16,68,2.5,104,24,12,71,Grass\n")
	for query, want := range map[string][]string{
		"tire=118":                  {",84,", ",78,"},
		"units=us&tire=4.65":        {",84,", ",78,"}, // 118.11 mm, by the definition of the inch
		"surface=grass":             {",84,", ",71,"},
		"last=1":                    {",71,"},
		"tire=118&surface=grass":    {",84,"},
		"since=2026-05-17&tire=104": {",71,"},
	} {
		got := p.get(p.get("/runs?car=heron&"+query).attribute("href", "/runs.csv"))
		if rows := strings.Count(got.text, ",heron,"); rows != len(want) {
			t.Errorf("%s: %d runs in\n%s", query, rows, got.text)
		}
		got.has(want...)
	}
	p.get("/runs.csv?surfaces=grass").hasStatus(http.StatusUnprocessableEntity)
}
