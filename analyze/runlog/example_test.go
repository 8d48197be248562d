package runlog_test

import (
	"fmt"
	"os"
	"strings"
	"time"

	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/runlog"
)

// An invented weekend: a decimal comma, a °F column, and one reading that is none.
const weekend = `Date;Pinion teeth;Spur teeth;Tire diameter (mm);Ambient °C;Run minutes;Motor peak (°F)
2026-03-14;15;68;118;21,5;8;151,7
2026-03-14;16;68;118;22;12:30;hot
2026-03-15;17;68;117,5;24;9,25;178,7
`

func ExampleRead() {
	log, err := runlog.Read("weekend.csv", strings.NewReader(weekend), runlog.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(log.Format)
	for _, r := range log.Runs {
		peak, _ := r.Peak.Of(run.Motor)
		fmt.Printf("%v: %v, rollout %.1f mm, motor %.1f °C\n", r.Position, r.Gearing, float64(r.Rollout()), float64(peak))
	}
	for _, p := range log.Problems {
		fmt.Println(p)
	}
	// Output:
	// UTF-8, cells parted by semicolons, decimal commas, LF line ends
	// weekend.csv:2: 15/68, rollout 81.8 mm, motor 66.5 °C
	// weekend.csv:4: 17/68, rollout 92.3 mm, motor 81.5 °C
	// weekend.csv:3: Motor peak (°F): "hot": is not a number, write the reading in °F, or leave the cell blank if none was taken
}

// An invented run, written as a log.
func ExampleWrite() {
	r := run.Run{
		When: time.Date(2026, 3, 14, 15, 4, 0, 0, time.UTC), HasTime: true, Car: "heron",
		Gearing: drivetrain.Gearing{Pinion: 15, Spur: 68, Internal: 2.5}, Tire: 118, Ambient: 21.5, Minutes: 8,
	}
	r.Peak.Set(run.Motor, 66.5)
	if err := runlog.Write(os.Stdout, []run.Run{r}); err != nil {
		fmt.Println(err)
	}
	// Output:
	// date,car,pinion_teeth,spur_teeth,internal_ratio,tire_diameter_mm,ambient_c,run_minutes,motor_peak_c,esc_peak_c,battery_peak_c,motor_start_c,esc_start_c,battery_start_c,stopped_by_heat,cells,motor,surface,cooling,skip,note,run_in_book
	// 2026-03-14T15:04,heron,15,68,2.5,118,21.5,8,66.5,,,,,,,,,,,,,
}
