package report

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"regear/advise"
	"regear/advise/carfile"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/document"
)

func tabled(t GearTable, u units.System) document.Document { return Table(t, u, AtCommandLine) }

// Table is a table for each spur.
func Table(t GearTable, u units.System, to Reader) document.Document {
	bySpur := map[int][]ask.GearRow{}
	for _, r := range t.Rows {
		bySpur[r.Spur] = append(bySpur[r.Spur], r)
	}
	var doc document.Document
	for _, spur := range slices.Sorted(maps.Keys(bySpur)) {
		doc = append(doc, t.block(spur, bySpur[spur], u))
	}
	return append(doc, document.Paragraph(t.legend(to)))
}

func (t GearTable) block(spur int, rows []ask.GearRow, u units.System) document.Section {
	var columns columnsOf[ask.GearRow]
	columns.add(document.Column{Head: "pinion"}, func(r *ask.GearRow) string { return strconv.Itoa(r.Pinion) })
	columns.add(document.Column{Head: "ratio"}, func(r *ask.GearRow) string { return fixed(r.FinalDriveRatio(), 2) })
	for _, tire := range t.Tires {
		name := strings.TrimSpace(tire.Name + " " + u.Tire(tire.Diameter))
		columns.add(document.Column{Head: name + "\n" + u.LengthUnit() + " a turn", Full: "rollout " + u.LengthUnit() + " on " + name}, func(r *ask.GearRow) string { return u.Rollout(r.Rollout(tire.Diameter)) })
	}
	if t.Pitch.IsKnown() {
		columns.add(document.Column{Head: "shafts\nmm apart"}, func(r *ask.GearRow) string {
			return fixed(float64(r.Pitch.CentreDistance(r.Pinion, r.Spur)), 1)
		})
	}
	if t.HasMount {
		columns.add(remarkColumn, func(r *ask.GearRow) string { return reaches[r.Reach].mark })
	}
	table := tableOf(fmt.Sprintf("Pinions with spur %d", spur), rows, columns)
	table.OnPhone = document.Wraps
	title := fmt.Sprintf("Spur %d", spur)
	for _, r := range rows {
		if !r.Pitch.Meshes(t.Pitch) {
			title = fmt.Sprintf("Spur %d (%v)", spur, r.Pitch)
		}
	}
	return section(fmt.Sprintf("spur-%d", spur), title, table)
}

// reaches are how a pair fits the mount: in JSON, as a mark and as a reason against it.
var reaches = map[drivetrain.Reach]struct{ name, mark, lack string }{
	drivetrain.Inside:   {name: "fits"},
	drivetrain.TooClose: {"too_small", "too small for the mount", exclusions[advise.TooSmallForMount].words},
	drivetrain.TooFar:   {"too_large", "too large for the mount", exclusions[advise.TooLargeForMount].words},
}

func (t GearTable) legend(to Reader) string {
	prose := "Ratio: motor turns for one turn of the wheels."
	if t.NoInternal {
		prose += " No internal ratio was given, so 1 is used: give it " + to.orAbove("with --internal-ratio", "above") + "."
	} else {
		prose += fmt.Sprintf(" Internal ratio %s.", trimmed(t.Internal, 4))
	}
	if len(t.Tires) > 0 {
		prose += " Below each tire: the distance in one motor turn (rollout); longer is taller."
	} else {
		prose += " For the rollout " + to.orAbove("name a tire, as in --tire 118mm", "give a tire above") + "."
	}
	if t.Pitch.IsKnown() {
		prose += fmt.Sprintf(" Shafts apart: of standard gears, %v where not said otherwise.", t.Pitch)
	}
	return prose
}

// rows are the table as CSV: a row a pair and tire, or a row a pair with the tire blank where
// none is known.
func (t GearTable) rows() [][]string {
	rows := [][]string{{
		"pinion_teeth", "spur_teeth", "internal_ratio", "final_drive_ratio", "tire", "tire_diameter_mm", "rollout_mm", "shafts_apart_mm", "mount",
	}}
	for _, r := range t.Rows {
		apart := optional(thousandths(r.Pitch.CentreDistance(r.Pinion, r.Spur)), r.Pitch.IsKnown())
		add := func(name, diameter, rollout any) {
			rows = append(rows, cells(r.Pinion, r.Spur, millionths(t.Internal), tenThousandths(r.FinalDriveRatio()),
				name, diameter, rollout, cell(apart), t.mount(r)))
		}
		for _, tire := range t.Tires {
			add(tire.Name, thousandths(tire.Diameter), thousandths(r.Rollout(tire.Diameter)))
		}
		if len(t.Tires) == 0 {
			add("", "", "")
		}
	}
	return rows
}

type tableJSON struct {
	Schema   int             `json:"schema"`
	Car      string          `json:"car,omitempty"`
	Internal millionths      `json:"internal_ratio"`
	Gearings []tableGearJSON `json:"gearings"`
}

type tableGearJSON struct {
	gearsJSON
	Ratio    tenThousandths    `json:"final_drive_ratio"`
	Apart    thousandths       `json:"shafts_apart_mm,omitempty"`
	Mount    string            `json:"mount,omitempty"`
	Rollouts []tireRolloutJSON `json:"rollouts"`
}

type tireRolloutJSON struct {
	Tire     string      `json:"tire,omitempty"`
	Diameter thousandths `json:"tire_diameter_mm"`
	Rollout  thousandths `json:"rollout_mm"`
}

func (t GearTable) json() tableJSON {
	doc := tableJSON{Schema: Schema, Car: t.Car, Internal: millionths(t.Internal)}
	for _, r := range t.Rows {
		one := tableGearJSON{
			toGears(r.Gearing), tenThousandths(r.FinalDriveRatio()),
			thousandths(r.Pitch.CentreDistance(r.Pinion, r.Spur)), t.mount(r), []tireRolloutJSON{},
		}
		for _, tire := range t.Tires {
			one.Rollouts = append(one.Rollouts, tireRolloutJSON{tire.Name, thousandths(tire.Diameter), thousandths(r.Rollout(tire.Diameter))})
		}
		doc.Gearings = append(doc.Gearings, one)
	}
	return doc
}

// mount says whether a pair fits; "" where that is not known.
func (t GearTable) mount(r ask.GearRow) string {
	if !t.HasMount {
		return ""
	}
	return reaches[r.Reach].name
}

// Cars lists the cars of a car file and its problems.
func Cars(f *carfile.File) document.Document {
	cars := document.Lines{Head: fmt.Sprintf("%s: %s", f.Name, count(len(f.Cars), "car"))}
	for _, name := range slices.Sorted(maps.Keys(f.Cars)) {
		c, pinions, spurs := f.Cars[name], 0, 0
		for _, b := range c.Boxes {
			pinions, spurs = pinions+len(b.Pinions), spurs+len(b.Spurs)
		}
		words := []string{count(pinions, "pinion"), count(spurs, "spur"), count(len(c.Tires), "tire"), count(c.Limits.Len(), "limit")}
		if m := c.Mount; m != nil {
			words = append(words, fmt.Sprintf("a mount for %s to %s teeth in all", trimmed(m.Least, 1), trimmed(m.Most, 1)))
		}
		cars.Items = append(cars.Items, name+": "+list(words))
	}
	problems := worded(f.Check(), run.Problem.String)
	if len(problems) == 0 {
		problems = []string{"Nothing is odd."}
	}
	return document.Document{section("", "", cars, document.Lines{Items: problems})}
}
