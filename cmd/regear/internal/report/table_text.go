package report

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"regear/analyze/drivetrain"
	"regear/analyze/units"
	"regear/cmd/regear/internal/document"
)

// GearTable is every pinion and spur at hand.
type GearTable struct {
	Car        string
	Internal   float64
	NoInternal bool // it was not given, and 1 is used
	HasMount   bool // its reach is known
	Pitch      drivetrain.Pitch
	Tires      []Tire
	Rows       []GearRow
}

// Tire is a tire at hand; it may have no name.
type Tire struct {
	Name     string
	Diameter units.Millimeters
}

// GearRow is one pair of gears.
type GearRow struct {
	drivetrain.Gearing
	Pitch drivetrain.Pitch
	Reach drivetrain.Reach
}

// Gears are a table for each spur.
func Gears(t GearTable, u units.System) document.Document {
	var doc document.Document
	for _, spur := range t.spurs() {
		doc = append(doc, t.block(spur, u))
	}
	return append(doc, document.Paragraph(t.legend()))
}

// TableText writes the table as text.
func TableText(w io.Writer, t GearTable, s Style) error { return Gears(t, s.Units).Text(w, s.Layout) }

func (t GearTable) spurs() []int {
	var spurs []int
	for _, r := range t.Rows {
		spurs = append(spurs, r.Spur)
	}
	slices.Sort(spurs)
	return slices.Compact(spurs)
}

func (t GearTable) block(spur int, u units.System) document.Section {
	table := document.Table{
		Caption: fmt.Sprintf("Pinions with spur %d", spur),
		Columns: []document.Column{{Head: "pinion"}, {Head: "ratio"}},
	}
	for _, tire := range t.Tires {
		table.Columns = append(table.Columns, document.Column{
			Head: strings.TrimSpace(tire.Name+" "+u.Tire(tire.Diameter)) + "\n" + u.LengthUnit() + " a turn",
		})
	}
	apart := t.Pitch.IsKnown()
	if apart {
		table.Columns = append(table.Columns, document.Column{Head: "shafts\nmm apart"})
	}
	table.Columns = append(table.Columns, remarkColumn(""))
	title := fmt.Sprintf("Spur %d", spur)
	for _, r := range t.Rows {
		if r.Spur != spur {
			continue
		}
		if !r.Pitch.Meshes(t.Pitch) {
			title = fmt.Sprintf("Spur %d (%v)", spur, r.Pitch)
		}
		cells := []string{strconv.Itoa(r.Pinion), fixed(r.FinalDriveRatio(), 2)}
		for _, tire := range t.Tires {
			cells = append(cells, u.Rollout(r.Rollout(tire.Diameter)))
		}
		if apart {
			cells = append(cells, fixed(float64(r.Pitch.CentreDistance(r.Pinion, r.Spur)), 1))
		}
		table.Rows = append(table.Rows, document.Row{Cells: append(cells, reachMarks[r.Reach])})
	}
	return section(fmt.Sprintf("spur-%d", spur), title, table)
}

var reachMarks = map[drivetrain.Reach]string{
	drivetrain.TooClose: "too small for the mount",
	drivetrain.TooFar:   "too large for the mount",
}

func (t GearTable) legend() string {
	prose := "Ratio: motor turns for one turn of the wheels."
	if t.NoInternal {
		prose += " No internal ratio was given, so 1 is used: give it with --internal-ratio."
	} else {
		prose += fmt.Sprintf(" Internal ratio %s.", trimmed(t.Internal, 4))
	}
	if len(t.Tires) > 0 {
		prose += " Below each tire: the distance in one motor turn (rollout); longer is taller."
	} else {
		prose += " For the rollout name a tire, as in --tire 118mm."
	}
	if t.Pitch.IsKnown() {
		prose += fmt.Sprintf(" Shafts apart: of standard gears, %v where not said otherwise.", t.Pitch)
	}
	return prose
}
