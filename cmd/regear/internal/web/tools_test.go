package web_test

import (
	"html"
	"net/http"
	"regexp"
	"strings"
	"testing"
)

// says returns what stands below a field.
func (got page) says(field string) string {
	got.Helper()
	found := regexp.MustCompile(`(?s)id="` + field + `-says">(.*?)</div>`).FindStringSubmatch(got.text)
	if found == nil {
		got.Fatalf("%s: no field %q in:\n%s", got.path, field, got.text)
	}
	return html.UnescapeString(found[1])
}

// What is wrong stands at its field, and the rest of the form is as it was sent.
func TestToolsMarkTheField(t *testing.T) {
	p := newPit(t, "[cars.heron.tires]\nbig = \"130mm\"\n")
	p.importDemo("weekend.csv")
	for path, want := range map[string]struct{ field, says, keeps string }{
		"/rest?motor-now=5&ambient=30":                               {"motor-now", "below the air of 30 °C", `value="30"`},
		"/rest?battery-now=warm&minutes=8":                           {"battery-now", "not a number", `value="8"`},
		"/rest?ambient=300":                                          {"if-ambient", "no air to drive in", `value="300"`},
		"/compare?minutes-1=0&ambient-2=35":                          {"if-minutes-1", "no run's length", `value="35"`},
		"/compare?tire-3=wide&ambient-1=35":                          {"if-tire-3", "it has big", `value="35"`},
		"/start?units=metric&tire=130":                               {"pinion", "which pinion was fitted?", `value="130"`},
		"/start?units=metric&tire=130&pinion=17":                     {"spur", "which spur was fitted?", `value="17"`},
		"/start?units=metric&tire=130&pinion=17&spur=68":             {"from-tire", "which tire was it before?", `value="130"`},
		"/start?units=metric&pinion=17&spur=68":                      {"tire", "which tire?", `value="68"`},
		"/start?units=metric&pinion=17&spur=68&from-tire=118":        {"tire", "nothing changes yet", `value="118"`},
		"/start?units=metric&pinion=17&spur=68&from-tire=1&tire=130": {"from-tire", "", `value="130"`},
		"/start?car=heron&tire=huge":                                 {"tire", "it has big", `value="huge"`},
		"/start?pinion=17&spur=68&tire=118&kv=3000":                  {"from-kv", "and before the change?", `value="3000"`},
		"/start?pinion=17&spur=68&tire=118&from-cells=3":             {"cells", "and after the change?", `value="3"`},
		"/table?pinions=13":                                          {"spurs", "which spurs?", `value="13"`},
		"/table?spurs=68":                                            {"pinions", "which pinions?", `value="68"`},
		"/table?pinions=13&spurs=68&tire-1=118&tire-2=huge":          {"tire-2", "no such tire", `value="118"`},
	} {
		got := p.get(path).hasStatus(http.StatusUnprocessableEntity).has(want.keeps, `aria-invalid="true"`, "Mend what is marked below")
		if says := got.says(want.field); !strings.Contains(says, want.says) || !strings.Contains(says, `class="error"`) {
			t.Errorf("%s: at %s stands %q, want %q", path, want.field, says, want.says)
		}
	}
}

// Fields that were sent in other units than are shown keep their unit, and so does what is left
// as it was shown: 118 mm stays 118 mm.
func TestToolsKeepTheirUnits(t *testing.T) {
	p := newPit(t, "")
	p.importDemo("weekend.csv")
	headline := regexp.MustCompile(`<p class="headline">(.*?)</p>`)
	for _, pair := range [][2]string{
		{"/rest?units=metric&motor-now=50", "/rest?units=us&motor-now=122&ambient=80.6"},
		{"/start?car=heron&units=metric&tire=127", "/start?car=heron&units=us&from-tire=4.65&tire=5"},
	} {
		one, other := headline.FindString(p.get(pair[0]).text), headline.FindString(p.get(pair[1]).text)
		if one == "" || one != other {
			t.Errorf("%s says %q, and %s %q", pair[0], one, pair[1], other)
		}
	}
	p.get("/rest?units=us&motor-now=122").has(`value="122F"`)
}

// A car that the car file knows and the log book does not yet has its tires and gears.
func TestToolsOfACarWithoutALog(t *testing.T) {
	p := newPit(t, "[cars.wren]\nspurs = [70]\npinions = [12, 13, 14]\ninternal_ratio = 2\n[cars.wren.tires]\nsmall = \"60mm\"\n")
	p.get("/start").has(`href="/start?car=wren"`)
	p.get("/start?car=wren").has(`value="12-14"`, `value="70"`, `<option value="small">`).lacks("To the advice")
	p.get("/start?car=wren&pinion=14&from-tire=small&tire=65").hasStatus(http.StatusOK).has("Pinion 13 keeps the load", "There is no log to go by")
	p.get("/table?car=wren").hasStatus(http.StatusOK).has("Spur 70", "small 60 mm", "Internal ratio 2.")
	p.get("/rest?car=wren").hasStatus(http.StatusNotFound)
}

// A tire of a rim's size is answered for, and asked about.
func TestToolsAskAboutRimSizes(t *testing.T) {
	p := newPit(t, "")
	p.importDemo("weekend.csv")
	p.get("/start?car=heron&tire=2.8in").hasStatus(http.StatusOK).has("Tire after: 2.8in is a rim size")
	p.get("/compare?tire-1=2.8in").hasStatus(http.StatusOK).has("Tire: 2.8in is a rim size")
	p.get("/table?tire-1=2.8in").hasStatus(http.StatusUnprocessableEntity)
	p.get("/table?car=heron&tire-1=2.8in").hasStatus(http.StatusOK).has("Tire: 2.8in is a rim size")
}
