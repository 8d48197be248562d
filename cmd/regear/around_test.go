package main

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
)

// around lists a command line of each command around the pinion.
var around = [][]string{
	{"start", "--log", weekend, "--tire", "130mm"},
	{"start", "--pinion", "17", "--spur", "68", "--from-tire", "104mm", "--tire", "118mm"},
	{"rest", "--log", weekend, "--start", "motor=45C"},
	{"compare", "--log", weekend, "--next", "ambient=35C"},
	{"table", "--pinions", "13-17", "--spurs", "68", "--tire", "118mm"},
}

// An answer that can't be written is none, in every format; and every JSON document is
// one, of the schema.
func TestAnswersAroundThePinion(t *testing.T) {
	inTopFolder(t)
	for _, args := range around {
		for _, format := range []string{"text", "json"} {
			args := append(append([]string{}, args...), "--format", format)
			var errOut bytes.Buffer
			if exit := run(args, strings.NewReader(""), fullDisk{}, &errOut); exit != exitFailed || !strings.Contains(errOut.String(), errFull.Error()) {
				t.Errorf("%q: exit %d: %s", args, exit, errOut.String())
			}
		}
		got := regear(t, "", append(append([]string{}, args...), "--format", "json")...)
		var doc struct {
			Schema int `json:"schema"`
		}
		if err := json.Unmarshal([]byte(got.stdout), &doc); err != nil || doc.Schema != 1 {
			t.Errorf("%q: schema %d (%v)", args, doc.Schema, err)
		}
	}
}

// compare answers for each run what advise answers for it alone.
func TestCompareIsAdviceSideBySide(t *testing.T) {
	inTopFolder(t)
	got := regear(t, "", "compare", "--log", weekend, "--limit", "motor=80C", "--next", "ambient=35C,minutes=15", "--next", "tire=104mm", "--format", "json")
	var doc struct {
		Runs []struct {
			Advice json.RawMessage `json:"advice"`
		} `json:"next_runs"`
	}
	if err := json.Unmarshal([]byte(got.stdout), &doc); err != nil || len(doc.Runs) != 3 {
		t.Fatalf("%d runs: %v", len(doc.Runs), err)
	}
	for i, flags := range [][]string{nil, {"--ambient", "35C", "--minutes", "15"}, {"--tire", "104mm"}} {
		alone := regear(t, "", append([]string{"advise", "--log", weekend, "--limit", "motor=80C", "--format", "json"}, flags...)...)
		var one, want bytes.Buffer
		if err := json.Compact(&one, doc.Runs[i].Advice); err != nil {
			t.Fatal(err)
		}
		if err := json.Compact(&want, []byte(alone.stdout)); err != nil {
			t.Fatal(err)
		}
		if one.String() != want.String() {
			t.Errorf("%q: compare says %s\nadvise says %s", flags, one.String(), want.String())
		}
	}
}

// start, rest and the table agree with advise on what a gearing is.
func TestStartForeseesWhatAdviseForesees(t *testing.T) {
	inTopFolder(t)
	type gearing struct {
		Pinion  int      `json:"pinion_teeth"`
		Rollout float64  `json:"rollout_mm"`
		Chance  *float64 `json:"probability_under_limits"`
	}
	var start struct {
		Gearings []gearing `json:"gearings"`
	}
	var advice struct {
		Candidates []gearing `json:"candidates"`
	}
	flags := []string{"--log", weekend, "--tire", "130mm", "--ambient", "31C", "--minutes", "9", "--pinions", "12-18", "--format", "json"}
	for name, into := range map[string]any{"start": &start, "advise": &advice} {
		got := regear(t, "", append([]string{name}, flags...)...)
		if err := json.Unmarshal([]byte(got.stdout), into); err != nil {
			t.Fatalf("%s: %v: %s", name, err, got.stderr)
		}
	}
	compared := 0
	for _, s := range start.Gearings {
		for _, a := range advice.Candidates {
			if s.Pinion == a.Pinion {
				compared++
				if s.Rollout != a.Rollout || *s.Chance != *a.Chance {
					t.Errorf("pinion %d: start says %g mm and %g, advise %g mm and %g", s.Pinion, s.Rollout, *s.Chance, a.Rollout, *a.Chance)
				}
			}
		}
	}
	if compared < 3 {
		t.Errorf("only %d gearings were compared", compared)
	}
}
