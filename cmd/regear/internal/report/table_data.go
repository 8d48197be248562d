package report

import (
	"encoding/csv"
	"io"
	"strconv"
)

// tableColumns are the columns of the table as CSV: a row a pair and tire, or a row a
// pair with the tire blank where none is known.
var tableColumns = []string{
	"pinion_teeth", "spur_teeth", "internal_ratio", "final_drive_ratio", "tire", "tire_diameter_mm", "rollout_mm", "shafts_apart_mm", "mount",
}

// TableCSV writes the table as CSV. A cell without a value is blank.
func TableCSV(w io.Writer, t GearTable, _ Style) error {
	rows := [][]string{tableColumns}
	for _, r := range t.Rows {
		apart := ""
		if r.Pitch.IsKnown() {
			apart = number(decimals(float64(r.Pitch.CentreDistance(r.Pinion, r.Spur)), 3))
		}
		gears := []string{strconv.Itoa(r.Pinion), strconv.Itoa(r.Spur), number(decimals(t.Internal, 6)), number(toRatio(r.Gearing))}
		add := func(name, diameter, rollout string) {
			rows = append(rows, append(append([]string{}, gears...), name, diameter, rollout, apart, t.mount(r)))
		}
		for _, tire := range t.Tires {
			add(plainText(tire.Name), number(decimals(float64(tire.Diameter), 3)), number(decimals(float64(r.Rollout(tire.Diameter)), 3)))
		}
		if len(t.Tires) == 0 {
			add("", "", "")
		}
	}
	return csv.NewWriter(w).WriteAll(rows)
}

type tableJSON struct {
	Schema   int             `json:"schema"`
	Car      string          `json:"car,omitempty"`
	Internal float64         `json:"internal_ratio"`
	Gearings []tableGearJSON `json:"gearings"`
}

type tableGearJSON struct {
	gearsJSON
	Ratio    float64           `json:"final_drive_ratio"`
	Apart    float64           `json:"shafts_apart_mm,omitempty"`
	Mount    string            `json:"mount,omitempty"`
	Rollouts []tireRolloutJSON `json:"rollouts"`
}

type tireRolloutJSON struct {
	Tire     string  `json:"tire,omitempty"`
	Diameter float64 `json:"tire_diameter_mm"`
	Rollout  float64 `json:"rollout_mm"`
}

// TableJSON writes the table as a JSON document of schema 1.
func TableJSON(w io.Writer, t GearTable, _ Style) error {
	doc := tableJSON{Schema: Schema, Car: t.Car, Internal: decimals(t.Internal, 6)}
	for _, r := range t.Rows {
		one := tableGearJSON{
			gearsJSON: gearsJSON{r.Pinion, r.Spur}, Ratio: toRatio(r.Gearing),
			Apart: decimals(float64(r.Pitch.CentreDistance(r.Pinion, r.Spur)), 3), Mount: t.mount(r),
			Rollouts: []tireRolloutJSON{},
		}
		for _, tire := range t.Tires {
			one.Rollouts = append(one.Rollouts, tireRolloutJSON{tire.Name, decimals(float64(tire.Diameter), 3), decimals(float64(r.Rollout(tire.Diameter)), 3)})
		}
		doc.Gearings = append(doc.Gearings, one)
	}
	return writeJSON(w, doc)
}

// mount names whether a pair fits, or nothing where that is not known.
func (t GearTable) mount(r GearRow) string {
	if !t.HasMount {
		return ""
	}
	return reachNames[r.Reach]
}
