package carfile_test

import (
	"fmt"
	"strings"

	"regear/advise/carfile"
	"regear/analyze/run"
)

// The car is invented.
func ExampleRead() {
	file, err := carfile.Read("cars.toml", strings.NewReader(`
[cars.heron]
spurs = [68]
pinions = [15, 13, 17]

[cars.heron.limits]
motor = "176F"
motor_whose = "the maker's sheet"
battery = "60C"
`))
	if err != nil {
		fmt.Println(err)
		return
	}
	car, _ := file.Of("heron")
	limit := car.Limits.At(run.Motor)
	fmt.Printf("pinions %v, motor under %.0f °C by %s\n", car.Boxes[0].Pinions, limit.Temperature, limit.Whose)
	for _, problem := range file.Check() {
		fmt.Println(problem)
	}

	_, err = carfile.Read("cars.toml", strings.NewReader("[cars.heron]\npinons = [13]\n"))
	fmt.Println(err)
	// Output:
	// pinions [13 15 17], motor under 80 °C by the maker's sheet
	// cars.toml:9: cars.heron.limits.battery: it is not said whose limit this is, add a line such as battery_whose = "the cell's sheet"
	// cars.toml:2: cars.heron.pinons: there is no such key, did you mean pinions, as in pinions = [13, 15, 17]?
}
