package logbook_test

import (
	"fmt"
	"strings"

	"regear/analyze/logbook"
	"regear/analyze/runlog"
)

// The runs are invented. The second log has a run that the book has too, one that says
// something else of a moment, and a new one.
func ExampleMerge() {
	const header = "date,car,pinion_teeth,spur_teeth,tire_diameter_mm,ambient_c,run_minutes,motor_peak_c,wind\n"
	var logs []logbook.Contents
	for i, rows := range []string{
		"2026-05-16T10:50,heron,17,68,118,24,12,80,\n2026-05-16T11:30,heron,17,68,118,25,12,82,\n",
		"2026-05-16T10:50,heron,17,68,118,24,12,80,calm\n2026-05-16T11:30,heron,17,68,118,25,12,84,\n2026-05-16T12:10,heron,16,68,118,25,12,77,\n",
	} {
		read, err := logbook.ReadLogs(fmt.Sprintf("log%d.csv", i+1), strings.NewReader(header+rows), runlog.Options{KeepCells: true}, nil)
		if err != nil {
			fmt.Println(err)
			return
		}
		logs = append(logs, logbook.FromLog(read[0]))
	}
	book := logbook.Merge(logbook.Contents{}, logs[:1], logbook.Undecided)
	seen := logbook.Merge(book.Contents, logs[1:], logbook.Undecided)
	for _, c := range seen.Conflicts {
		fmt.Printf("%s and %s: %v\n", c.Kept.Position, c.New.Position, c.Differences)
	}
	decided := logbook.Merge(book.Contents, logs[1:], logbook.Replace)
	fmt.Printf("%d runs, %+v\n", len(decided.Entries), decided.Tallies[0])
	// Output:
	// log1.csv:3 and log2.csv:3: [{motor_peak_c 82 84}]
	// 3 runs, {Added:1 Known:0 Completed:1 Replaced:1 Deleted:0}
}
