package analyze_test

import (
	"fmt"
	"time"

	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
)

// weekend is an invented log of one car: three runs of 9 minutes at 22 °C, on two pinions.
func weekend() []run.Run {
	var runs []run.Run
	for i, driven := range []struct {
		pinion int
		motor  units.Celsius
	}{{15, 62}, {15, 65}, {16, 69}} {
		runs = append(runs, run.Run{
			Position: run.Position{File: "weekend.csv", Line: i + 2},
			When:     time.Date(2026, time.May, 2, 10+i, 0, 0, 0, time.UTC), HasTime: true, Car: "heron",
			Gearing: drivetrain.Gearing{Pinion: driven.pinion, Spur: 68, Internal: 2.5}, Tire: 118,
			Ambient: 22, Minutes: 9, Peak: run.Readings{}.With(run.Motor, driven.motor),
		})
	}
	return runs
}

// A car is fitted, and a run on a larger pinion foreseen.
func ExampleFitCar() {
	car, err := analyze.FitCar(weekend())
	if err != nil {
		fmt.Println(err)
		return
	}
	next := analyze.ConditionsOf(car.Last)
	next.Gearing = next.Gearing.WithPinion(17)
	forecast := car.Forecast(next)

	motor := forecast.Part(run.Motor)
	fmt.Printf("motor on %v: %.0f to %.0f °C\n", next.Gearing, float64(motor.Quantile(0.1)), float64(motor.Quantile(0.9)))
	limits := analyze.Limits{}.With(run.Motor, 80)
	fmt.Printf("chance to stay under 80 °C: %.2f\n", forecast.Under(limits).All)
	fmt.Printf("in a run of 15 minutes: %.2f\n", forecast.Lasting(15).Under(limits).All)
	for _, w := range car.Warnings() {
		fmt.Println(w.Code())
	}
	// Output:
	// motor on 17/68 × 2.5: 67 to 82 °C
	// chance to stay under 80 °C: 0.85
	// in a run of 15 minutes: 0.36
	// influential_run
}

// The last runs are foreseen from those before them.
func ExampleLookBack() {
	record, err := analyze.LookBack(weekend(), analyze.Limits{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, part := range record.Parts {
		for _, r := range part.Replays {
			fmt.Printf("%v: %v foreseen at %.0f to %.0f °C, read %.0f °C\n",
				r.Position, r.Part, float64(r.Low), float64(r.High), float64(r.Peak))
		}
	}
	// Output:
	// weekend.csv:3: motor foreseen at 57 to 68 °C, read 65 °C
	// weekend.csv:4: motor foreseen at 61 to 75 °C, read 69 °C
}
