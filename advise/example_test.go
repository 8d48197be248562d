package advise_test

import (
	"fmt"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
)

// From three invented runs: which pinion keeps the motor under 70 °C with a chance of 80 %.
func ExampleFor() {
	log := make([]run.Run, 3) // of one day
	for i := range log {
		log[i] = run.Run{
			Car: "heron", Gearing: drivetrain.Gearing{Pinion: 15, Spur: 68, Internal: 2.5}, Tire: 118,
			Ambient: 22, Minutes: 9,
		}
	}
	log[0].Peak.Set(run.Motor, 62)
	log[1].Peak.Set(run.Motor, 65)
	log[2].Peak.Set(run.Motor, 69)
	log[2].Gearing.Pinion = 16
	car, err := analyze.FitCar(log)
	if err != nil {
		fmt.Println(err)
		return
	}
	advice, err := advise.For(car, advise.Request{
		Limits:     run.ByPart[advise.Limit]{}.With(run.Motor, advise.Limit{Temperature: 70}),
		Confidence: advise.DefaultConfidence,
		Gearings:   advise.Pinions(car.Last.Gearing, []int{13, 14, 15, 16}, []int{68}),
		Next:       analyze.ConditionsOf(car.Last),
		MaxStepUp:  advise.DefaultMaxStepUp,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, c := range advice.Candidates {
		fmt.Printf("%v: rollout %.1f mm, chance %.2f\n", c.Gearing, float64(c.Rollout), c.Chance)
	}
	fmt.Println("pick:", advice.Pick.Gearing, advice.Action == advise.GearDown)
	// Output:
	// 13/68 × 2.5: rollout 28.3 mm, chance 0.99
	// 14/68 × 2.5: rollout 30.5 mm, chance 0.98
	// 15/68 × 2.5: rollout 32.7 mm, chance 0.94
	// 16/68 × 2.5: rollout 34.9 mm, chance 0.65
	// pick: 15/68 × 2.5 true
}

// After a change to a taller tire: the pinion that keeps the load on the motor.
func ExampleFirstGearing() {
	start, err := advise.FirstGearing(advise.StartRequest{
		Fitted: drivetrain.Gearing{Pinion: 17, Spur: 68, Internal: 2.5},
		Before: advise.Setup{Tire: 104},
		After:  advise.Setup{Tire: 118},
		Gears:  advise.Gears{Boxes: []drivetrain.Box{{Spurs: []int{68}}}},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.2f teeth would keep a rollout of %.1f mm\n", start.Exact, float64(start.Target))
	fmt.Printf("%v is %+.1f %% from it\n", start.Keep.Gearing, start.Keep.Off*100)
	fmt.Printf("first run: %v\n", start.Careful.Gearing)
	// Output:
	// 14.98 teeth would keep a rollout of 32.7 mm
	// 15/68 × 2.5 is +0.1 % from it
	// first run: 14/68 × 2.5
}
