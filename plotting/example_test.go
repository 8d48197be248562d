package plotting_test

import (
	"bytes"
	"fmt"

	"regear/advise"
	"regear/analyze"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/plotting"
)

func Example() {
	drive := run.Run{Car: "heron", Tire: 118, Ambient: 24, Minutes: 10}
	drive.Gearing.Pinion, drive.Gearing.Spur, drive.Gearing.Internal = 17, 68, 2.5
	drive.Peak.Set(run.Motor, 78)
	car, err := analyze.FitCar([]run.Run{drive})
	if err != nil {
		fmt.Println(err)
		return
	}
	advice, err := advise.For(car, advise.Request{
		Next:       analyze.ConditionsOf(car.Last),
		Gearings:   advise.Pinions(drive.Gearing, []int{15, 16, 17}, []int{68}),
		Confidence: advise.DefaultConfidence,
		Limits:     run.ByPart[advise.Limit]{}.With(run.Motor, advise.Limit{Temperature: 80}),
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	figure, err := plotting.Ratio(advice, run.Motor, units.Metric)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, mark := range figure.Marks {
		fmt.Printf("%s teeth at %.2f\n", mark.Texts[0], mark.X)
	}
	var picture bytes.Buffer
	if err := figure.Write(&picture, plotting.SVG, plotting.DefaultSize); err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(bytes.HasPrefix(picture.Bytes(), []byte("<svg")))
	// Output:
	// 15 teeth at 11.33
	// 16 teeth at 10.62
	// 17 teeth at 10.00
	// true
}
