package run_test

import (
	"fmt"

	"regear/analyze/drivetrain"
	"regear/analyze/run"
)

// An invented run: 15 teeth on 68, an internal ratio of 2.5, a tire of 118 mm.
func ExampleRun() {
	r := run.Run{Gearing: drivetrain.Gearing{Pinion: 15, Spur: 68, Internal: 2.5}, Tire: 118}
	r.Peak.Set(run.Motor, 66.5)
	for part, peak := range r.Peak.All() {
		fmt.Printf("%v: %.1f °C at a rollout of %.1f mm\n", part, float64(peak), float64(r.Rollout()))
	}
	// Output: motor: 66.5 °C at a rollout of 32.7 mm
}

// The command line and a page word a remedy each in its own terms.
func ExampleProblem_Worded() {
	p := run.Problem{
		Position: run.Position{File: "club.csv", Line: 1}, Value: "Motor peek (°C)", What: "is not a column that is read",
		Do:     "if it is motor_peak_c, rename it",
		Remedy: run.Remedy{Kind: run.MapColumn, Header: "Motor peek (°C)", Column: "motor_peak_c"},
	}
	fmt.Println(p)
	fmt.Println(p.Worded(func(r run.Remedy) string { return "choose what “" + r.Header + "” means below" }))
	// Output:
	// club.csv:1: "Motor peek (°C)": is not a column that is read, if it is motor_peak_c, rename it
	// club.csv:1: "Motor peek (°C)": is not a column that is read, choose what “Motor peek (°C)” means below
}
